"""The strangeness of listed lines against the plain sum of the reference, on random rule files."""

from __future__ import annotations

import json
import random
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from everyline.rules.line import Event
from everyline.rules.rulefile import parse_rules
from everyline.rules.taste import load_taste, strangeness
from tests.reference import solve
from tests.reference.random_rules import random_rules
from tests.reference.strangeness import strangeness as plain_sum
from tests.spaces import CORPUS
from tests.sweeps import sweep

TASTES = Path(__file__).parents[2] / "corpora" / "tastes"


@cache
def table_of(name: str) -> dict[str, Any]:
    table: dict[str, Any] = json.loads((TASTES / f"{name}.json").read_text(encoding="utf-8"))
    return table


@pytest.mark.slow
@pytest.mark.parametrize("name", ["solos", "plain"])
@settings(max_examples=sweep(10, 60))
@given(seed=st.integers(0, 100_000))
def test_strangeness_is_the_plain_sum_of_the_reference(name: str, seed: int) -> None:
    found = solve(table := random_rules(seed, most=300, extended=True))
    rules, taste = parse_rules(table, CORPUS), load_taste(name, CORPUS)
    for line in random.Random(seed).sample(found.lines, min(50, len(found.lines))):
        events = tuple(Event(onset, pitch, length) for onset, length, pitch in line)
        assert strangeness(rules, events, taste) == plain_sum(found.rules, line, table_of(name))
