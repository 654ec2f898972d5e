"""How fast lines are listed."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from itertools import islice

import numpy as np

from benchmarks.measure import Spread, figure, in_a_child, in_turns, ratio
from benchmarks.one_engine import MODULES
from benchmarks.report import Cell, Section, Table
from benchmarks.spaces import II_V_I, LISTED, rules
from everyline.solver.columns import Columns
from everyline.spaces.space import Space

WORDS = """
Lines in order. First, one at a time from a ii-V-I with every default: as events, and as lines with their
analysis, names and degrees. Then as columns: a whole space or ten million lines out of it, in batches that
share one buffer, beside copying as many bytes between two buffers of the same size in the same turn. Last,
what the general solvers above do on the same spaces: lines a second from their first line on, any lines, in
whatever order, so that neither the time to state the problem nor the order is held against them.
""".strip()


def section(quick: bool) -> Section:
    """Measure."""
    columns, rates = _columns(quick)
    return Section("Listing", WORDS, (_one_by_one(quick), columns, _general(quick, rates)))


def _one_by_one(quick: bool) -> Table:
    space = Space(rules(II_V_I))
    many, few = (20_000, 200) if quick else (200_000, 500)
    diagram = space.diagram
    plain, analysed = in_turns(
        [
            lambda: deque(islice(diagram.walk(), many), maxlen=0),
            lambda: deque(islice(space, few), maxlen=0),
        ],
        3,
    )
    per_line = [[seconds / many for seconds in plain], [seconds / few for seconds in analysed]]
    rows = tuple(
        (name, figure(1 / Spread.of(each).median), ratio(each, per_line[0]).times())
        for name, each in zip(("events", "analysed lines"), per_line, strict=True)
    )
    return Table(("", "lines a second", "time of a line, as a ratio"), rows)


def _columns(quick: bool) -> tuple[Table, dict[str, float]]:
    """The table, and the lines a second of each space."""
    most = 1_000_000 if quick else 10_000_000
    rows: list[tuple[Cell, ...]] = []
    rates: dict[str, float] = {}
    for name, tables in LISTED.items():
        columns = Columns(Space(rules(tables)).diagram)
        lines = min(most, columns.count)
        listed, copied = in_turns([_listing(columns, lines), _copying(columns, lines)], 3)
        seconds = Spread.of(listed).median
        rates[name] = lines / seconds
        size = lines * len(columns.ticks) * np.dtype(columns.dtype).itemsize
        rows.append(
            (
                name,
                lines,
                len(columns.ticks),
                figure(rates[name]),
                f"{size / seconds / 1e9:.1f} GB/s",
                ratio(copied, listed).times(),
            )
        )
    head = ("columns of", "lines", "columns", "lines a second", "bytes", "rate, as a part of copying")
    return Table(head, tuple(rows)), rates


def _general(quick: bool, rates: dict[str, float]) -> Table:
    """Lines a second of the general solvers, and those of the columns as times the fastest of them."""
    solvers = [name for name in MODULES if name != "diagram"]
    rows: list[tuple[Cell, ...]] = []
    for space, rate in rates.items():
        found = [in_a_child("same_space", name, space, "0.5" if quick else "4") for name in solvers]
        each = [one["lines"] / one["seconds"] for one in found]
        rows.append((space, *map(figure, each), figure(rate / max(each))))
    return Table(("lines a second on", *solvers, "columns, as times the fastest"), tuple(rows))


def _listing(columns: Columns, lines: int) -> Callable[[], object]:
    return lambda: deque(columns.batches(1, lines, reuse=True), maxlen=0)


def _copying(columns: Columns, lines: int) -> Callable[[], None]:
    """Copy as many bytes as the lines have, a batch at a time."""
    whole, rest = divmod(lines, columns.batch_lines)
    source = np.ones((len(columns.ticks), columns.batch_lines), dtype=columns.dtype)
    target = np.empty_like(source)

    def copy() -> None:
        for _ in range(whole):
            np.copyto(target, source)
        np.copyto(target[:, :rest], source[:, :rest])

    return copy
