"""The plain checker against the reference, on random rule files with passing notes, cells and the rest.

The lines that are not valid are valid ones with one note changed.
"""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from everyline.rules.analysis import holds
from everyline.rules.line import Event
from everyline.rules.rulefile import parse_rules
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


@pytest.mark.slow
@settings(max_examples=sweep(10, 60))
@given(seed=st.integers(0, 100_000))
def test_the_checker_takes_the_lines_of_the_reference_and_no_others(seed: int) -> None:
    table = random_rules(seed, most=MOST, extended=True)
    rules = parse_rules(table, CORPUS)
    valid = [tuple(Event(on, pitch, length) for on, length, pitch in line) for line in solve(table).lines]
    rng = random.Random(seed)
    for line in rng.sample(valid, min(20, len(valid))):
        assert holds(rules, line)
        other = changed(rng, line)
        assert not other or holds(rules, other) == (other in set(valid))
