"""The engines and the plain checker against the reference, on random rule files with passing notes, cells and
the rest."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.contract.agreement import checker_apart, engines_apart
from tests.sweeps import sweep

MOST = 600


@pytest.mark.slow
@settings(max_examples=sweep(10, 60))
@given(seed=st.integers(0, 100_000))
def test_all_engines_list_what_the_reference_lists(seed: int) -> None:
    assert not engines_apart(seed, MOST)


@pytest.mark.slow
@settings(max_examples=sweep(10, 60))
@given(seed=st.integers(0, 100_000))
def test_the_checker_takes_the_lines_of_the_reference_and_no_others(seed: int) -> None:
    assert not checker_apart(seed, MOST)


@pytest.mark.parametrize("command", ["tests.contract", "tests.contract.answers"])
def test_the_command_for_many_of_them_runs(command: str) -> None:
    words = [sys.executable, "-m", command, "2", "--seed", "5", "--most", "40"]
    done = subprocess.run(words, cwd=Path(__file__).parents[2], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("2 rule files, 0 apart")
