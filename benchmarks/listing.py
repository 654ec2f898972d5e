"""How fast lines are listed."""

from __future__ import annotations

from collections import deque
from itertools import islice

from benchmarks.measure import Spread, figure, in_turns, ratio
from benchmarks.report import Section, Table
from benchmarks.spaces import II_V_I, rules
from everyline.space import Space

WORDS = """
Lines in order, from a ii-V-I with every default: as events, and as lines with their analysis, names and
degrees.
""".strip()


def section(quick: bool) -> Section:
    """Measure."""
    space = Space(rules(II_V_I))
    many, few = (20_000, 200) if quick else (200_000, 1_000)
    diagram = space.diagram
    plain, analysed = in_turns(
        [
            lambda: deque(islice(diagram.walk(), many), maxlen=0),
            lambda: deque(islice(space, few), maxlen=0),
        ],
        3 if quick else 5,
    )
    per_line = [[seconds / many for seconds in plain], [seconds / few for seconds in analysed]]
    rows = tuple(
        (name, figure(1 / Spread.of(each).median), ratio(each, per_line[0]).times())
        for name, each in zip(("events", "analysed lines"), per_line, strict=True)
    )
    return Section("Listing", WORDS, (Table(("", "lines a second", "time of a line, as a ratio"), rows),))
