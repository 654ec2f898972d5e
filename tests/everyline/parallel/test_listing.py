"""Listings in batches: the same bytes as line by line, for every form, from any number on."""

from __future__ import annotations

import io
import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from everyline.parallel.column_listing import FIRST_LINES, LOW, digits, join, numbers, texts
from everyline.rules.line_text import parse_line
from everyline.rules.rulefile import parse_rules
from everyline.solver.columns import Batch, Columns
from everyline.spaces.space import Space
from everyline.text.notes_only import write_numbered, write_range
from everyline.text.rows import FORMATS
from tests.reference.random_rules import random_rules
from tests.spaces import CORPUS, PICKUPS, TRIPLETS, TWO_FIVE_ONE, rules
from tests.sweeps import sweep

SPACES = {
    "two-five-one": Space(rules(TWO_FIVE_ONE)),
    "pickups": Space(rules(PICKUPS)),
    "triplets": Space(rules(TRIPLETS)),
    "form": Space(
        rules({"changes": " | ".join(["Dm7", "G7", "Cmaj7", "A7"] * 8), "ending": {"use": ["plain"]}})
    ),
    "cells": Space(
        rules(
            {"changes": "Dm7 | G7 | Cmaj7", "entry": {"start": ["D4"]}, "ending": {"use": ["plain"]}},
            rhythm={"cells": ["8 8", "r8 8", "4", "8t 8t 8t"]},
            approach={"count": ["0"]},
        )
    ),
    "rests": Space(
        rules(
            TWO_FIVE_ONE,
            ending={"use": ["plain", "held-back"]},
            endings=[{"name": "held-back", "notes": "b9 1 b7 | 5", "rhythm": "8 r8 8 8 | r4. 4"}],
        )
    ),
}


def _both(space: Space, first: int, last: int, form: str) -> None:
    by_line, by_batch = io.StringIO(), io.StringIO()
    write_range(space, first, last, form, by_line, many=10**9)
    write_range(space, first, last, form, by_batch, many=1)
    assert by_batch.getvalue() == by_line.getvalue()


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.parametrize("name", ["two-five-one", "triplets", "rests"])
def test_the_same_bytes(name: str, form: str) -> None:
    space = SPACES[name]
    _both(space, 1, space.count, form)


@settings(max_examples=30, deadline=None)
@given(st.sampled_from(sorted(SPACES)), st.sampled_from(FORMATS), st.data())
def test_the_same_bytes_from_any_number_on(name: str, form: str, data: st.DataObject) -> None:
    space = SPACES[name]
    first = data.draw(st.integers(1, space.count))
    _both(space, first, min(space.count, first + data.draw(st.integers(0, 300))), form)


@pytest.mark.slow
@settings(max_examples=sweep(10, 60), deadline=None)
@given(seed=st.integers(0, 100_000))
def test_the_same_bytes_for_random_rules(seed: int) -> None:
    space = Space(parse_rules(random_rules(seed, most=600), CORPUS))
    if space.count:
        for form in FORMATS:
            _both(space, 1, space.count, form)


@pytest.mark.parametrize("form", FORMATS)
def test_where_numbers_grow_longer(form: str) -> None:
    """Past the first batch, and past the lower sixteen digits."""
    space = SPACES["form"]
    for middle in (FIRST_LINES, 10**4, 10**8, 10**16, 7 * 10**16, 10**40):
        _both(space, max(1, middle - 7), middle + 7, form)


def test_the_text_is_read_back_as_the_line() -> None:
    for name in ("pickups", "rests", "triplets"):
        space = SPACES[name]
        out = io.StringIO()
        write_range(space, 1000, 1100, "text", out, many=1)
        for row in out.getvalue().splitlines():
            number, line = row.split("\t")
            assert int(number) in {space.diagram.number(each) for each in parse_line(line, space.rules)}


def test_rests_stand_in_the_text() -> None:
    space = SPACES["rests"]
    assert any(" r8 " in row and " r4." in row for row in texts(space.rules, space.diagram, 1, 1000, "text"))


def test_rows_of_json_hold_what_the_analysed_rows_hold() -> None:
    space = SPACES["pickups"]
    out = io.StringIO()
    lines = [(line.number or 0, line.events) for line in space[5000:5040]]
    write_numbered(space.rules, lines, "jsonl", out)
    for row, line in zip(out.getvalue().splitlines(), space[5000:5040], strict=True):
        full = line.as_row()
        for note in full["notes"]:
            for key in ("name", "role", "degree", "chord"):
                del note[key]
        assert json.loads(row) == full


@given(st.lists(st.integers(0, 10**18), min_size=1, max_size=20))
def test_digits(values: list[int]) -> None:
    pieces = [*digits(np.array(values, dtype=np.int64)), b"\n"]
    assert join(pieces, len(values)).decode() == "".join(f"{value}\n" for value in values)


@given(st.integers(1, 10**60), st.integers(1, 30))
def test_numbers_of_any_size(first: int, lines: int) -> None:
    columns = Columns(SPACES["triplets"].diagram)
    for start in (first, first // LOW * LOW + LOW - 3):
        batch = Batch(columns, start, np.zeros((len(columns.ticks), lines), dtype=np.uint8))
        written = join([*numbers(batch), b"\n"], lines).decode()
        assert written == "".join(f"{number}\n" for number in range(start, start + lines))
