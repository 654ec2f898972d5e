"""A set of rules as the page shows it: what it means, what it leaves out, how many lines it has."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from everyline.corpora.errors import InputError
from everyline.corpora.loader import parse_toml
from everyline.rules.canonical import fingerprint
from everyline.rules.rule_text import to_toml
from everyline.rules.ruleset import Rules
from everyline.rules.spelling import spell
from everyline.spaces.starts import first_notes

if TYPE_CHECKING:
    from everyline.page.operations import Workspace

Tables = dict[str, Any]

HANDOFF_WORDS = {
    "nearest": "the nearest chord tone of the new chord, other than the note itself",
    "nearest-or-common": "the nearest chord tone of the new chord, or the same note where it is a chord tone",
    "step": "a chord tone one or two semitones away",
    "guide": "the nearest third or seventh of the new chord",
    "any": "any chord tone within reach",
}
"""What each handoff rule asks, in words."""


def read_rules(workspace: Workspace, text: str) -> Tables:
    """The tables in a rule file's text, after a full check of everything in it. Raises InputError."""
    tables = parse_toml(text, "the rule file")
    workspace.space(tables)
    return tables


def toml(workspace: Workspace, tables: Tables) -> str:
    """The tables as the text of a rule file."""
    return to_toml(tables)


def summary(workspace: Workspace, tables: Tables) -> dict[str, Any]:
    """Count and meaning of a set of rules. The count is in decimal digits, for it may be of any size."""
    space = workspace.space(tables)
    rules = space.rules
    count = space.count
    return {
        "count": str(count),
        "fingerprint": fingerprint(rules),
        "title": rules.title,
        "changes": rules.progression.text,
        "bars": rules.progression.bars,
        "meter": [rules.progression.meter.count, rules.progression.meter.unit],
        "beats_in_a_bar": rules.progression.beats_per_bar,
        "beat_parts": rules.progression.meter.parts,
        "subdivision": rules.progression.subdivision,
        "beats": [rules.progression.beat_name(slot) for slot in range(rules.progression.slots_per_bar)],
        "chords": _chords(rules),
        "range": rules.range_text,
        "lowest": min(rules.pitches),
        "highest": max(rules.pitches),
        "instrument": rules.instrument.name if rules.instrument else None,
        "entry_slots": list(rules.entry.slots),
        "slot_ticks": rules.slot_ticks,
        "figures": [figure.name for figure in rules.approach.figures],
        "endings": _endings(rules),
        "limits": limits_in_words(rules),
        "starts": "" if count else first_notes(rules) if rules.entry.pitches is not None else "",
        "toml": to_toml(tables),
    }


def limits_in_words(rules: Rules) -> list[str]:
    """What each limit asks."""
    return [each.describe() for each in rules.limits] + [each.describe() for each in rules.must_targets]


def _chords(rules: Rules) -> list[dict[str, Any]]:
    progression = rules.progression
    return [
        {
            "symbol": chord.symbol,
            "place": progression.place(slot),
            "tick": slot * rules.slot_ticks,
            "degrees": list(chord.degrees),
            "root": chord.root_class,
        }
        for chord, slot in zip(progression.chords, progression.starts, strict=True)
    ]


def _endings(rules: Rules) -> list[dict[str, str]]:
    found = []
    if rules.plain:
        found.append({"name": "plain", "starts": "the line rests on the first note of the last chord"})
    for ending in rules.endings:
        place = rules.progression.place(ending.start // rules.slot_ticks)
        note = ending.notes[0]
        name = _names(rules, note.pitch_class)
        found.append({"name": ending.name, "starts": f"starts on {note.degree} ({name}), {place}"})
    return found


def _names(rules: Rules, pitch_class: int) -> str:
    chord = rules.progression.chords[-2]
    return spell(60 + pitch_class, chord, rules.scales[-2], rules.key)[:-1]


def one_line_of(space: Any, number: str) -> int:
    """A line number as typed. Raises InputError for one that is none of the space's."""
    if not number.isdecimal() or not 1 <= int(number) <= space.count:
        raise InputError(
            f"there is no line {number[:40]}: the lines are numbered from 1 to {space.count}."
            if space.count
            else f"there is no line {number[:40]}: no line satisfies these rules."
        )
    return int(number)
