"""Joined diagrams hold exactly the concatenations that a plain filter keeps, each once and in order."""

from __future__ import annotations

from itertools import product
from typing import Any

import pytest
from hypothesis import assume, event, given, settings
from hypothesis import strategies as st

from everyline.rules.chorus_file import read_plan
from everyline.rules.chorus_plan import Join
from everyline.rules.line import Event, Events
from everyline.solver.budget import LEAST, TooManyNodes, at_most
from everyline.solver.chorus import cuts, solve
from everyline.solver.diagram import Diagram
from everyline.solver.filtered import of_lines
from everyline.solver.joined import Piece, join
from tests.spaces import CORPUS
from tests.sweeps import sweep


def concatenations(pieces: list[Piece]) -> list[Events]:
    """Every line of the first, then one of the second that may follow it, and so on, written out."""
    kept: set[Events] = set()
    moved = [
        [
            tuple(event._replace(onset=event.onset + piece.shift) for event in line)
            for line in piece.diagram.walk()
        ]
        for piece in pieces
    ]
    for parts in product(*moved):
        for piece, before, after in zip(pieces[1:], parts, parts[1:], strict=False):
            last, first = before[-1], after[0]
            rest = first.onset - (last.onset + last.length)
            rule = piece.join
            assert rule is not None
            if rest < rule.least_rest or (rule.most_rest is not None and rest > rule.most_rest):
                break
            if abs(first.pitch - last.pitch) > rule.reach:
                break
        else:
            kept.add(tuple(event for part in parts for event in part))
    return sorted(kept)


@st.composite
def some_line(draw: st.DrawFn) -> Events:
    """A few notes on a small grid, with rests between some of them."""
    at, events = draw(st.integers(0, 3)), []
    for _ in range(draw(st.integers(1, 4))):
        length = draw(st.integers(1, 2))
        events.append(Event(at, draw(st.integers(60, 63)), length))
        at += length + draw(st.sampled_from([0, 0, 1, 2]))
    return tuple(events)


@st.composite
def some_pieces(draw: st.DrawFn) -> list[Piece]:
    """Pieces close enough for a late ending of one to look like the beginning of the next."""
    pieces = []
    for place in range(draw(st.integers(1, 3))):
        lines = sorted(draw(st.sets(some_line(), min_size=1, max_size=14)))
        rule = Join(
            draw(st.integers(0, 3)), draw(st.integers(0, 2)), draw(st.sampled_from([None, None, 3, 5]))
        )
        if rule.most_rest is not None:
            assume(rule.least_rest <= rule.most_rest)
        pieces.append(Piece(of_lines(iter(lines)), place * draw(st.integers(2, 5)), rule if place else None))
    return pieces


@given(some_pieces())
def test_joined_lines_are_the_concatenations_that_may_follow(pieces: list[Piece]) -> None:
    joined = join(pieces)
    expected = concatenations(pieces)
    assert list(joined.diagram.walk()) == expected
    assert joined.diagram.count == len(expected)
    assert (joined.broken is None) == bool(expected)
    for number, events in enumerate(expected, 1):
        assert joined.diagram.number(events) == number
        assert joined.diagram.line(number) == events


@given(some_pieces())
def test_every_joined_line_can_be_cut_into_its_pieces(pieces: list[Piece]) -> None:
    for events in join(pieces).diagram.walk():
        ends = cuts(pieces, events)
        assert ends is not None
        assert ends[-1] == len(events)
        for piece, first, end in zip(pieces, (0, *ends), ends, strict=False):
            own = [event._replace(onset=event.onset - piece.shift) for event in events[first:end]]
            assert piece.diagram.number(own) is not None
            if first and piece.join is not None:
                last = events[first - 1]
                assert piece.join.leads(last.end, last.pitch, events[first].onset, events[first].pitch)
    assert cuts(pieces, (Event(1000, 60, 1),)) is None


def test_a_late_ending_like_an_early_pickup_counts_once() -> None:
    note, other, far = Event(0, 60, 1), Event(2, 60, 1), Event(4, 60, 1)
    first = of_lines(iter([(note,), (note, other)]))
    second = of_lines(iter([(other, far), (far,)]))
    pieces = [Piece(first), Piece(second, 0, Join(0, 1))]
    assert list(join(pieces).diagram.walk()) == [(note, other, far), (note, far)]
    assert cuts(pieces, (note, other, far)) == (1, 3)


def test_joining_stops_where_it_would_grow_too_large() -> None:
    solved = solve(read_plan(LONG, CORPUS))
    assert len(solved.diagram.labels) > 2 * LEAST
    assert max(len(piece.diagram.labels) for piece in solved.pieces) < LEAST
    with at_most(LEAST), pytest.raises(TooManyNodes, match="the phrases together need more than 1000 nodes"):
        join(solved.pieces)


def test_children_come_before_their_parents_and_every_node_has_a_line() -> None:
    diagram = solve(read_plan(PLAN, CORPUS)).diagram
    for node, children in enumerate(diagram.children):
        assert all(child < node for child in children)
        assert diagram.totals[node] == diagram.accepts[node] + sum(diagram.totals[c] for c in children) > 0


PLAN: dict[str, Any] = {
    "changes": "Dm7 G7 | Cmaj7 A7 | Dm7 G7 | Cmaj7 | %",
    "range": {"lowest": "C4", "highest": "C5"},
    "approach": {"count": ["0"]},
    "ending": {"use": ["plain", "late"]},
    "endings": [{"name": "late", "notes": "b7 1 | 3", "rhythm": "8 8 | r8 8", "over": ["7", "m7"]}],
    "phrase": [
        {"bars": "1-2", "until": "3"},
        {"bars": "2-4", "from": "3", "entry": {"beats": ["2&", "3", "3&"]}},
    ],
}


@settings(max_examples=sweep(small=10, full=100))
@given(
    reach=st.integers(0, 12),
    least=st.integers(0, 2),
    most=st.sampled_from([None, 2, 3]),
    entry=st.sampled_from([{}, {"beats": ["1&", "2", "2&"]}, {"beats": ["3&", "4"]}, {"pickup": [2]}]),
    handoff=st.sampled_from(["nearest", "nearest-or-common", "guide"]),
)
def test_plans_are_the_concatenations_of_their_phrases(
    reach: int, least: int, most: int | None, entry: dict[str, Any], handoff: str
) -> None:
    tables = PLAN | {
        "join": {"reach": reach, "least_rest": least} | ({} if most is None else {"most_rest": most}),
        "handoff": {"rule": handoff},
        "phrase": [PLAN["phrase"][0], PLAN["phrase"][1] | ({"entry": entry} if entry else {})],
    }
    solved = solve(read_plan(tables, CORPUS))
    expected = concatenations(list(solved.pieces))
    assert list(solved.diagram.walk()) == expected
    assert bool(expected) == (solved.fault is None)
    event("some choruses" if expected else "none")


def test_the_plan_of_these_tests_has_choruses() -> None:
    solved = solve(read_plan(PLAN, CORPUS))
    assert solved.diagram.count == len(concatenations(list(solved.pieces))) > 100


LONG: dict[str, Any] = {
    "changes": " | ".join(["Dm7 G7 | Cmaj7 A7"] * 12),
    "range": {"lowest": "C3", "highest": "C6"},
    "ending": {"use": ["plain"]},
    "phrase": [{"bars": f"{bar}-{bar + 1}", "until": "3"} for bar in range(1, 25, 2)],
}


def ways(diagram: Diagram, shift: int) -> dict[tuple[int, int], dict[tuple[int, int], int]]:
    """How many lines of a diagram lead from each first (onset, pitch) to each last (end, pitch)."""
    found: dict[tuple[int, int], dict[tuple[int, int], int]] = {}
    for label, child in zip(diagram.labels[diagram.root], diagram.children[diagram.root], strict=True):
        first = diagram.events[label]
        stops = found.setdefault((first.onset + shift, first.pitch), {})
        layer = {(child, first): 1}
        while layer:
            after: dict[tuple[int, Event], int] = {}
            for (node, last), count in layer.items():
                if diagram.accepts[node]:
                    key = (last.end + shift, last.pitch)
                    stops[key] = stops.get(key, 0) + count
                for way, below in zip(diagram.labels[node], diagram.children[node], strict=True):
                    place = (below, diagram.events[way])
                    after[place] = after.get(place, 0) + count
            layer = after
    return found


def test_ninety_six_bars_count_like_a_product_of_transfer_matrices() -> None:
    """A second method: each phrase as a matrix from first to last notes, in whole numbers of any size.

    It holds because no phrase here can be taken for the beginning of the next: a rest of a beat is between.
    """
    form = "Dm7 | G7 | Cmaj7 | A7"
    phrases = [{"bars": f"{first}-{first + 2}", "entry": {"beats": ["1", "2"]}} for first in range(1, 97, 4)]
    tables = {
        "changes": " | ".join([form] * 24),
        "range": {"lowest": "E3", "highest": "E5"},
        "join": {"reach": 5},
        "phrase": phrases,
    }
    solved = solve(read_plan(tables, CORPUS))
    before: dict[tuple[int, int], int] = {}
    for phrase, piece in zip(solved.plan.phrases, solved.pieces, strict=True):
        after: dict[tuple[int, int], int] = {}
        for (onset, pitch), stops in ways(piece.diagram, piece.shift).items():
            led = (
                1
                if phrase.join is None
                else sum(
                    count
                    for (end, last), count in before.items()
                    if onset - end >= 480 and abs(pitch - last) <= 5
                )
            )
            for stop, count in stops.items():
                after[stop] = after.get(stop, 0) + led * count
        before = after
    assert solved.diagram.count == sum(before.values()) > 10**80
