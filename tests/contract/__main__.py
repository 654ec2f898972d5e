"""Hold many random rule files against the reference: ``python -m tests.contract 3000``.

Each is solved by every engine and by the reference, and its lines, as they are and with one note changed, are
judged by the plain checker. The same seed gives the same rule files.
"""

from __future__ import annotations

import argparse
import sys

from tests.contract.agreement import checker_apart, engines_apart, for_all, made


def main() -> int:
    """Run as many as asked for; answers 1 where something was apart."""
    parser = argparse.ArgumentParser(description="Random rule files, by all engines and by the reference.")
    parser.add_argument("count", type=int)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--most", type=int, default=60, help="lines of one rule file (default: 60)")
    arguments = parser.parse_args()
    apart = alone = 0
    for done, seed in enumerate(range(arguments.seed, arguments.seed + arguments.count), 1):
        for sentence in (engines_apart(seed, arguments.most), checker_apart(seed, arguments.most)):
            apart += bool(sentence)
            if sentence:
                print(sentence, flush=True)
        alone += not for_all(made(seed, arguments.most, dotted=False)[0])
        if done % 100 == 0 or done == arguments.count:
            print(f"{done} rule files, {apart} apart, {alone} too much for a general solver", flush=True)
    return 1 if apart else 0


if __name__ == "__main__":
    sys.exit(main())
