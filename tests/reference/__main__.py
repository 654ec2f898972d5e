"""Count or list from the command line: `python -m tests.reference FILE.toml [--list]`."""

from __future__ import annotations

import argparse
from pathlib import Path

from tests.reference.count import count
from tests.reference.result import solve


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.reference", description=__doc__)
    parser.add_argument("file", type=Path, help="a rule file")
    parser.add_argument(
        "--list", action="store_true", help='print every line in order, its notes as "tick:length:pitch"'
    )
    asked = parser.parse_args()
    text = asked.file.read_text(encoding="utf-8")
    if not asked.list:
        print(count(text))
        return
    for line in solve(text).lines:
        print(" ".join(f"{onset}:{length}:{pitch}" for onset, length, pitch in line))


if __name__ == "__main__":
    main()
