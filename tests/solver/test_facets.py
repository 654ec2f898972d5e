"""Facets against the plain count: every line listed, every analysis of it looked at."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from everyline import corpora
from everyline.corpora.note_lengths import counted_aloud
from everyline.rules.acceptor import Notes
from everyline.rules.analysis import ENDING, PASSING, Analysis, analyses
from everyline.rules.limits.fretboard import Playable
from everyline.rules.line import Events
from everyline.rules.ranges import Fretboard
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from everyline.rules.spelling import spell
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from everyline.solver.facets import KINDS, Facet, facets
from everyline.solver.packs import Packs
from tests.reference.random_rules import random_rules
from tests.sweeps import sweep

CORPUS = corpora.load()
MOST_LINES = 500
FEW_ENDINGS = ["plain", "leading-note-home", "five-from-both-sides"]

TWO_FIVE = {
    "changes": "Dm7 | G7 | Cmaj7",
    "range": {"lowest": "E3", "highest": "E5"},
    "approach": {"figures": ["enclosure-2", "enclosure-3"], "count": ["1", "0"]},
    "ending": {"use": ["plain"]},
}


def by_title(found: tuple[Facet, ...]) -> dict[tuple[str, str], dict[str, int]]:
    table = {}
    for facet in found:
        counts = {value.label: value.count for value in facet.values}
        assert len(counts) == len(facet.values), "each value once"
        table[facet.kind, facet.title] = counts
    return table


def properties(rules: Rules, events: Events) -> set[tuple[str, int, str]]:
    """(kind, chord of a handoff, value) for everything that the line has in some analysis."""
    progression = rules.progression
    notes = rules.notes(events)
    found = set()
    for analysis in analyses(rules, events):
        found.add(("ending", 0, analysis.ending))
        found |= {("figure", 0, figure.name) for figure in analysis.figures}
        for figure in analysis.figures:
            note = notes[figure.target]
            degree = progression.chords[note.chord].degree_of(note.pitch)
            found.add(("target", 0, f"{degree} on beat {progression.beat_name(note.slot)}"))
        found |= {("passing", 0, kind) for kind in passing_kinds(rules, notes, analysis)}
        if PASSING not in analysis.roles:
            found.add(("passing", 0, "none"))
        if not analysis.figures:
            found |= {("figure", 0, "no figure"), ("target", 0, "no target")}
        for index in range(1, len(progression.chords)):
            at = [
                n
                for n, role in zip(notes, analysis.roles, strict=True)
                if role != ENDING or is_plain(analysis)
            ]
            there = [note for note in at if note.chord == index]
            name = "inside the ending"
            if there:
                name = spell(there[0].pitch, progression.chords[index], rules.scales[index], rules.key)
            found.add(("handoff", index, name))
    return found


def passing_kinds(rules: Rules, notes: Notes, analysis: Analysis) -> Iterator[str]:
    """The kinds in use that give the passing notes of each filled move of an analysis."""
    roles = (*analysis.roles, "")
    for first, role in enumerate(analysis.roles):
        if role != PASSING or roles[first - 1] == PASSING:
            continue
        goal = next(at for at in range(first, len(notes)) if roles[at] != PASSING)
        before, after = notes[first - 1].pitch, notes[goal].pitch
        way = 1 if after > before else -1
        between = list(range(before + way, after, way))
        chord, scale = rules.progression.chords[notes[first].chord], rules.scales[notes[first].chord]
        in_scale = [pitch for pitch in between if (pitch - chord.root_class) % 12 in scale]
        played = [note.pitch for note in notes[first:goal]]
        by_kind = {"chromatic": between, "scale": in_scale}
        yield from (kind for kind in rules.passing.kinds if by_kind[kind] == played)


def landings(rules: Rules, notes: Notes) -> Iterator[tuple[str, int, str]]:
    """The degree of the first note in each chord after the first."""
    for index, chord in enumerate(rules.progression.chords[1:], 1):
        there = [note for note in notes if note.chord == index]
        yield "landing", index, chord.degree_of(there[0].pitch) if there else "none"


def rhythms(notes: Notes) -> set[str]:
    """The places at which notes begin in each beat that has any."""
    beats: dict[int, list[int]] = {}
    for note in notes:
        beats.setdefault(note.onset // 480, []).append(note.onset % 480)
    return {" ".join(counted_aloud(place) or "1" for place in places) for places in beats.values()}


def is_plain(analysis: Any) -> bool:
    return bool(analysis.ending == "plain")


def expected(rules: Rules, diagram: Diagram) -> Counter[tuple[str, int, str]]:
    counts: Counter[tuple[str, int, str]] = Counter()
    fretboard = Fretboard.of(CORPUS.instruments["guitar"])
    assert fretboard is not None
    strings = rules.position.strings if rules.position else fretboard.strings
    span = rules.position.span if rules.position else 5
    hand = Playable(fretboard, strings, None, span, rules.progression)
    progression = rules.progression
    last = len(progression.chords) - 1
    for events in diagram.walk():
        notes = rules.notes(events)
        counts.update(properties(rules, events))
        counts.update(landings(rules, notes))
        counts.update(("rhythm", 0, each) for each in rhythms(notes))
        first = notes[0]
        slot = first.onset // rules.slot_ticks
        entry = (
            f"beat {progression.beat_name(slot)}"
            if slot >= 0
            else f"pickup of {-slot} slot" + "s" * (slot < -1)
        )
        bar = "" if slot < progression.slots_per_bar else f"bar {progression.bar(slot)}, "
        counts["start-note", 0, spell(first.pitch, progression.chords[0], rules.scales[0], rules.key)] += 1
        counts["start-degree", 0, progression.chords[0].degree_of(first.pitch)] += 1
        counts["entry-beat", 0, bar + entry] += 1
        top = max(note.pitch for note in notes)
        counts["highest-note", 0, spell(top, progression.chords[last], rules.scales[last], rules.key)] += 1
        counts["outside-notes", 0, str(sum(not note.chord_tone for note in notes))] += 1
        frets = [f"frets {fret} to {min(fret + span - 1, fretboard.frets)}" for fret in hand.positions(notes)]
        counts.update(("position", 0, each) for each in frets or ["no position"])
    return counts


def check(rules: Rules) -> None:
    diagram = compile_rules(rules)
    counts = expected(rules, diagram)
    got: dict[tuple[str, int, str], int] = {}
    changes = Counter({"handoff": 0, "landing": 0})
    for facet in facets(rules, diagram):
        if facet.kind in changes:
            changes[facet.kind] += 1
        for value in (value for value in facet.values if value.count):
            got[facet.kind, changes.get(facet.kind, 0), value.label] = value.count
    assert got == dict(counts)


def random_file(seed: int) -> dict[str, Any]:
    """A random rule file; an ending's first note loses its octave mark, which our own format refuses."""
    data = random_rules(seed, extended=seed % 3 > 0)
    for ending in data.get("endings", ()):
        first, _, rest = ending["notes"].partition(" ")
        ending["notes"] = f"{first.rstrip(OCTAVE_MARKS)} {rest}"
    return data


OCTAVE_MARKS = "',"


@pytest.mark.parametrize("seed", range(sweep(6, 30)))
def test_facets_equal_the_plain_count(seed: int) -> None:
    data = random_file(seed)
    try:
        rules = parse_rules(data, CORPUS)
    except corpora.InputError as error:
        pytest.skip(f"not a rule file of ours: {error}")
    diagram = compile_rules(rules)
    if diagram.count > MOST_LINES:  # only its first start note, so that every analysis can be looked at
        first = frozenset((diagram.line(1)[0].pitch,))
        rules = replace(rules, entry=replace(rules.entry, pitches=first))
    if compile_rules(rules).count <= 4 * MOST_LINES:
        check(rules)


def test_lines_with_several_analyses_count_for_each() -> None:
    # G above and B below lead to A; so do the scale's neighbours: one line, several figures.
    data = TWO_FIVE | {
        "arpeggio": {"turns": 0},
        "approach": {"figures": ["above-below", "chromatic-above-below", "double-above-below"]},
        "ending": {"use": FEW_ENDINGS},
    }
    rules = parse_rules({**data, "range": {"lowest": "B3", "highest": "A4"}}, CORPUS)
    check(rules)
    figures = by_title(facets(rules, only=["figure"]))["figure", KINDS["figure"]]
    assert sum(figures.values()) > compile_rules(rules).count


@settings(max_examples=12)
@given(
    beats=st.lists(st.sampled_from(["1", "1&", "2", "2&", "3"]), min_size=1, max_size=2, unique=True),
    count=st.lists(st.sampled_from(["0", "1", "0-1", "0-2"]), min_size=1, max_size=2),
    turns=st.integers(0, 1),
    limit=st.sampled_from(
        [None, {"kind": "largest-leap", "semitones": 5}, {"kind": "must-target", "degree": "5"}]
    ),
)
def test_facets_of_small_spaces(
    beats: list[str], count: list[str], turns: int, limit: dict[str, Any] | None
) -> None:
    data: dict[str, Any] = {
        "changes": "Dm7 G7 | Cmaj7",
        "range": {"lowest": "D4", "highest": "A4"},
        "entry": {"beats": [beat for beat in beats if beat not in ("3",)] or ["1"]},
        "arpeggio": {"turns": turns},
        "approach": {"count": count, "figures": ["enclosure-2", "diatonic-above", "double-below-above"]},
        "ending": {"use": FEW_ENDINGS},
    }
    if limit:
        data["limit"] = [limit]
    rules = parse_rules(data, CORPUS)
    if compile_rules(rules).count <= 2 * MOST_LINES:
        check(rules)


@cache
def million() -> Rules:
    return parse_rules({"changes": "Dm7 | G7 | Cmaj7"}, CORPUS)


def test_sums_on_a_space_of_millions() -> None:
    diagram = compile_rules(million())
    assert diagram.count > 1_000_000
    table = by_title(facets(million(), diagram))
    for kind in ("start-note", "start-degree", "entry-beat", "highest-note", "outside-notes"):
        (counts,) = (counts for (name, _), counts in table.items() if name == kind)
        assert sum(counts.values()) == diagram.count, "each line has exactly one"
    for kind in ("figure", "target", "handoff", "ending", "position"):
        for (name, _), counts in table.items():
            if name == kind:
                assert sum(counts.values()) >= diagram.count
                assert all(0 <= count <= diagram.count for count in counts.values())


def test_a_facet_value_is_the_count_under_that_rule() -> None:
    table = by_title(facets(million()))
    free = {"changes": "Dm7 | G7 | Cmaj7"}
    (notes,) = (counts for (kind, _), counts in table.items() if kind == "start-note")
    d4 = compile_rules(parse_rules({**free, "entry": {"start": ["D4"]}}, CORPUS))
    assert notes["D4"] == d4.count
    target = {"kind": "must-target", "degree": "5", "beat": "3"}
    (targets,) = (counts for (kind, _), counts in table.items() if kind == "target")
    assert targets["5 on beat 3"] == compile_rules(parse_rules({**free, "limit": [target]}, CORPUS)).count
    hand = {"kind": "playable", "fret": 5}
    (places,) = (counts for (kind, _), counts in table.items() if kind == "position")
    assert places["frets 5 to 9"] == compile_rules(parse_rules({**free, "limit": [hand]}, CORPUS)).count


def test_no_line_gives_facets_without_values() -> None:
    data = TWO_FIVE | {"limit": [{"kind": "largest-leap", "semitones": 0}]}
    found = facets(parse_rules(data, CORPUS))
    assert {facet.kind for facet in found} == set(KINDS)
    assert all(value.count == 0 for facet in found for value in facet.values)


def test_only_gives_the_kinds_asked_for() -> None:
    found = facets(parse_rules(TWO_FIVE, CORPUS), only=["ending", "start-note"])
    assert [facet.kind for facet in found] == ["start-note", "ending"]


@given(
    st.lists(st.lists(st.integers(0, 9), min_size=7, max_size=7), min_size=1, max_size=5), st.integers(0, 127)
)
def test_packs_add_lane_by_lane(rows: list[list[int]], kept: int) -> None:
    packs = Packs(7, 9 * len(rows))
    pack = sum(sum(value << (lane * packs.width) for lane, value in enumerate(row)) for row in rows)
    sums = [sum(column) for column in zip(*rows, strict=True)]
    assert packs.unpack(pack) == sums
    masked = [value if kept >> lane & 1 else 0 for lane, value in enumerate(sums)]
    assert packs.unpack(pack & packs.spread(kept)) == masked
    assert packs.unpack(packs.ones) == [1] * 7
