"""The roles of what comes next, against every analysis of every listed line."""

from __future__ import annotations

from collections import defaultdict
from functools import cache
from typing import Any

import pytest

from everyline.rules.analysis import analyses
from everyline.rules.line import Events
from everyline.solver.compiler import compile_rules
from everyline.solver.onward import Onward
from tests.spaces import TRIPLETS, TWO_FIVE_ONE, VAMP, rules
from tests.sweeps import sweep

FILLED: dict[str, Any] = {
    "changes": "Dm7 / G7 / | Cmaj7",
    "range": {"lowest": "C4", "highest": "C5"},
    "passing": {"kinds": ["scale", "chromatic"], "place": "any", "count": ["0-1"]},
    "approach": {"figures": ["chromatic-below", "enclosure-2"]},
    "rhythm": {"cells": ["8 8", "4", "r8 8"]},
    "ending": {"use": ["plain", "fall"]},
    "endings": TWO_FIVE_ONE["endings"],
}
SPACES: dict[str, dict[str, Any]] = {
    "two-five-one": TWO_FIVE_ONE,
    "triplets": TRIPLETS,
    "vamp": VAMP,
    "filled": FILLED,
}


@cache
def roles_of(name: str) -> dict[Events, set[str]]:
    """For every beginning of every line, the roles of its last note."""
    wanted = rules(SPACES[name])
    found: dict[Events, set[str]] = defaultdict(set)
    for line in compile_rules(wanted).walk():
        for analysis in analyses(wanted, line):
            for place, role in enumerate(analysis.roles):
                found[line[: place + 1]].add(role)
    return found


@pytest.mark.parametrize("name", SPACES)
def test_roles_are_those_of_all_analyses(name: str) -> None:
    wanted = rules(SPACES[name])
    onward = Onward(wanted, compile_rules(wanted))
    expected = roles_of(name)
    beginnings = sorted({line[:-1] for line in expected})
    for beginning in [(), *beginnings[:: max(1, len(beginnings) // sweep(small=40, full=150))]]:
        found = onward.roles(beginning)
        assert {(*beginning, event): set(roles) for event, roles in found.items()} == {
            line: roles for line, roles in expected.items() if line[:-1] == beginning
        }
