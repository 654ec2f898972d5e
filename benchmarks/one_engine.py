"""One engine on one space in a process of its own, so that its memory is its own: prints JSON."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

from benchmarks import gecode
from benchmarks.measure import once
from benchmarks.spaces import SIDE_BY_SIDE, rules
from everyline.solver.contract import ENGINES, Allowance, Engine

MODULES = {name: kind.module for name, kind in ENGINES.items()} | {"clingo": "benchmarks.asp"}
if gecode.is_installed():
    MODULES["gecode"] = "benchmarks.gecode"
"""Every engine that is compared: those of the program, clingo, and Gecode where it is installed."""


def peak_megabytes() -> float:
    """The most memory that this process, or one that it started, has held; 0 where nothing tells."""
    try:
        import resource
    except ImportError:
        return 0.0
    scale = 1 << 20 if sys.platform == "darwin" else 1 << 10
    others = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / scale
    try:
        status = Path("/proc/self/status").read_text(encoding="utf-8")
    except OSError:
        return max(others, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / scale)
    # Linux counts what a process held before it became this program in the usage, but not here.
    own = next(line.split()[1] for line in status.splitlines() if line.startswith("VmHWM"))
    return max(others, int(own) / scale)


def measure(name: str, space: str, runs: int) -> dict[str, Any]:
    """Seconds of each run for each question, the number of lines, and peak memory in MB."""
    wanted = rules(SIDE_BY_SIDE[space])

    def fresh() -> Engine:
        engine: Engine = import_module(MODULES[name]).build(Allowance())
        return engine

    counts: set[int] = set()

    def every() -> None:
        counts.add(sum(1 for _ in fresh().lines(wanted)))

    questions: dict[str, Callable[[], Any]] = {
        "all": every,
        "count": lambda: fresh().count(wanted),
        "first": lambda: fresh().first(wanted, 100),
    }
    if name != "diagram":
        # A general solver counts, and finds the first in number order, by listing: one measurement serves.
        del questions["count"], questions["first"]
    found: dict[str, Any] = {q: [once(work) for _ in range(runs)] for q, work in questions.items()}
    memory = peak_megabytes()
    (lines,) = counts
    return {"count": found["all"], "first": found["all"], **found, "lines": lines, "memory": memory}


if __name__ == "__main__":
    print(json.dumps(measure(sys.argv[1], sys.argv[2], int(sys.argv[3]))))
