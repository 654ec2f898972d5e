"""A rule file, read into plain values.  Keys that are left out take the defaults of the rules."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.reference.endings import Ending, place_ending, stock, writable
from tests.reference.progression import ALL_PARTS, BEAT, PARTS, Progression, parse_progression
from tests.reference.rhythm import Rhythm, cell_rhythm, slot_rhythm
from tests.reference.theory import DEGREES, GUITAR, pitch_class, pitch_number
from tests.reference.vocabulary import figure_steps

INSTRUMENTS = Path(__file__).parents[2] / "corpora" / "instruments.toml"
SPAN = 5  # frets that a position holds, unless the file says otherwise
HIGHEST_FRET = 22

KNOWN = {
    "": {"title", "changes", "key", "meter", "beat", "subdivision", "scales", "range", "entry", "arpeggio"}
    | {"passing", "rhythm", "approach", "handoff", "ending", "endings", "figures", "limit"},
    "range": {"lowest", "highest", "instrument", "position", "strings", "span"},
    "entry": {"beats", "pickup", "start", "degrees"},
    "arpeggio": {"direction", "turns", "skips"},
    "passing": {"kinds", "place", "count"},
    "rhythm": {"cells"},
    "approach": {"figures", "count", "targets", "reach", "after"},
    "handoff": {"rule"},
    "ending": {"use", "lead_in"},
}


Counts = tuple[tuple[int, int], ...]  # least and most, for each chord


@dataclass(frozen=True, slots=True, eq=False)
class Rules:
    """Everything that a set of lines depends on; each object is only equal to itself, so it can be a cache
    key."""

    progression: Progression
    rhythm: Rhythm
    celled: bool  # whether the file has cells of its own
    pitches: frozenset[int]
    entries: tuple[int, ...]  # ticks
    start_pitches: frozenset[int] | None
    entry_degrees: frozenset[int] | None  # semitones above the first chord's root
    direction: str
    turns: int
    skips: int
    kinds: tuple[str, ...]
    passing_anywhere: bool
    fills: Counts
    figures: tuple[tuple[str, ...], ...]
    counts: Counts
    targets: frozenset[int] | None  # semitones above the target's own root
    reach: int
    after: int
    handoff: str
    endings: tuple[Ending, ...]
    lead_in: int
    limits: tuple[dict[str, Any], ...]


def allowed_pitches(table: dict[str, Any]) -> frozenset[int]:
    """The rules say: "from lowest to highest, or what can be fretted in the chosen position and string set";
    "`lowest` and `highest` beside an instrument or a position narrow it".  The decisions say: "An instrument
    without a position means its comfortable range"; "`lowest` or `highest` beside it replaces that end, and
    may lie as far out as the instrument sounds"."""
    low, high = pitch_number(table.get("lowest", "C-1")), pitch_number(table.get("highest", "G9"))
    if "position" in table:
        if table.get("instrument", "guitar") != "guitar":
            raise ValueError("the reference knows the fretboard of the guitar alone")
        position, span = table["position"], table.get("span", SPAN)
        strings = table.get("strings", sorted(GUITAR))
        frets = range(position, min(position + span, HIGHEST_FRET + 1))
        return frozenset(GUITAR[s] + fret for s in strings for fret in frets) & frozenset(
            range(low, high + 1)
        )
    if "instrument" in table:
        listed = tomllib.loads(INSTRUMENTS.read_text(encoding="utf-8"))["instrument"]
        found = next(entry for entry in listed if entry["name"] == table["instrument"])
        least, most = found["comfortable"]
        low = max(pitch_number(table.get("lowest", least)), pitch_number(found["lowest"]))
        high = min(pitch_number(table.get("highest", most)), pitch_number(found["highest"]))
    return frozenset(range(low, high + 1))


def entry_ticks(table: dict[str, Any], progression: Progression, subdivision: int | None) -> tuple[int, ...]:
    """The rules say: "default beat 1 of bar 1; several may be allowed; a pickup of n slots starts n slots
    before bar 1", and "when only pickup is given, replaces the default beat"; with rhythm (no subdivision)
    "Entry beats are counted in the finest values that the cells have; `pickup` counts halves of a beat",
    in dotted quarters "`pickup` counts eighths"."""
    pickups = table.get("pickup", [])
    beats = table.get("beats", [] if pickups else ["1"])
    parts = PARTS[subdivision] if subdivision else ALL_PARTS
    ticks = [progression.tick_of_beat(beat, parts) for beat in beats]
    ticks += [-n * BEAT // (subdivision or progression.usual) for n in pickups]
    for tick in ticks:
        if not -progression.bar <= tick < progression.firsts[1]:
            raise ValueError(f"entry at tick {tick} is not in the first chord")
    return tuple(sorted(set(ticks)))


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


def for_each_chord(listed: list[str], progression: Progression) -> Counts:
    """The rules say: "`count` says how many figures may start in each chord, as a list, the last entry
    serving for all later chords"."""
    counts = [parse_count(text) for text in listed]
    return tuple(counts[min(i, len(counts) - 1)] for i in range(len(progression.chords)))


def used_endings(data: dict[str, Any], progression: Progression, grid: int | None) -> tuple[Ending, ...]:
    """The stock endings that may be used, `plain` aside.  The rules say: "every ending of the corpus that
    fits" where none is named, and each of these "must also suit the last chord's third"; with a single chord
    "stock endings cannot be used".

    The decisions say: "Endings of the file's own join the corpus"; "They are named by the file, so that their
    thirds are not asked about"; those marked `colour` "of the corpora are used only where `use` names them".
    """
    if single(progression):
        return ()
    own = {entry["name"]: entry for entry in data.get("endings", [])}
    others = [entry for entry in stock() if entry["name"] not in own and writable(entry, progression)]
    named = data.get("ending", {}).get("use")
    if named is None:
        placed = [place_ending(entry, progression) for entry in others if not entry.get("colour")]
        placed = [ending for ending in placed if ending.suits_the_third(progression)]
        placed += [place_ending(entry, progression) for entry in own.values()]
    else:
        everything = {entry["name"]: entry for entry in others} | own
        placed = [place_ending(everything[name], progression) for name in named if name != "plain"]
    return tuple(ending for ending in placed if ending.fits(progression, grid))


def single(progression: Progression) -> bool:
    """Whether there is one chord alone; its last bar is then a chord of its own."""
    symbols = [chord.symbol for chord in progression.chords]
    return len(symbols) == 2 and symbols[0] == symbols[1]


def parse_rules(rules: dict[str, Any] | str) -> Rules:
    """Read TOML text or the dictionary that it gives; ValueError on what cannot be read."""
    data: dict[str, Any] = tomllib.loads(rules) if isinstance(rules, str) else rules
    for name, keys in KNOWN.items():
        unknown = set(data.get(name, {}) if name else data) - keys
        if unknown:
            raise ValueError(f"unknown keys {sorted(unknown)}")
    if "rhythm" in data and "subdivision" in data:
        raise ValueError("with cells there are no slots, so subdivision must be left out")
    meter, scales = data.get("meter", "4/4"), data.get("scales", {})
    progression = parse_progression(data["changes"], data.get("key"), meter, scales, data.get("beat"))
    subdivision = None if "rhythm" in data else data.get("subdivision", progression.usual)
    if subdivision not in (None, 1, 2, 3, 6 if progression.dotted else 4):
        raise ValueError(f"a beat of {meter} has no {subdivision} slots")
    # Where no ending is named, plain is one of those that fit.
    plain = "plain" in data.get("ending", {}).get("use", ["plain"])
    if subdivision is None:
        rhythm = cell_rhythm(data["rhythm"]["cells"], progression, plain)
    else:
        rhythm = slot_rhythm(subdivision, plain)
    entry, arpeggio, approach = data.get("entry", {}), data.get("arpeggio", {}), data.get("approach", {})
    passing = data.get("passing", {})
    own_figures = {f["name"]: f["steps"] for f in data.get("figures", [])}
    pitches = allowed_pitches(data.get("range", {"lowest": "E3", "highest": "E5"}))
    return Rules(
        progression=progression,
        rhythm=rhythm,
        celled=subdivision is None,
        pitches=pitches,
        entries=entry_ticks(entry, progression, subdivision),
        start_pitches=start_pitches(entry.get("start"), pitches),
        entry_degrees=semitones(entry.get("degrees")),
        direction=arpeggio.get("direction", "either"),
        turns=arpeggio.get("turns", 1),
        skips=arpeggio.get("skips", 0),
        kinds=tuple(passing.get("kinds", [])),
        passing_anywhere={"off": False, "any": True}[passing.get("place", "off")],
        fills=for_each_chord(passing.get("count", ["0-99"]), progression),
        figures=tuple(figure_steps(approach.get("figures"), own_figures)),
        counts=for_each_chord(approach.get("count", ["0-1"]), progression),
        targets=semitones(approach.get("targets")),
        reach=approach.get("reach", 7),
        after=approach.get("after", 1),
        handoff=data.get("handoff", {}).get("rule", "nearest"),
        endings=used_endings(data, progression, BEAT // subdivision if subdivision else None),
        lead_in=data.get("ending", {}).get("lead_in", 4),
        limits=tuple(data.get("limit", [])),
    )
