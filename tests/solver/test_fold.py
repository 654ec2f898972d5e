"""The fold against plain sums over listed lines, and on lines of ten thousand notes."""

from __future__ import annotations

from collections import Counter
from itertools import islice, pairwise
from typing import Any

import pytest

from everyline.rules.line import Event, Events
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from everyline.solver.fill import Fill, continuations
from everyline.solver.fold import Fold, TooManyPlaces, finals
from everyline.solver.smooth import roughness_histogram, smoothest
from tests.spaces import PICKUPS, TRIPLETS, TWO_FIVE_ONE, VAMP, rules

SMALL: dict[str, dict[str, Any]] = {
    "two-five-one": TWO_FIVE_ONE,
    "triplets": TRIPLETS,
    "vamp": VAMP,
    "pickups": {**PICKUPS, "range": {"lowest": "E3", "highest": "G4"}, "approach": {"count": ["0-1", "0"]}},
}
NOTES = 10_000


@pytest.fixture(scope="module", params=SMALL)
def diagram(request: pytest.FixtureRequest) -> Diagram:
    return compile_rules(rules(SMALL[request.param]))


def fold_of(diagram: Diagram) -> Fold[int | None, int]:
    """What each note costs after the one before: any numbers will do."""
    pitches = [event.pitch for event in diagram.events]

    def step(last: int | None, label: int) -> tuple[int, int]:
        return pitches[label], 3 if last is None else value(last, pitches[label])

    return Fold[int | None, int].of(diagram, None, step)


def value(last: int, pitch: int) -> int:
    return (pitch * 7 - last * 3) % 11


def values(events: Events) -> list[int]:
    return [3, *(value(a.pitch, b.pitch) for a, b in pairwise(events))] if events else []


def test_sums_histograms_and_what_passes_equal_those_over_listed_lines(diagram: Diagram) -> None:
    fold, lines = fold_of(diagram), list(diagram.walk())
    assert fold.sums()[fold.root] == len(lines) == diagram.count
    totals = [sum(values(line)) for line in lines]
    assert fold.histogram() == dict(sorted(Counter(totals).items()))
    assert fold.least()[fold.root] == min(totals)
    assert fold.passed() == Counter(each for line in lines for each in values(line))


def test_weighed_sums_equal_those_over_listed_lines(diagram: Diagram) -> None:
    fold, factor = fold_of(diagram), [2, 3, 1, 5, 7, 1, 1, 2, 11, 4, 6]
    weighed: Counter[int] = Counter()
    total = 0
    for line in diagram.walk():
        weight = 1
        for each in values(line):
            weight *= factor[each]
        total += weight
        for each in values(line):
            weighed[each] += weight
    assert fold.sums(factor)[fold.root] == total
    assert fold.passed(factor) == weighed


def test_the_best_come_in_the_order_of_sum_and_number(diagram: Diagram) -> None:
    expected = sorted((sum(values(line)), number) for number, line in enumerate(diagram.walk(), 1))
    found = list(fold_of(diagram).best())
    assert [(cost, number) for cost, number, _ in found] == expected
    assert all(diagram.line(number) == events for _, number, events in found)


def test_finals_count_the_lines_that_end_with_each_memory(diagram: Diagram) -> None:
    highest = finals(diagram, 0, lambda top, label: max(top, diagram.events[label].pitch))
    assert highest == Counter(max(event.pitch for event in line) for line in diagram.walk())


def test_lines_that_a_step_refuses_are_left_out_everywhere(diagram: Diagram) -> None:
    pitches = [event.pitch for event in diagram.events]
    top = max(pitches) - 2

    def step(notes: int, label: int) -> tuple[int, int] | None:
        return (notes + 1, pitches[label]) if pitches[label] < top else None

    fold = Fold[int, int].of(diagram, 0, step, lambda notes: notes % 2 == 0)
    kept = {
        number: line
        for number, line in enumerate(diagram.walk(), 1)
        if len(line) % 2 == 0 and all(event.pitch < top for event in line)
    }
    assert fold.sums()[fold.root] == len(kept) < diagram.count
    assert {number: line for _, number, line in fold.best()} == kept
    assert fold.histogram() == dict(
        sorted(Counter(sum(event.pitch for event in line) for line in kept.values()).items())
    )


def test_a_fold_stops_before_it_has_more_places_than_allowed() -> None:
    found = compile_rules(rules(TWO_FIVE_ONE))
    size = len(fold_of(found).nodes)
    pitches = [event.pitch for event in found.events]
    assert len(Fold[int, None].of(found, 0, lambda _, label: (pitches[label], None), most=size).nodes) == size
    with pytest.raises(TooManyPlaces):
        Fold[int, None].of(found, 0, lambda _, label: (pitches[label], None), most=size - 1)


def ladder(notes: int) -> Diagram:
    """Lines of so many notes, each of two pitches: 2 ** notes lines."""
    events = tuple(Event(240 * place, pitch, 240) for place in range(notes) for pitch in (60, 62))
    labels = ((), *((2 * place, 2 * place + 1) for place in reversed(range(notes))))
    children = ((), *((node, node) for node in range(notes)))
    totals = tuple(1 << node for node in range(notes + 1))
    return Diagram(events, labels, children, (True, *[False] * notes), totals, notes)


def test_a_line_of_ten_thousand_notes_is_folded_as_one_of_ten() -> None:
    """Python recurses a tenth as deep. A repeated note costs 2, the two lines without one nothing."""
    short, long = ladder(10), ladder(NOTES)
    for found in (short, long):
        notes = len(found.labels) - 1
        line = tuple(found.events[::2])
        assert [each.roughness for each in islice(smoothest(found), 3)] == [0, 0, 2]
        blanks = range(1, notes, notes // 5)
        fill = Fill(found, line, blanks)
        assert fill.count == 1 << len(blanks)
        lines = list(fill.lines())
        assert len(lines) == fill.count
        assert lines[0] == line
        assert lines == sorted(lines)
        assert continuations(found, line[:-2]) == 4
        passed = fold_of(found).passed()
        assert sum(passed.values()) == notes << notes
    assert sum(roughness_histogram(short).values()) == 1 << 10


def test_what_may_follow_the_beginning_of_a_line(diagram: Diagram) -> None:
    lines = list(diagram.walk())
    for line in lines[:: max(1, len(lines) // 20)]:
        for size in (0, 1, len(line) // 2, len(line) - 1, len(line)):
            after = diagram.after(line[:size])
            assert after is not None
            beginning = [each for each in lines if each[:size] == line[:size]]
            assert after.count == len(beginning)
            assert after.ends == (line[:size] in beginning)
            assert list(after.events) == sorted(Counter(e[size] for e in beginning if len(e) > size).items())
    assert diagram.after([Event(0, 1, 1)]) is None
