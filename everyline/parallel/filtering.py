"""Lines that whole-line rules look at, looked at by many processes."""

from __future__ import annotations

from array import array
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from itertools import islice

from everyline.files.progress import Progress
from everyline.parallel.cluster import Cluster, in_order, pack, unpacked
from everyline.rules.line import Events
from everyline.rules.own import RuleFailed, meets_filters
from everyline.rules.ruleset import Rules
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from everyline.solver.filtered import Looker

LINES = 5_000
"""Lines that one task looks at."""

DENSE = 8
"""One line kept in so many: from there on lines are walked, and not asked for one by one."""


def on_cluster(cluster: Cluster, progress: Progress | None = None) -> Looker:
    """What looks at lines on a cluster.

    A task carries the rules and a range of numbers; it gives back the numbers of the lines that it keeps.
    """

    def look(diagram: Diagram, rules: Rules) -> Iterator[Events]:
        packed = pack(replace(rules))
        starts = range(1, diagram.count + 1, LINES)
        tasks = ((kept, packed, first, min(first + LINES, diagram.count + 1) - first) for first in starts)
        for first, numbers in zip(starts, in_order(cluster, tasks), strict=True):
            if isinstance(numbers, RuleFailed):
                raise numbers
            yield from lines_of(diagram, first, array("q", numbers))
            if progress is not None:
                progress(min(first + LINES - 1, diagram.count), diagram.count)

    return look


def lines_of(diagram: Diagram, first: int, numbers: array[int]) -> Iterator[Events]:
    """The lines with these numbers, all from ``first`` on and less than LINES further."""
    if DENSE * len(numbers) < LINES:
        yield from map(diagram.line, numbers)
        return
    # Walking past a line costs far less than going down to one.
    there = 0
    for number, events in enumerate(diagram.walk(first), first):
        if there == len(numbers):
            return
        if number == numbers[there]:
            there += 1
            yield events


@lru_cache(maxsize=2)
def _base(packed: bytes) -> Diagram:
    rules: Rules = unpacked(packed)
    return compile_rules(replace(rules, filters=()))


def kept(packed: bytes, first: int, lines: int) -> bytes | RuleFailed:
    """The numbers of the lines that meet the rules, of so many from ``first`` on, 64 bits each.

    A failing rule is given back and not raised, so that the failure that is reported is the first in the
    order of the lines, whichever task is done first.
    """
    rules: Rules = unpacked(packed)
    walk = islice(_base(packed).walk(first), lines)
    try:
        found = [number for number, events in enumerate(walk, first) if meets_filters(rules, events)]
    except RuleFailed as failure:
        return failure
    return array("q", found).tobytes()
