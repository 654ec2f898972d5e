"""The engines side by side on the same spaces."""

from __future__ import annotations

from typing import Any

from benchmarks.measure import Spread, duration, figure, in_a_child
from benchmarks.one_engine import MODULES
from benchmarks.report import Cell, Plot, Section, Table
from benchmarks.spaces import SIDE_BY_SIDE

WORDS = """
The same question to every engine, each in a process of its own: the diagram, CP-SAT of OR-Tools, the
backtracking solver of python-constraint, and two that are given the same tables as CP-SAT: clingo, and Gecode
through MiniZinc. All must give the same number of lines, or the run stops here. A general solver counts by
listing, and knows the first hundred in number order only when it has them all, so it has one time for all
three. Memory is the most that the process held, Python and the engine's package included. The first of three
runs also loads the engine.
""".strip()


def section(quick: bool) -> Section:
    """Measure. ``quick`` takes the small space and one run."""
    spaces = list(SIDE_BY_SIDE)[: 1 if quick else None]
    tables = []
    curves: dict[str, list[tuple[float, float]]] = {name: [] for name in MODULES}
    for space in spaces:
        found = {name: in_a_child("one_engine", name, space, "1" if quick else "3") for name in MODULES}
        tables.append(_table(space, found))
        for name, each in found.items():
            curves[name].append((each["lines"], Spread.of(each["all"]).median))
    plot = Plot("engines", "Time to list all lines", "lines", "seconds of processor time", curves)
    return Section("Engines side by side", WORDS, tuple(tables), (plot,))


def _table(space: str, found: dict[str, dict[str, Any]]) -> Table:
    counts = {name: each["lines"] for name, each in found.items()}
    if len(set(counts.values())) != 1:
        raise RuntimeError(f'the engines disagree on the number of lines of "{space}": {counts}')
    lines = counts["diagram"]
    ours = found["diagram"]
    rows: list[tuple[Cell, ...]] = []
    for name, each in found.items():
        every = Spread.of(each["all"])
        slower = Spread.of([a / b for a, b in zip(each["all"], ours["all"], strict=True)])
        rows.append(
            (
                name,
                duration(Spread.of(each["count"]).median),
                duration(Spread.of(each["first"]).median),
                every.seconds(),
                figure(lines / every.median),
                slower.times(),
                f"{each['memory']:.0f} MB",
            )
        )
    head = ("count", "first 100", "all", "lines a second", "all, as times the diagram's", "memory")
    return Table((f"{space}: {lines} lines", *head), tuple(rows))
