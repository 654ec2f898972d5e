"""Engines and plain checker against the reference, on random rule files in beats of a dotted quarter."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.contract.agreement import checker_apart, engines_apart
from tests.sweeps import sweep

MOST = 300


@pytest.mark.slow
@settings(max_examples=sweep(2, 60))
@given(seed=st.integers(0, 100_000))
def test_engines_checker_and_reference_agree(seed: int) -> None:
    assert not engines_apart(seed, MOST, dotted=True)
    assert not checker_apart(seed, MOST, dotted=True)
