"""Measuring on a machine that others use too: processor time, many short runs, medians and spread.

Times are seconds of processor time, so that waiting for the processor does not count. What is compared is
measured in turns, one run of each, and the ratio is taken turn by turn.
"""

from __future__ import annotations

import gc
import json
import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from time import process_time
from typing import Any

ROOT = Path(__file__).resolve().parents[1]


@dataclass(frozen=True, slots=True)
class Spread:
    """The median of some runs, the least and the most of them, and how many there were."""

    median: float
    least: float
    most: float
    runs: int

    @classmethod
    def of(cls, values: Sequence[float]) -> Spread:
        """The spread of some values; ValueError where there is none."""
        if not values:
            raise ValueError("nothing was measured")
        return cls(median(values), min(values), max(values), len(values))

    def seconds(self) -> str:
        """In words, as a time."""
        return f"{duration(self.median)} ({duration(self.least)} to {duration(self.most)})"

    def times(self) -> str:
        """In words, as a ratio."""
        return f"{figure(self.median)} ({figure(self.least)} to {figure(self.most)})"


def duration(seconds: float) -> str:
    """A time in the unit that suits it."""
    for unit, size in (("s", 1.0), ("ms", 1e-3)):
        if seconds >= size:
            return f"{figure(seconds / size)} {unit}"
    return f"{figure(seconds / 1e-6)} µs"


def figure(value: float) -> str:
    """A number with two or three figures that count: 0.034, 1.52, 47, 1 234, 3.1e+33."""
    if value == 0:
        return "0"
    if abs(value) >= 1e7 or abs(value) < 1e-3:
        return f"{value:.2g}"
    if abs(value) >= 100:
        return f"{value:,.0f}".replace(",", " ")
    return f"{value:.3g}"


def once(work: Callable[[], Any]) -> float:
    """Seconds of processor time that one call takes, all threads of this process together, and every process
    that it starts and waits for."""
    gc.collect()
    start = process_time() + _of_children()
    work()
    return process_time() + _of_children() - start


def in_turns(works: Sequence[Callable[[], Any]], turns: int) -> list[list[float]]:
    """Seconds of each work in each turn, after one turn that does not count."""
    for work in works:
        work()
    found: list[list[float]] = [[] for _ in works]
    for _ in range(turns):
        for times, work in zip(found, works, strict=True):
            times.append(once(work))
    return found


def ratio(above: Sequence[float], below: Sequence[float]) -> Spread:
    """The spread of ratios, turn by turn."""
    return Spread.of([a / b for a, b in zip(above, below, strict=True)])


def in_a_process(words: Sequence[str]) -> tuple[float, str]:
    """(seconds of processor time, standard output) of one process from start to end.

    Raises RuntimeError with what it printed where it fails.
    """
    before = _of_children()
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)
    spent = _of_children() - before
    if done.returncode:
        raise RuntimeError(f"{' '.join(words)} failed: {done.stderr.strip()}")
    return spent, done.stdout


def _of_children() -> float:
    """Seconds of processor time of all processes that this one has waited for."""
    try:
        import resource
    except ImportError:  # where there is no finer clock
        times = os.times()
        return times.children_user + times.children_system
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def in_a_child(module: str, *words: str) -> dict[str, Any]:
    """What a module of this package prints as JSON when it is run in a process of its own."""
    _, text = in_a_process([sys.executable, "-m", f"benchmarks.{module}", *words])
    result: dict[str, Any] = json.loads(text)
    return result
