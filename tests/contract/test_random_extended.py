"""Engines and the plain checker against the reference, on rule files with passing notes, cells and the rest.

Chance writes the files; the lines that are not valid are valid ones with one note changed.
"""

from __future__ import annotations

import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from everyline.rules.analysis import holds
from everyline.rules.line import Event
from everyline.rules.rulefile import parse_rules
from everyline.solver.contract import ENGINES, engine
from tests.reference import solve
from tests.reference.random_rules import random_rules
from tests.spaces import CORPUS
from tests.sweeps import sweep

Events = tuple[Event, ...]
MOST = 600


def changed(rng: random.Random, line: Events) -> Events:
    """The line with one note moved, left out, or held into the next."""
    place = rng.randrange(len(line))
    onset, pitch, length = line[place]
    way = rng.choice(["move", "move", "move", "leave out", "hold"])
    if way == "move":
        moved = Event(onset, pitch + rng.choice([-12, -4, -3, -2, -1, 1, 2, 3, 4, 12]), length)
        return (*line[:place], moved, *line[place + 1 :])
    if way == "leave out" or place + 1 == len(line):
        return (*line[:place], *line[place + 1 :])
    held = Event(onset, pitch, line[place + 1][0] + line[place + 1][2] - onset)
    return (*line[:place], held, *line[place + 2 :])


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


@pytest.mark.slow
@settings(max_examples=sweep(10, 60))
@given(seed=st.integers(0, 100_000))
def test_the_checker_takes_the_lines_of_the_reference_and_no_others(seed: int) -> None:
    table = random_rules(seed, most=MOST, extended=True)
    rules, wanted = parse_rules(table, CORPUS), reference_lines(table)
    rng = random.Random(seed)
    for line in rng.sample(wanted, min(20, len(wanted))):
        assert holds(rules, line)
        other = changed(rng, line)
        assert not other or holds(rules, other) == (other in set(wanted))
