"""The engines against the reference, on random rule files with passing notes, cells and the rest."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from everyline.rules.line import Event
from everyline.rules.rulefile import parse_rules
from everyline.solver.contract import ENGINES, engine
from tests.reference import solve
from tests.reference.random_rules import random_rules
from tests.spaces import CORPUS
from tests.sweeps import sweep

Events = tuple[Event, ...]
MOST = 600


def reference_lines(table: dict[str, Any]) -> tuple[Events, ...]:
    lines = solve(table).lines
    return tuple(tuple(Event(onset, pitch, length) for onset, length, pitch in line) for line in lines)


@pytest.mark.slow
@settings(max_examples=sweep(10, 60))
@given(seed=st.integers(0, 100_000))
def test_all_engines_list_what_the_reference_lists(seed: int) -> None:
    table = random_rules(seed, most=MOST, extended=True)
    rules, wanted = parse_rules(table, CORPUS), reference_lines(table)
    for name in ENGINES:
        assert tuple(engine(name).lines(rules)) == wanted, name
