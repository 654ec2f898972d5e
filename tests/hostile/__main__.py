"""Run many hostile inputs: ``python -m tests.hostile 100000``; the same seed gives the same inputs."""

from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.hostile.commands import case
from tests.hostile.contract import broken

TOLD_EVERY = 500


def run(count: int, seed: int) -> Iterator[str]:
    """What did not hold, one by one, with the seed that repeats it. How far it is goes to standard error."""
    for number in range(seed, seed + count):
        made = case(random.Random(number))
        with TemporaryDirectory() as folder:
            (Path(folder) / "in").mkdir()
            problem = broken(made, Path(folder) / "in")
        if problem:
            yield f"seed {number}: {' '.join(map(repr, made.words))}\n    {problem}"
        if (number + 1 - seed) % TOLD_EVERY == 0:
            print(f"{number + 1 - seed} of {count} inputs", file=sys.stderr, flush=True)


def main() -> int:
    """Run as many as asked for; answers 1 where the contract did not hold."""
    parser = argparse.ArgumentParser(description="Hostile inputs for every command.")
    parser.add_argument("count", type=int)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    found = 0
    for problem in run(arguments.count, arguments.seed):
        found += 1
        print(problem, flush=True)
    print(f"{found} of {arguments.count} inputs broke the contract.")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
