"""What a phrase is made of, over whole choruses: counted, and read off each of them in each way to cut it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest

from everyline.rules.chorus_file import read_plan
from everyline.rules.line import Events
from everyline.solver.chorus import Solved, solve
from everyline.solver.facets import ANALYSIS_KINDS
from everyline.solver.figure_marks import ENDING, FIGURE, PASSING, TARGET, trace
from everyline.solver.line_marks import LineMarks
from everyline.solver.phrase_facets import phrase_facets
from tests.spaces import CORPUS

# The long ending is the short one and a note more, on which the second phrase may begin as well.
PLAN: dict[str, Any] = {
    "changes": "Dm7 G7 | Cmaj7 | Em7 A7 | Dm7",
    "range": {"lowest": "E4", "highest": "D5"},
    "approach": {"figures": ["above-below"], "count": ["0-1", "0"]},
    "passing": {"kinds": ["scale", "chromatic"], "count": ["0-1", "0"]},
    "join": {"least_rest": 0, "reach": 7},
    "limit": [{"kind": "single-peak"}, {"kind": "direction-changes", "most": 9}],
    "endings": [
        {"name": "short", "notes": "b7 | 3", "rhythm": "8 | 8"},
        {"name": "long", "notes": "b7 | 3 5", "rhythm": "8 | 8 8"},
    ],
    "phrase": [
        {"bars": "1-2", "ending": {"use": ["plain", "short", "long"]}},
        {
            "bars": "3-4",
            "ending": {"use": ["plain"]},
            "entry": {"pickup": [6, 7], "start": ["G4", "B4"]},
        },
    ],
}


@pytest.fixture(scope="module")
def solved() -> Solved:
    return solve(read_plan(PLAN, CORPUS))


Cuts = list[list[tuple[Events, ...]]]


@pytest.fixture(scope="module")
def cuts(solved: Solved) -> Cuts:
    """For every chorus every way to cut it into lines of its phrases, each in its own ticks."""
    lines = [set(piece.diagram.walk()) for piece in solved.pieces]

    def ways(place: int, events: Events) -> Iterator[tuple[Events, ...]]:
        piece = solved.pieces[place]
        for size in range(1, len(events) + 1):
            own = tuple(each._replace(onset=each.onset - piece.shift) for each in events[:size])
            if own not in lines[place]:
                continue
            if size == len(events) and place + 1 == len(solved.pieces):
                yield (own,)
            elif size < len(events) and place + 1 < len(solved.pieces):
                (last, after), join = events[size - 1 : size + 1], solved.pieces[place + 1].join
                if join is not None and join.leads(last.end, last.pitch, after.onset, after.pitch):
                    yield from ((own, *later) for later in ways(place + 1, events[size:]))

    return [list(ways(0, events)) for events in solved.diagram.walk()]


def read_off(solved: Solved, cuts: Cuts, place: int) -> Counter[tuple[str, Any]]:
    """How many choruses have each figure, target, kind of passing notes and ending in a phrase."""
    rules, diagram = solved.plan.phrases[place].rules, solved.pieces[place].diagram
    marks_of = cache(LineMarks(diagram, trace(rules, diagram)))
    found: Counter[tuple[str, Any]] = Counter()
    for ways in cuts:
        values: set[tuple[str, Any]] = set()
        for way in ways:
            marks, bare = marks_of(way[place])
            values |= {(mark.kind, mark.value) for mark in marks}
            values |= {(FIGURE, "no figure"), (TARGET, "no target")} if bare else set()
        found.update(values)
    return found


@pytest.mark.parametrize("place", [0, 1])
def test_every_value_is_had_by_as_many_choruses_as_read_one_by_one(
    solved: Solved, cuts: Cuts, place: int
) -> None:
    wanted = read_off(solved, cuts, place)
    name = solved.plan.phrases[place].rules.progression.beat_name
    for kind in (FIGURE, TARGET, PASSING, ENDING):
        (facet,) = phrase_facets(solved, place, [kind])
        told = {each.label: each.count for each in facet.values if each.count and each.label != "none"}
        assert told and told == {
            f"{value[0]} on beat {name(value[1])}" if isinstance(value, tuple) else value: count
            for (of, value), count in wanted.items()
            if of == kind
        }


def test_some_choruses_of_these_tests_can_be_cut_in_two_ways(cuts: Cuts) -> None:
    assert {len(ways) for ways in cuts} == {1, 2}


def test_kinds_that_need_no_analysis_are_left_to_the_whole(solved: Solved) -> None:
    assert not phrase_facets(solved, 0, ["start-note"])
    assert {each.kind for each in phrase_facets(solved, 1)} == ANALYSIS_KINDS
