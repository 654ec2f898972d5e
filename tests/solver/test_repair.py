"""The nearest valid lines, held against measuring every line of small spaces."""

from __future__ import annotations

from functools import cache
from itertools import islice

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from everyline import Space, lines
from everyline.rules.line import Event, Events
from everyline.solver.repair import ADDED, CHANGED, LEFT_OUT, nearest_by_onset, nearest_by_order

SHORT_ENDINGS = ["plain", "leading-note-home", "flat-nine-falls-to-five"]
SMALL = {
    "stock endings": lambda: lines(
        "Dm7 G7 | Cmaj7", start="D4", lowest="C4", highest="C5", endings=SHORT_ENDINGS
    ),
    "pickups": lambda: lines(
        "Gm7 C7 | Fmaj7", start="D4", pickup=[1, 2], lowest="C4", highest="C5", turns=0, endings=SHORT_ENDINGS
    ),
    "triplets": lambda: lines(
        "Dm7 G7 | Cmaj7", start="F4", subdivision=3, turns=0, endings=["plain"], lowest="C4", highest="C5"
    ),
    "vamp": lambda: lines("Gm7 | %", start="G4", lowest="D4", highest="G5", turns=1),
}


@cache
def space(name: str) -> tuple[Space, tuple[Events, ...]]:
    made = SMALL[name]()
    assert 100 <= made.count <= 2_000
    return made, tuple(made.diagram.walk())


def by_onset(own: Events, other: Events) -> tuple[int, int, int]:
    """The definition: onsets at which the two do not have the same pitch; semitones; lengths."""
    mine, theirs = {e.onset: e for e in own}, {e.onset: e for e in other}
    shared = mine.keys() & theirs.keys()
    changed = [abs(mine[t].pitch - theirs[t].pitch) for t in shared if mine[t].pitch != theirs[t].pitch]
    lengths = sum(mine[t].pitch == theirs[t].pitch and mine[t].length != theirs[t].length for t in shared)
    return len(mine.keys() ^ theirs.keys()) + len(changed), sum(changed), lengths


def by_order(own: Events, other: Events) -> tuple[int, int]:
    """The textbook table: (edits, semitones of changed pitches)."""
    table = [[(row + column, 0) for column in range(len(other) + 1)] for row in range(len(own) + 1)]
    for row, mine in enumerate(own, 1):
        for column, theirs in enumerate(other, 1):
            apart = abs(mine.pitch - theirs.pitch)
            (swaps, far), drop, add = (
                table[row - 1][column - 1],
                table[row - 1][column],
                table[row][column - 1],
            )
            table[row][column] = min(
                (swaps + (apart > 0), far + apart), (drop[0] + 1, drop[1]), (add[0] + 1, add[1])
            )
    return table[-1][-1]


@st.composite
def cases(draw: st.DrawFn, names: tuple[str, ...] = tuple(SMALL)) -> tuple[str, Events]:
    """A space, and one of its lines with a few notes moved, dropped, doubled or added."""
    name = draw(st.sampled_from(names))
    made, every = space(name)
    events = list(draw(st.sampled_from(every)))
    for _ in range(draw(st.integers(0, 4))):
        place = draw(st.integers(0, len(events) - 1))
        event = events[place]
        kind = draw(st.sampled_from(["pitch", "drop", "late", "length", "more"]))
        if kind == "pitch":
            events[place] = event._replace(pitch=event.pitch + draw(st.integers(-5, 5)))
        elif kind == "drop" and len(events) > 1:
            del events[place]
        elif kind == "late":
            ticks = made.rules.slot_ticks
            events[place:] = [each._replace(onset=each.onset + ticks) for each in events[place:]]
        elif kind == "length":
            events[place] = event._replace(length=draw(st.sampled_from([120, 240, 480, 960])))
        elif kind == "more":
            last = events[-1]
            events.append(Event(last.end, last.pitch + draw(st.integers(-3, 3)), 240))
    return name, tuple(events)


@given(cases())
def test_nearest_by_onset_is_the_nearest_of_all(case: tuple[str, Events]) -> None:
    name, own = case
    made, every = space(name)
    expected = sorted((*by_onset(own, line), number) for number, line in enumerate(every, 1))[:7]
    found = list(islice(nearest_by_onset(made.diagram, own), 7))
    measured = [(len(each.changes), each.semitones, len(each.lengths), each.number) for each in found]
    assert measured == expected
    assert all(each.events == every[each.number - 1] for each in found)


@settings(max_examples=25)
@given(cases(("stock endings", "vamp")))
def test_nearest_by_order_is_the_nearest_of_all(case: tuple[str, Events]) -> None:
    name, own = case
    made, every = space(name)
    expected = sorted((*by_order(own, line), number) for number, line in enumerate(every, 1))[:5]
    found = list(islice(nearest_by_order(made.diagram, own), 5))
    assert [(len(each.changes), each.semitones, each.number) for each in found] == expected


@settings(max_examples=25)
@given(st.lists(st.integers(55, 75), max_size=20))
def test_notes_that_are_no_line_have_their_nearest_too(pitches: list[int]) -> None:
    own = tuple(Event(240 * place, pitch, 240) for place, pitch in enumerate(pitches))
    made, every = space("stock endings")
    for search, measure in ((nearest_by_onset, by_onset), (nearest_by_order, by_order)):
        expected = sorted((measure(own, line)[:2], number) for number, line in enumerate(every, 1))
        found = list(islice(search(made.diagram, own), 40))
        assert [(len(each.changes), each.semitones) for each in found] == [key for key, _ in expected[:40]]


@given(cases())
def test_changes_lead_from_the_given_line_to_the_one_found(case: tuple[str, Events]) -> None:
    name, own = case
    made, _ = space(name)
    for search in (nearest_by_onset, nearest_by_order):
        (found,) = islice(search(made.diagram, own), 1)
        gone = {change.given for change in found.changes if change.kind == LEFT_OUT}
        new = {change.found for change in found.changes if change.kind == ADDED}
        swapped = {change.given: change.found for change in found.changes if change.kind == CHANGED}
        kept = [place for place in range(len(own)) if place not in gone]
        there = [place for place in range(len(found.events)) if place not in new]
        assert len(kept) == len(there)
        for mine, theirs in zip(kept, there, strict=True):
            same = own[mine].pitch == found.events[theirs].pitch
            assert (swapped.get(mine) == theirs) != same


def test_every_line_comes_out_once_however_far() -> None:
    made, every = space("stock endings")
    for search in (nearest_by_onset, nearest_by_order):
        numbers = [each.number for each in search(made.diagram, every[0])]
        assert numbers[0] == 1
        assert sorted(numbers) == list(range(1, len(every) + 1))


@pytest.mark.parametrize("search", [nearest_by_onset, nearest_by_order])
def test_an_empty_space_has_no_nearest_line(search: object) -> None:
    none = lines("Dm7 | G7 | Cmaj7", start="D4", limit=[{"kind": "largest-leap", "semitones": 0}])
    assert none.count == 0
    assert list(search(none.diagram, (Event(0, 62, 240),))) == []  # type: ignore[operator]


@pytest.mark.parametrize("search", [nearest_by_onset, nearest_by_order])
def test_a_line_without_notes_has_the_shortest_line_nearest(search: object) -> None:
    made, every = space("pickups")
    (found,) = islice(search(made.diagram, ()), 1)  # type: ignore[operator]
    assert len(found.changes) == min(map(len, every))


def test_a_space_of_trillions_is_searched_whole() -> None:
    """A valid line with two notes spoilt, then one left out, is two and three changes from a valid line."""
    big = lines("Dm7 | G7 | Cmaj7 | A7 | Dm7", count=["0-2"])
    assert big.count > 10**12
    own = list(big.diagram.line(big.count // 3))
    own[4] = own[4]._replace(pitch=own[4].pitch + 1)
    own[9] = own[9]._replace(pitch=own[9].pitch - 3)
    assert len(next(nearest_by_onset(big.diagram, own)).changes) <= 2
    del own[3]
    assert len(next(nearest_by_order(big.diagram, own)).changes) <= 3
