"""How fast lines are listed."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from itertools import islice

import numpy as np

from benchmarks.engines import fastest_general
from benchmarks.measure import Spread, figure, in_turns, ratio
from benchmarks.report import Cell, Section, Table
from benchmarks.spaces import II_V_I, Tables, form, rules
from everyline.space import Space
from solver.columns import Columns

WORDS = """
Lines in order. Above, one at a time from a ii-V-I with every default: as events, and as lines with their
analysis, names and degrees. Below, as columns: a whole space or ten million lines out of it, in batches that
share one buffer, beside copying as many bytes between two buffers of the same size in the same turn, and
beside the most lines a second that any of the general solvers above listed on any space of this run.
""".strip()


def section(quick: bool) -> Section:
    """Measure."""
    return Section("Listing", WORDS, (_one_by_one(quick), _columns(quick)))


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


def _columns(quick: bool) -> Table:
    spaces: dict[str, Tables] = {"ii-V-I": II_V_I, "6 bars": form(6), "32 bars": form(32)}
    most = 1_000_000 if quick else 10_000_000
    general = fastest_general()
    rows: list[tuple[Cell, ...]] = []
    for name, tables in spaces.items():
        columns = Columns(Space(rules(tables)).diagram)
        lines = min(most, columns.count)
        listed, copied = in_turns([_listing(columns, lines), _copying(columns, lines)], 3)
        seconds = Spread.of(listed).median
        size = lines * len(columns.ticks) * np.dtype(columns.dtype).itemsize
        rows.append(
            (
                name,
                lines,
                len(columns.ticks),
                figure(lines / seconds),
                f"{size / seconds / 1e9:.1f} GB/s",
                ratio(copied, listed).times(),
                figure(lines / seconds / general),
            )
        )
    head = ("columns of", "lines", "columns", "lines a second", "bytes")
    return Table((*head, "rate, as a part of copying", "as times a general solver"), tuple(rows))


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
