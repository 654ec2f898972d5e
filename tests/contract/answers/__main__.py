"""Hold every answer about many random rule files against the reference.

``python -m tests.contract.answers 5000 --seed 1``

Verdicts with their reasons, nearest corrections, the costs and remedies of ``why``, facets, tallies, orders,
what may follow a beginning, and chorus plans are each worked out a second time from the reference's list of
lines. The same seed gives the same rule files and the same questions.
"""

from __future__ import annotations

import argparse
import sys

from tests.contract.answers.areas import AREAS, apart


def main() -> int:
    """Ask as many as asked for; answers 1 where something was apart."""
    parser = argparse.ArgumentParser(description="Random rule files: every answer, by the reference too.")
    parser.add_argument("count", type=int)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--most", type=int, default=200, help="lines of one rule file (default: 200)")
    parser.add_argument("--only", choices=AREAS, action="append", help="an area; may be given again")
    arguments = parser.parse_args()
    found, spent = 0, dict.fromkeys(["files", *AREAS], 0.0)
    for done, seed in enumerate(range(arguments.seed, arguments.seed + arguments.count), 1):
        for sentence in apart(seed, arguments.most, arguments.only or tuple(AREAS), spent):
            found += 1
            print(sentence, flush=True)
        if done % 100 == 0 or done == arguments.count:
            shares = ", ".join(f"{area} {seconds:.0f} s" for area, seconds in spent.items())
            print(f"{done} rule files, {found} apart ({shares})", flush=True)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
