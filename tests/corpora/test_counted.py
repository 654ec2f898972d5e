"""Singular and plural in messages: one helper, and no message beside it that says "1 lines"."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from everyline.corpora.counted import only, plural

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (0, "0 beats"), (1, "1 beat"), (2, "2 beats"), (-1, "-1 beats"), (1.0, "1 beat"), (0.5, "0.5 beats"),
        (8 / 3, "2.67 beats"), (1000, "1000 beats"), (1234.5, "1234.5 beats"), (10**30, f"{10**30} beats"),
    ],
)  # fmt: skip
def test_one_is_singular(number: float, said: str) -> None:
    assert plural(number, "beat") == said


def test_irregular_plurals_are_given() -> None:
    assert plural(1, "chorus", "choruses") == "1 chorus"
    assert plural(3, "chorus", "choruses") == "3 choruses"
    assert only(1, "line") == "there is only 1 line"
    assert only(2, "line") == "there are only 2 lines"


def test_nobody_forms_plurals_by_hand() -> None:
    """An s that hangs on a condition would be a second helper."""
    by_hand = re.compile(r"""['"]s['"] (?:if|\*)|else ['"]s['"]""")
    found = [
        f"{path.relative_to(ROOT)}: {line.strip()}"
        for folder in ("corpora", "rules", "solver", "everyline")
        for path in sorted((ROOT / folder).rglob("*.py"))
        for line in path.read_text(encoding="utf-8").splitlines()
        if by_hand.search(line)
    ]
    assert not found
