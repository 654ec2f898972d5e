"""A rule file, read into plain values.  Keys that are left out take the defaults of the rules."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from typing import Any

from tests.reference.progression import Progression, parse_progression
from tests.reference.theory import DEGREES, GUITAR, pitch_class, pitch_number
from tests.reference.vocabulary import Ending, figure_steps, place_ending

KNOWN = {
    "": {"title", "changes", "key", "meter", "subdivision", "scales", "range", "entry", "arpeggio"}
    | {"approach", "handoff", "ending", "endings", "figures", "limit"},
    "range": {"lowest", "highest", "instrument", "position", "strings", "span"},
    "entry": {"beats", "pickup", "start", "degrees"},
    "arpeggio": {"direction", "turns"},
    "approach": {"figures", "count", "targets", "reach", "after"},
    "handoff": {"rule"},
    "ending": {"use", "lead_in"},
}


@dataclass(frozen=True, slots=True, eq=False)
class Rules:
    """Everything that a set of lines depends on; each object is only equal to itself, so it can be a cache
    key."""

    progression: Progression
    pitches: frozenset[int]
    entry_slots: tuple[int, ...]
    start_pitches: frozenset[int] | None
    entry_degrees: frozenset[int] | None  # semitones above the first chord's root
    direction: str
    turns: int
    figures: tuple[tuple[str, ...], ...]
    counts: tuple[tuple[int, int], ...]  # least and most figures, for each chord
    targets: frozenset[int] | None  # semitones above the target's own root
    reach: int
    after: int
    handoff: str
    plain: bool
    endings: tuple[Ending, ...]
    lead_in: int
    limits: tuple[dict[str, Any], ...]


def allowed_pitches(table: dict[str, Any]) -> frozenset[int]:
    """The rules say: "from lowest to highest, or what can be fretted in the chosen position and string
    set"."""
    if "lowest" in table:
        return frozenset(range(pitch_number(table["lowest"]), pitch_number(table["highest"]) + 1))
    if table["instrument"] != "guitar" or "position" not in table:
        raise ValueError("the reference knows two pitches, or the guitar in a position")
    position, span = table["position"], table.get("span", 4)
    strings = table.get("strings", sorted(GUITAR))
    return frozenset(GUITAR[s] + fret for s in strings for fret in range(position, position + span))


def entry_slots(table: dict[str, Any], progression: Progression) -> tuple[int, ...]:
    """The rules say: "default beat 1 of bar 1; several may be allowed; a pickup of n slots starts n slots
    before bar 1", and "when only pickup is given, replaces the default beat"."""
    pickups = table.get("pickup", [])
    beats = table.get("beats", [] if pickups else ["1"])
    slots = [progression.slot_of_beat(beat) for beat in beats] + [-n for n in pickups]
    for slot in slots:
        if not -progression.bar_slots() <= slot < progression.firsts[1]:
            raise ValueError(f"entry at slot {slot} is not in the first chord")
    return tuple(sorted(set(slots)))


def start_pitches(names: list[str] | None, pitches: frozenset[int]) -> frozenset[int] | None:
    """The rules say: "`start` restricts the first sounding note to given pitches (D4) or note names (D)"."""
    if names is None:
        return None
    found: set[int] = set()
    for name in names:
        if name[-1].isdigit():
            found.add(pitch_number(name))
        else:
            found |= {p for p in pitches if p % 12 == pitch_class(name)}
    return frozenset(found)


def parse_count(text: str) -> tuple[int, int]:
    least, dash, most = text.partition("-")
    return int(least), int(most if dash else least)


def semitones(degrees: list[str] | None) -> frozenset[int] | None:
    return None if degrees is None else frozenset(DEGREES[d] for d in degrees)


def parse_rules(rules: dict[str, Any] | str) -> Rules:
    """Read TOML text or the dictionary that it gives; ValueError on what cannot be read."""
    data: dict[str, Any] = tomllib.loads(rules) if isinstance(rules, str) else rules
    for name, keys in KNOWN.items():
        unknown = set(data.get(name, {}) if name else data) - keys
        if unknown:
            raise ValueError(f"unknown keys {sorted(unknown)}")
    progression = parse_progression(
        data["changes"],
        data.get("key"),
        data.get("meter", "4/4"),
        data.get("subdivision", 2),
        data.get("scales", {}),
    )
    pitches = allowed_pitches(data["range"])
    entry, approach, ending = data.get("entry", {}), data.get("approach", {}), data.get("ending", {})
    listed = [parse_count(text) for text in approach.get("count", ["0-1"])]
    # The rules say: "`count` says how many figures may start in each chord, as a list, the last entry serving
    # for all later chords".
    counts = [listed[min(i, len(listed) - 1)] for i in range(len(progression.chords))]
    own_figures = {f["name"]: f["steps"] for f in data.get("figures", [])}
    own_endings = {e["name"]: e for e in data.get("endings", [])}
    # The stock of endings is not known here, so a rule file must say which of its own it uses.
    used = [place_ending(own_endings[name], progression) for name in ending["use"] if name != "plain"]
    # The rules say: "stock endings cannot be used" with a single chord.
    single = len(progression.chords) == 2 and progression.chords[0].symbol == progression.chords[1].symbol
    return Rules(
        progression=progression,
        pitches=pitches,
        entry_slots=entry_slots(entry, progression),
        start_pitches=start_pitches(entry.get("start"), pitches),
        entry_degrees=semitones(entry.get("degrees")),
        direction=data.get("arpeggio", {}).get("direction", "either"),
        turns=data.get("arpeggio", {}).get("turns", 0),
        figures=tuple(figure_steps(approach.get("figures"), own_figures)),
        counts=tuple(counts),
        targets=semitones(approach.get("targets")),
        reach=approach.get("reach", 7),
        after=approach.get("after", 1),
        handoff=data.get("handoff", {}).get("rule", "nearest"),
        plain="plain" in ending["use"],
        endings=tuple(e for e in used if not single and e.fits(progression)),
        lead_in=ending.get("lead_in", 4),
        limits=tuple(data.get("limit", [])),
    )
