"""How many lines of a space one general solver finds in some seconds, in a process of its own: prints JSON.

The clock starts at the solver's first line, so that what it does before counts for nothing; and the lines are
any, in the order in which it finds them. Both are in its favour.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from importlib import import_module
from time import perf_counter
from typing import Any

from benchmarks.one_engine import MODULES
from benchmarks.spaces import LISTED, rules
from everyline.rules.ruleset import Rules
from everyline.solver.contract import Allowance, Clock
from everyline.solver.engines.cp_sat import Collector, Model
from everyline.solver.engines.skeleton import skeletons


def measure(name: str, space: str, seconds: float) -> dict[str, Any]:
    """Distinct lines found, and the seconds on the clock that they took."""
    wanted = rules(LISTED[space])
    found = _by_cp_sat(wanted, seconds) if name == "cp-sat" else _by_engine(name, wanted, seconds)
    return {"lines": found[0], "seconds": found[1]}


def _by_engine(name: str, wanted: Rules, seconds: float) -> tuple[int, float]:
    lines = _one_after_another(name, wanted)
    found = {next(lines)}
    start = perf_counter()
    spent = 0.0
    for line in lines:
        found.add(line)
        spent = perf_counter() - start
        if spent >= seconds:
            break
    return len(found), spent


def _one_after_another(name: str, wanted: Rules) -> Iterator[tuple[int, tuple[int, ...]]]:
    engine = import_module(MODULES[name]).build(Allowance())
    clock = Clock(name, Allowance())
    for number, skeleton in enumerate(skeletons(wanted)):
        for pitches in engine.pitches(skeleton, clock):
            yield number, pitches


class _Timed(Collector):
    """Has enough when the seconds since the first line are over."""

    def __init__(self, model: Model, seconds: float) -> None:
        super().__init__(model.line)
        self.seconds = seconds
        self.start: float | None = None
        self.spent = 0.0

    def on_solution_callback(self) -> None:
        if self.start is None:
            self.start = perf_counter()
        self.spent = perf_counter() - self.start
        self.enough = self.spent >= self.seconds
        super().on_solution_callback()


def _by_cp_sat(wanted: Rules, seconds: float) -> tuple[int, float]:
    """This solver hands out its lines while it searches, and not one by one to whoever asks."""
    lines, spent = 0, 0.0
    for skeleton in skeletons(wanted):
        model = Model(skeleton)
        found = _Timed(model, seconds - spent)
        model.solve(Clock("cp-sat", Allowance()), found)
        lines += len(found.lines)
        spent += found.spent
        if spent >= seconds:
            break
    return lines, spent


if __name__ == "__main__":
    print(json.dumps(measure(sys.argv[1], sys.argv[2], float(sys.argv[3]))))
