"""Every answer about random rule files against the reference; a large run is ``python -m
tests.contract.answers``."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from tests.contract.answers.areas import AREAS, apart
from tests.contract.answers.case import Case, random_case
from tests.reference.result import Result
from tests.sweeps import sweep_size

MOST = 60
SEEDS = {"small": (20,), "full": range(1, 101)}


@pytest.mark.slow
@pytest.mark.parametrize("seed", SEEDS[sweep_size()])
def test_every_answer_is_that_of_the_reference(seed: int) -> None:
    assert not list(apart(seed, MOST, AREAS))


@cache
def halved(seed: int) -> Case:
    """A rule file of whose lines the reference has every other one."""
    whole = random_case(seed, MOST)
    kept = {line: whole.result.analyses(line) for line in whole.lines[::2]}
    return replace(whole, result=Result(whole.result.rules, kept))


@pytest.mark.slow
@pytest.mark.parametrize("area", AREAS)
def test_lines_that_the_reference_lacks_are_noticed(area: str) -> None:
    assert any(list(AREAS[area](halved(seed))) for seed in range(10, 40))
