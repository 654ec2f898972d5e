"""What more processes bring: Parquet files, drill sets and whole-line rules on one and on two."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from time import perf_counter

from benchmarks.measure import duration, figure
from benchmarks.report import Cell, Section, Table
from benchmarks.spaces import II_V_I, form, rules
from everyline.corpora import load
from everyline.drill.choose import choose
from everyline.drill.sources import sources_of
from everyline.drill.spec import spec_of
from everyline.drill.write import DrillSet
from everyline.parallel import drills, filtering
from everyline.parallel.cluster import Cluster, in_order, on_cluster
from everyline.parallel.parquet import export
from everyline.rules.own import loader
from everyline.rules.rulefile import parse_rules
from everyline.solver.compiler import compile_rules
from everyline.solver.filtered import looking_with

WORDS = """
The same work on one and on two processes of this machine, on the clock. Twice as fast would be all there is
to gain. Starting the processes is not counted; that each compiles the rules anew is. What comes out is the
same to the byte.
""".strip()

WIDE = '''
def wide(line):
    """it spans a ninth"""
    return max(line.pitches) - min(line.pitches) >= 14
'''
PARTS = 16
Work = Callable[[Cluster, Path], object]


def section(quick: bool) -> Section:
    """Measure. ``quick`` takes small works."""
    with tempfile.TemporaryDirectory() as folder:
        works = _works(quick, Path(folder))
        seconds: dict[str, list[float]] = {name: [] for name in works}
        for processes in (1, 2):
            with Cluster(workers=processes) as cluster:
                list(in_order(cluster, [(_warm,)] * 2 * processes))
                for name, work in works.items():
                    start = perf_counter()
                    work(cluster, Path(folder) / f"{name} {processes}")
                    seconds[name].append(perf_counter() - start)
    rows: list[tuple[Cell, ...]] = [
        (name, duration(one), duration(two), figure(one / two)) for name, (one, two) in seconds.items()
    ]
    return Section(
        "Processes", WORDS, (Table(("", "one process", "two processes", "times as fast"), tuple(rows)),)
    )


def _warm() -> None:
    """Import what every work needs."""
    compile_rules(rules(II_V_I))


def _works(quick: bool, folder: Path) -> dict[str, Work]:
    lines = 200_000 if quick else 4_000_000
    wide = folder / "wide.py"
    wide.write_text(WIDE, encoding="utf-8")
    looked = parse_rules(
        {
            **II_V_I,
            "range": {"lowest": "C4", "highest": "A4" if quick else "D5"},
            "own_rules": ["wide.py:wide"],
        },
        load(),
        base=folder,
        own_rules=loader(),
    )
    spec = spec_of(
        {"rules": ["first-enclosure"], "lines": 50 if quick else 600, "order": "easiest", "kinds": ["slip"]},
        "the benchmark",
    )
    sources = sources_of(spec, load())

    def parquet(cluster: Cluster, target: Path) -> object:
        return export(
            rules(form(6)), target, last=lines, part_lines=lines // PARTS, runner=on_cluster(cluster)
        )

    def drill(cluster: Cluster, target: Path) -> object:
        mapper = drills.on_cluster(cluster)
        return DrillSet(spec, sources, choose(spec, sources, None, mapper)).write(target, None, mapper)

    def filtered(cluster: Cluster, target: Path) -> object:
        with looking_with(filtering.on_cluster(cluster)):
            return compile_rules(replace(looked)).count

    return {
        f"Parquet, {lines} lines in {PARTS} parts": parquet,
        f"a drill set of {spec.lines} exercises": drill,
        f"a whole-line rule, {compile_rules(replace(looked, filters=())).count} lines": filtered,
    }
