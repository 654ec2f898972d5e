"""One canonical text for a resolved set of rules, whose fingerprint names the set of lines.

It holds everything that decides which lines there are and in which order, with the notes of every ending
and the steps of every figure written out: two files with one fingerprint have the same lines under the same
numbers, whatever they are called, however they are written, and however the corpora grow.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import Any

from everyline.corpora import Ending, Figure, format_rhythm
from everyline.rules.limits.base import ChordSet, DegreeSet
from everyline.rules.progression import Progression
from everyline.rules.ruleset import Rules

FORMAT = 1
"""Raised when the meaning of any part of the text changes."""


def canonical_source(
    parts: Mapping[str, Any], endings: Sequence[Ending], own_rules: Sequence[str] | None
) -> str:
    """Canonical JSON of the parts of a set of rules (the fields of Rules that decide its lines).

    ``endings`` are the stock endings in use as written; ``own_rules`` are names of rules in Python, each with
    the SHA-256 of its source.
    """
    progression: Progression = parts["progression"]
    meter = progression.meter
    data = {name: _plain(value) for name, value in parts.items() if name not in ("progression", "endings")}
    _drop_what_is_off(data)
    data |= {
        "format": FORMAT,
        "chords": [
            [start, *chord.key] for start, chord in zip(progression.starts, progression.chords, strict=True)
        ],
        "meter": [meter.count, meter.unit, *([meter.per_beat] if meter.dotted else [])],
        "subdivision": progression.subdivision,
        "slots": progression.slots,
        "endings": sorted(map(_ending_text, endings)),
        "own_rules": list(own_rules or ()),
    }
    data["limits"].sort(key=json.dumps)
    data["must_targets"].sort(key=json.dumps)
    return json.dumps(data, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def _drop_what_is_off(data: dict[str, Any]) -> None:
    """Leave out what is off, so that a set of lines keeps its fingerprint when more can be asked."""
    if not data["arpeggio"]["skips"]:
        del data["arpeggio"]["skips"]
    if not data["passing"]["kinds"]:
        del data["passing"]
    if not data["cells"]:
        del data["cells"]
    else:
        data["cells"].sort(key=json.dumps)


def _ending_text(ending: Ending) -> str:
    """Notes and rhythm in one spelling, whatever blanks and bar lines were written."""
    before, after = (" ".join(map(str, notes)) for notes in (ending.before, ending.after))
    return f"{before} | {after} ({format_rhythm(ending.beats)})"


def fingerprint(rules: Rules) -> str:
    """SHA-256 of the rules' canonical text, in hexadecimal: the name of the set of lines."""
    import hashlib  # loads a whole cipher library, which a count does not need

    return hashlib.sha256(rules.source.encode("utf-8")).hexdigest()


def _plain(value: Any) -> Any:
    """A value as JSON has it; names and texts that decide nothing are left out."""
    if isinstance(value, Figure):
        return value.text
    if isinstance(value, DegreeSet):
        return sorted(value.semitones)
    if isinstance(value, ChordSet):
        return sorted(value.indices)
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, tuple | list):
        items = [_plain(each) for each in value]
        return sorted(items) if value and isinstance(value[0], Figure) else items
    if is_dataclass(value) and not isinstance(value, type):
        kept = {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
        kind = {"kind": value.kind} if hasattr(value, "kind") else {}
        return kind | {name: each for name, each in kept.items() if name not in _DECIDES_NOTHING}
    return value


_DECIDES_NOTHING = frozenset(
    {"progression", "degree_name", "names", "name", "text", "any_octave", "with_octave"}
)
