"""Facets and tallies as plain questions about each line and its analyses by the reference.

Values are compared as numbers (pitches, semitones, ticks), read off the words by the reference's own tables,
or as the names that the rule file itself uses.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Hashable, Iterable, Iterator

from everyline.solver.facets import KINDS as FACETS
from everyline.solver.facets import Facet, facets
from everyline.solver.tally import KINDS as TALLIES
from everyline.solver.tally import tallies
from tests.contract.answers.case import Case
from tests.contract.answers.tastes import taste
from tests.reference import roughness
from tests.reference.between_chords import fillings
from tests.reference.limits import intervals, outside, pitches, turns
from tests.reference.progression import ALL_PARTS, BEAT
from tests.reference.result import Line, Roles
from tests.reference.rulefile import HIGHEST_FRET, SPAN
from tests.reference.strangeness import strangeness
from tests.reference.theory import DEGREES, GUITAR, pitch_number
from tests.reference.vocabulary import CATALOGUE, FAMILIES, figure_pitches

Value = tuple[str, int, Hashable]
"""A kind of facet, the chord's place (0 where it is about no chord), and the value."""
NOTHING = "none"
WITHOUT = {"figure": "no figure", "target": "no target", "position": "no position"}
INSIDE = "inside the ending"


def properties_apart(case: Case) -> Iterator[str]:
    """The values of facets and tallies that are not what looking at every line gives."""
    yield from facets_apart(case)
    yield from tallies_apart(case)


# -- facets --------------------------------------------------------------------------------------------------


def facets_apart(case: Case) -> Iterator[str]:
    """The facets whose values or counts are others."""
    wanted: Counter[Value] = Counter()
    for line in case.lines:
        wanted.update(set(of_notes(case, line)))
        wanted.update(of_analyses(case, line))
    yield from told_apart(case, wanted, facets(case.rules, case.space.diagram), set(FACETS))


def told_apart(case: Case, wanted: Counter[Value], told: Iterable[Facet], every: set[str]) -> Iterator[str]:
    """What facets of these kinds say otherwise than they should."""
    found: dict[Value, int] = {}
    about_chords: Counter[str] = Counter()
    kinds = set()
    for facet in told:
        kinds.add(facet.kind)
        if facet.kind in ("handoff", "landing"):
            about_chords[facet.kind] += 1
        for each in facet.values:
            value = facet.kind, about_chords[facet.kind], read(case, facet.kind, each.label)
            if value in found:
                yield f"facet: {value} is told twice"
            found[value] = each.count
    if kinds != every:
        yield f"facets: {every ^ kinds} are missing"
    for value in sorted(found.keys() | wanted.keys(), key=str):
        if found.get(value, 0) != wanted[value]:
            yield f"facet: {value} has {found.get(value)} lines, the reference {wanted[value]}"
    for kind, names in named(case).items():
        if missing := names - {value for kind_told, _, value in found if kind_told == kind}:
            yield f"facet {kind}: {missing} are in the rule file and not told"


def named(case: Case) -> dict[str, set[str]]:
    """Figures and endings that the rule file has, whether a line uses them or not."""
    return {
        "figure": set(figure_names(case)),
        "ending": {ending.name for ending in case.result.rules.endings},
    }


def read(case: Case, kind: str, label: str) -> Hashable:
    """A label as the value that is compared."""
    if label in (NOTHING, INSIDE, WITHOUT.get(kind)):
        return label
    if kind in ("start-note", "highest-note"):
        return pitch_number(label)
    if kind == "handoff":
        return pitch_number(label.partition(" into ")[0])
    if kind in ("start-degree", "landing"):
        return DEGREES[label]
    if kind == "entry-beat":
        return entry_tick(case, label)
    if kind == "target":
        degree, _, beat = label.partition(" on beat ")
        return DEGREES[degree], tick_of_beat(beat)
    if kind == "rhythm":
        return tuple(part_of_beat(word) for word in label.split())
    if kind == "outside-notes":
        return int(label)
    if kind == "position":
        return int(label.split()[1])
    return label


def tick_of_beat(text: str) -> int:
    """Ticks within the bar of a beat counted aloud."""
    digits = re.match(r"\d+", text)
    assert digits is not None
    rest = text[digits.end() :].strip()
    return (int(digits[0]) - 1) * BEAT + (part_of_beat(rest) if rest else 0)


def part_of_beat(word: str) -> int:
    """Ticks after the beat: a word, or a fraction where musicians have no word for it."""
    if word == "1":
        return 0
    if word.startswith("+"):
        above, _, below = word[1:].partition("/")
        return int(above) * BEAT // int(below)
    return ALL_PARTS[word]


def entry_tick(case: Case, label: str) -> int:
    """``bar 1, beat 3&`` or ``pickup of 2 slots`` in ticks."""
    if label.startswith("pickup of "):
        return -int(label.split()[2]) * case.rules.slot_ticks
    bar, _, beat = label.rpartition("beat ")
    bars = int(bar.removeprefix("bar ").rstrip(", ")) - 1 if bar else 0
    return bars * case.result.rules.progression.bar + tick_of_beat(beat)


def of_notes(case: Case, line: Line) -> Iterator[Value]:
    """Everything that the notes of a line have."""
    progression, (onset, _, first) = case.result.rules.progression, line[0]
    yield "start-note", 0, first
    yield "start-degree", 0, (first - progression.chords[0].root) % 12
    yield "entry-beat", 0, onset
    yield "highest-note", 0, max(pitches(line))
    yield "outside-notes", 0, outside(progression, line)
    for _, beat in itertools.groupby(line, lambda note: note[0] // BEAT):
        yield "rhythm", 0, tuple(note[0] % BEAT for note in beat)
    for index, chord in enumerate(progression.chords[1:], 1):
        there = [pitch for at, _, pitch in line if progression.index_at(at) == index]
        yield "landing", index, (there[0] - chord.root) % 12 if there else NOTHING
    frets = positions(case, line)
    yield from (("position", 0, fret) for fret in frets or [WITHOUT["position"]])


def positions(case: Case, line: Line) -> list[int]:
    """Lowest frets of the positions in which every note lies under the hand."""
    table = case.tables["range"] if "position" in case.tables["range"] else {}
    strings, span = table.get("strings", sorted(GUITAR)), table.get("span", SPAN)
    return [
        lowest
        for lowest in range(HIGHEST_FRET - span + 2)
        if all(
            any(lowest <= pitch - GUITAR[string] < lowest + span for string in strings)
            for pitch in pitches(line)
        )
    ]


def of_analyses(case: Case, line: Line) -> set[Value]:
    """Everything that some analysis of a line has."""
    return {value for roles in case.result.analyses(line) for value in of_analysis(case, line, roles)}


def of_analysis(case: Case, line: Line, roles: Roles) -> Iterator[Value]:
    """Everything that one analysis of a line has."""
    progression = case.result.rules.progression
    figures = figures_of(case, line, roles)
    for _, target, names in figures:
        onset, _, pitch = line[target]
        yield from (("figure", 0, name) for name in names)
        yield "target", 0, ((pitch - progression.chord_at(onset).root) % 12, onset % progression.bar)
    if not figures:
        yield "figure", 0, WITHOUT["figure"]
        yield "target", 0, WITHOUT["target"]
    yield from (("passing", 0, kind) for kind in passing_kinds(case, line, roles))
    yield from (("ending", 0, name) for name in endings_of(case, line, roles))
    body = [note for note, role in zip(line, roles, strict=True) if role != "ending"]
    for index in range(1, len(progression.chords)):
        there = [pitch for at, _, pitch in body if progression.index_at(at) == index]
        yield "handoff", index, there[0] if there else INSIDE


def figure_names(case: Case) -> dict[str, tuple[str, ...]]:
    """Every figure in use by the name that it is told by, with its steps; the first of equal ones."""
    own = {figure["name"]: figure["steps"] for figure in case.tables.get("figures", [])}
    usual = [name for name, steps in CATALOGUE.items() if "+" in steps and "-" in steps]
    found: dict[str, str] = {}
    for name in case.tables.get("approach", {}).get("figures", usual):
        if name in FAMILIES:
            found |= {f"{name} ({steps})": steps for steps in FAMILIES[name]}
        else:
            found[name] = own[name] if name in own else CATALOGUE[name]
    first: dict[str, str] = {}
    for name, steps in found.items():
        first.setdefault(steps, name)
    return {name: tuple(steps.split()) for steps, name in first.items()}


def figures_of(case: Case, line: Line, roles: Roles) -> list[tuple[int, int, list[str]]]:
    """(first note, target, names that it can have) of each figure of an analysis."""
    progression, names = case.result.rules.progression, figure_names(case)
    found, first = [], None
    for place, role in enumerate(roles):
        if role == "approach" and first is None:
            first = place
        elif role == "target" and first is not None:
            onset, _, target = line[place]
            chord, played = progression.chord_at(onset), tuple(pitches(line[first:place]))
            fitting = [
                name
                for name, steps in names.items()
                if len(steps) == len(played) and figure_pitches(steps, target, chord) == played
            ]
            found.append((first, place, fitting))
            first = None
    return found


def passing_kinds(case: Case, line: Line, roles: Roles) -> set[str]:
    """The kinds of passing notes in an analysis."""
    rules = case.result.rules
    found = set()
    for first, role in enumerate(roles):
        if role != "passing" or roles[first - 1] == "passing":
            continue
        goal = next(place for place in range(first, len(roles)) if roles[place] != "passing")
        chord = rules.progression.chord_at(line[first][0])
        p, q, played = line[first - 1][2], line[goal][2], tuple(pitches(line[first:goal]))
        found |= {kind for kind in rules.kinds if played in fillings((kind,), chord, p, q)}
    return found or {NOTHING}


def endings_of(case: Case, line: Line, roles: Roles) -> set[str]:
    """The endings that the notes of an analysis's ending are, or plain."""
    size = roles.count("ending")
    if not size:
        return {"plain"}
    rules, played, before = case.result.rules, list(line[-size:]), line[-size - 1][2]
    return {
        ending.name
        for ending in rules.endings
        if [
            (note.onset, note.length, pitch)
            for note, pitch in zip(ending.notes, ending.pitches(before, rules.progression), strict=True)
        ]
        == played
    }


# -- tallies -------------------------------------------------------------------------------------------------


def tallies_apart(case: Case) -> Iterator[str]:
    """The tallies whose numbers or counts are others."""
    wanted: dict[str, Counter[int]] = {kind: Counter() for kind in TALLIES}
    for line in case.lines:
        for kind, number in counted(case, line):
            wanted[kind][number] += 1
    for tally in tallies(case.rules, case.space.diagram):
        found: Counter[int] = Counter()
        for entry in tally.entries:
            found[entry.number] += entry.count
            if not is_called(tally.kind, entry.label, entry.number):
                yield f'tally {tally.kind}: {entry.number} is called "{entry.label}"'
        if found != wanted[tally.kind]:
            yield f"tally {tally.kind}: {dict(found)}, the reference has {dict(wanted[tally.kind])}"
        if [entry.number for entry in tally.entries] != sorted(entry.number for entry in tally.entries):
            yield f"tally {tally.kind} is out of order"


def counted(case: Case, line: Line) -> Iterator[tuple[str, int]]:
    """Each number that a line adds to a tally."""
    rules, steps, heard = case.result.rules, intervals(line), pitches(line)
    yield from (("interval", step) for step in steps)
    yield from (("pitch", pitch) for pitch in heard)
    for onset, _, pitch in line:
        yield "degree", (pitch - rules.progression.chord_at(onset).root) % 12
    yield "roughness", roughness(line)
    yield "strangeness", strangeness(rules, line, taste("solos")) // 16
    yield "notes", len(line)
    yield "largest-leap", max(map(abs, steps), default=0)
    yield "range", max(heard) - min(heard)
    yield "direction-changes", turns(line)


def is_called(kind: str, label: str, number: int) -> bool:
    """Whether a label is a name of its number."""
    if kind == "degree":
        return DEGREES[label] == number
    if kind == "pitch":
        return pitch_number(label) == number
    return int(label) == number
