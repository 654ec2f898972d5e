"""Columns: the same lines as a walk along the diagram, from any number on, in batches of any size."""

from __future__ import annotations

from itertools import islice
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.rules.line import Event
from everyline.solver.columns import ABSENT, BATCH_BYTES, WIDE_ABSENT, Columns
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from tests.spaces import PICKUPS, TRIPLETS, TWO_FIVE_ONE, VAMP, rules

DIAGRAMS = {
    name: compile_rules(rules(data))
    for name, data in {
        "two-five-one": TWO_FIVE_ONE,
        "pickups": PICKUPS,
        "triplets": TRIPLETS,
        "vamp": VAMP,
    }.items()
}
FORM: dict[str, Any] = {
    "changes": " | ".join(["Dm7", "G7", "Cmaj7", "A7"] * 8),
    "ending": {"use": ["plain"]},
    "approach": {"figures": ["enclosure-2"], "count": ["0-1"]},
}


@pytest.mark.parametrize("name", ["two-five-one", "triplets", "vamp"])
@pytest.mark.parametrize("block", [1, 7, 100, 1 << 16])
def test_every_line_in_order(name: str, block: int) -> None:
    diagram = DIAGRAMS[name]
    batches = Columns(diagram, block).batches(size=100)
    assert [batch.line(place) for batch in batches for place in range(len(batch))] == list(diagram.walk())


@given(st.data())
def test_any_part_in_batches_of_any_size(data: st.DataObject) -> None:
    diagram = DIAGRAMS[data.draw(st.sampled_from(sorted(DIAGRAMS)))]
    first = data.draw(st.integers(1, diagram.count))
    last = min(diagram.count, first + data.draw(st.integers(-1, 300)))
    size = data.draw(st.integers(1, 200))
    columns = Columns(diagram, data.draw(st.sampled_from([1, 3, 50, 5000])))
    found = []
    at = first
    for batch in columns.batches(first, last, size, reuse=data.draw(st.booleans())):
        assert batch.first == at
        assert len(batch) == min(size, last + 1 - at)
        at += len(batch)
        found += [batch.line(place) for place in range(len(batch))]
    assert found == list(islice(diagram.walk(first), last - first + 1))


def test_far_into_a_form_with_more_lines_than_a_machine_word_can_count() -> None:
    diagram = compile_rules(rules(FORM))
    assert diagram.count > 10**30
    for first in (1, 10**30, diagram.count - 4999):
        (batch,) = Columns(diagram).batches(first, first + 4999, size=5000)
        assert [batch.line(place) for place in range(5000)] == list(islice(diagram.walk(first), 5000))


def test_codes_say_pitch_and_length() -> None:
    columns = Columns(DIAGRAMS["pickups"])
    (batch,) = columns.batches(4_000_000, 4_009_999)
    pitches, lengths = batch.pitches(), batch.lengths()
    for place in range(0, len(batch), 97):
        events = [
            Event(tick, int(pitch), int(length))
            for tick, pitch, length in zip(columns.ticks, pitches[:, place], lengths[:, place], strict=True)
            if pitch != ABSENT
        ]
        assert tuple(events) == batch.line(place)
    assert np.array_equal(batch.pitches(3), pitches[3])
    assert np.array_equal(batch.lengths(3), lengths[3])
    assert ((pitches == ABSENT) == (lengths == 0)).all()
    assert {len({event.length for event in here}) for here in columns.events} == {1, 2}


def test_batches_of_their_own_stay_as_they_are() -> None:
    columns = Columns(DIAGRAMS["triplets"])
    kept = list(columns.batches(size=500))
    assert kept[0].line(0) == DIAGRAMS["triplets"].line(1)
    assert not np.shares_memory(kept[0].codes, kept[1].codes)


def _hand_made(pitches: int) -> Diagram:
    """Lines of one or two notes: a line may end where another goes on, and an onset may be left out."""
    events = tuple(
        [Event(0, pitch % 128, 100 + pitch // 128) for pitch in range(pitches)] + [Event(480, 60, 240)]
    )
    last = len(events) - 1
    labels = ((), (last,), (*range(pitches), last))
    children = ((), (0,), (*[1] * pitches, 0))
    return Diagram(events, labels, children, (True, True, False), (1, 2, 2 * pitches + 1), 2)


@pytest.mark.parametrize(("pitches", "absent"), [(3, ABSENT), (255, ABSENT), (256, WIDE_ABSENT)])
@pytest.mark.parametrize("block", [1, 1 << 16])
def test_lines_that_stop_early_and_codes_of_two_bytes(pitches: int, absent: int, block: int) -> None:
    diagram = _hand_made(pitches)
    columns = Columns(diagram, block)
    assert columns.absent == absent
    ordered = list(diagram.walk())
    found = [b.line(place) for b in columns.batches(size=40) for place in range(len(b))]
    assert found == ordered
    (late,) = columns.batches(2)
    assert late.line(0) == ordered[1]


def test_a_batch_keeps_to_its_memory() -> None:
    for diagram in DIAGRAMS.values():
        columns = Columns(diagram)
        assert BATCH_BYTES // 2 < columns.batch_lines * len(columns.ticks) <= BATCH_BYTES


@pytest.mark.parametrize(("first", "last"), [(0, 1), (1, 2378), (3, 1), (2379, None)])
def test_no_lines_outside_the_numbers(first: int, last: int | None) -> None:
    with pytest.raises(IndexError):
        Columns(DIAGRAMS["triplets"]).batches(first, last)


def test_no_batch_without_lines() -> None:
    with pytest.raises(ValueError, match="0 lines"):
        Columns(DIAGRAMS["triplets"]).batches(size=0)


def test_a_space_without_lines_has_no_batch() -> None:
    empty = compile_rules(rules(TWO_FIVE_ONE, limit=[{"kind": "largest-leap", "semitones": 0}]))
    assert empty.count == 0
    assert not list(Columns(empty).batches())
