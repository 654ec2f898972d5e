"""Run many hostile inputs: ``python -m tests.hostile 100000``; the same seed gives the same inputs."""

from __future__ import annotations

import argparse
import random
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.hostile.commands import case
from tests.hostile.contract import broken


def run(count: int, seed: int) -> list[str]:
    """What did not hold, with the seed that repeats it."""
    found = []
    for number in range(seed, seed + count):
        made = case(random.Random(number))
        with TemporaryDirectory() as folder:
            (Path(folder) / "in").mkdir()
            problem = broken(made, Path(folder) / "in")
        if problem:
            found.append(f"seed {number}: {' '.join(map(repr, made.words))}\n    {problem}")
    return found


def main() -> int:
    """Run as many as asked for; answers 1 where the contract did not hold."""
    parser = argparse.ArgumentParser(description="Hostile inputs for every command.")
    parser.add_argument("count", type=int)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    found = run(arguments.count, arguments.seed)
    print("\n".join(found))
    print(f"{len(found)} of {arguments.count} inputs broke the contract.")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
