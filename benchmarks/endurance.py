"""A big export that is killed again and again: ``python -m benchmarks.endurance [--lines N] [--folder F]``.

The same lines are written twice by two processes: once in one go, and once with the whole run killed three
times at moments drawn by a seed, taken up again each time, and with one process alone killed in the last
turn. Prints the time, the most memory of all processes together early and late in the run, and whether every
checksum is the same. It needs room for one export at a time, about 5 bytes a line.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
from pathlib import Path
from time import perf_counter, sleep

import psutil

from benchmarks.measure import ROOT
from benchmarks.spaces import form
from everyline.parallel.parts_folder import MANIFEST

KILLS = 3
SETTLED = 5
"""Seconds after which the processes have started and compiled."""


class Watch(threading.Thread):
    """Reads how much memory a process and all that it started hold, once in a second."""

    def __init__(self, process: int) -> None:
        super().__init__(daemon=True)
        self.root = psutil.Process(process)
        self.megabytes: list[float] = []

    def run(self) -> None:
        while True:
            try:
                every = [self.root, *self.root.children(recursive=True)]
                self.megabytes.append(sum(map(_unshared, every)) / 1e6)
            except psutil.Error:
                return
            sleep(1)


def _unshared(process: psutil.Process) -> int:
    try:
        return int(process.memory_full_info().uss)
    except psutil.Error:
        return 0


def begin(rules: Path, lines: int, target: Path) -> subprocess.Popen[bytes]:
    """Start the export in a process group of its own."""
    words = ["-m", "everyline.cli.main", "export", str(rules), "--to", str(target), "--workers", "2"]
    words += ["--numbers", f"1-{lines}"]
    return subprocess.Popen([sys.executable, *words], cwd=ROOT, start_new_session=True)


def parts(target: Path) -> int:
    """How many parts are there."""
    return len(list(target.glob("part-*.parquet")))


def checksums(target: Path) -> list[str]:
    """The SHA-256 of every part, from the manifest."""
    return [part["sha256"] for part in json.loads((target / MANIFEST).read_text())["parts"]]


def in_one_go(rules: Path, lines: int, target: Path) -> list[str]:
    """Export without a break; prints time and memory."""
    start = perf_counter()
    process = begin(rules, lines, target)
    watch = Watch(process.pid)
    watch.start()
    if process.wait():
        raise RuntimeError(f"the export ended with {process.returncode}")
    seconds = perf_counter() - start
    settled = watch.megabytes[SETTLED:] or watch.megabytes
    half = len(settled) // 2
    early, late = max(settled[: half or 1]), max(settled[half:])
    size = sum(path.stat().st_size for path in target.iterdir())
    print(f"in one go: {lines} lines, {parts(target)} parts, {size / 1e9:.2f} GB in {seconds:.0f} s")
    print(f"memory of all processes at most: {early:.0f} MB in the first half, {late:.0f} MB in the second")
    return checksums(target)


def killed(rules: Path, lines: int, target: Path, every: int, draw: random.Random) -> list[str]:
    """Export with the whole run killed at ``KILLS`` moments, then with one process killed."""
    marks = sorted(draw.sample(range(1, max(KILLS + 2, every * 3 // 4)), KILLS))
    for mark in marks:
        process = begin(rules, lines, target)
        while parts(target) < mark:
            sleep(0.01)
        sleep(draw.random())
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        print(f"killed with {parts(target)} of {every} parts there")
    process = begin(rules, lines, target)
    before = parts(target)
    while parts(target) <= before:
        sleep(0.01)
    workers = [each for each in psutil.Process(process.pid).children(recursive=True) if _writes(each)]
    workers[0].kill()
    print(f"one of {len(workers)} processes killed with {parts(target)} of {every} parts there")
    if process.wait():
        raise RuntimeError(f"the export ended with {process.returncode}")
    return checksums(target)


def _writes(process: psutil.Process) -> bool:
    """Whether a process is one of those that write parts: it has worked for a while."""
    times = process.cpu_times()
    return bool(times.user + times.system > SETTLED / 2)


def main() -> int:
    """Run; answers 0 where every checksum is the same."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.endurance", description=__doc__)
    parser.add_argument("--lines", type=int, default=10**8)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, help="where there is room (default: the system's own)")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=arguments.folder) as name:
        folder = Path(name)
        rules = folder / "six-bars.toml"
        rules.write_text("\n".join((f'changes = "{form(6)["changes"]}"', "[ending]", 'use = ["plain"]', "")))
        wanted = in_one_go(rules, arguments.lines, folder / "whole.parquet")
        shutil.rmtree(folder / "whole.parquet")
        found = killed(
            rules, arguments.lines, folder / "killed.parquet", len(wanted), random.Random(arguments.seed)
        )
    same = found == wanted
    print(f"{len(wanted)} checksums: {'all the same' if same else 'NOT the same'}")
    return 0 if same else 1


if __name__ == "__main__":
    sys.exit(main())
