"""How long the program takes to start and count."""

from __future__ import annotations

import sys

from benchmarks.measure import Spread, in_a_process, ratio
from benchmarks.report import Section, Table

COMMAND = ["-m", "everyline.cli.main", "count", "--changes", "Dm7 | G7 | Cmaj7", "--start", "D4"]
WORDS = """
`everyline count` on a ii-V-I with every default and a start note, from process start to end, beside a Python
that does nothing.
""".strip()


def section(quick: bool) -> Section:
    """Measure."""
    ours: list[float] = []
    bare: list[float] = []
    for _ in range(3 if quick else 5):
        bare.append(in_a_process([sys.executable, "-c", "pass"])[0])
        ours.append(in_a_process([sys.executable, *COMMAND])[0])
    rows = (
        ("Python alone", Spread.of(bare).seconds(), "1"),
        ("everyline count", Spread.of(ours).seconds(), ratio(ours, bare).times()),
    )
    return Section("Start-up", WORDS, (Table(("", "processor time", "ratio"), rows),))
