"""Counts of large spaces against the plain reference, which is written from the rule book alone."""

from __future__ import annotations

from typing import Any

import pytest

from everyline.corpora import load
from everyline.rules.rulefile import parse_rules
from everyline.solver.compiler import compile_rules
from tests.reference.count import count as count_plainly
from tests.spaces import TWO_FIVE_ONE
from tests.sweeps import sweep

FOUR_FIGURES = {"figures": ["enclosure-2", "enclosure-3", "chromatic-below", "diatonic-above"]}
EIGHT_BARS = "Cmaj7 Am7 | Dm7 G7 | Em7 A7 | Dm7 G7 | Cmaj7 C7 | Fmaj7 Fm7 | Em7 A7 | Dm7 G7"
BRIDGE = "Em7b5 | A7b9 | Dm7 | % | Fm7 | Bb7 | Ebmaj7 | Dm7 G7"

SPACES: dict[str, tuple[dict[str, Any], int]] = {
    "two-five-one": (TWO_FIVE_ONE, 10**3),
    "every default": ({"changes": "Dm7 | G7 | Cmaj7"}, 10**6),
    "twelve bars": (
        {
            "changes": "C7 | F7 | C7 | C7 | F7 | F7 | C7 | A7 | Dm7 | G7 | C7 | G7",
            "range": {"lowest": "G3", "highest": "G5"},
            "approach": FOUR_FIGURES,
            "ending": {"use": ["plain"]},
        },
        10**20,
    ),
    "thirty-two bars": (
        {
            "changes": f"{EIGHT_BARS} | {EIGHT_BARS} | {BRIDGE} | {EIGHT_BARS} | Cmaj7",
            "range": {"lowest": "E3", "highest": "E5"},
            "approach": FOUR_FIGURES,
            "ending": {"use": ["plain"]},
        },
        10**60,
    ),
}


@pytest.mark.parametrize("name", list(SPACES)[: sweep(small=3, full=4)])
def test_the_diagram_counts_like_the_reference(name: str) -> None:
    tables, least = SPACES[name]
    rules = parse_rules(tables, load())
    count = compile_rules(rules).count
    assert count > least
    assert count == count_plainly(tables)
