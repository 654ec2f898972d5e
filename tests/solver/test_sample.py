"""Uniform samples: distinct, the same for a seed, and uniform by a test with a stated threshold."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.solver.sample import sample_numbers


@given(count=st.integers(0, 60), most=st.integers(0, 80), seed=st.integers(0, 2**40))
def test_a_sample_is_distinct_numbers_of_the_range(count: int, most: int, seed: int) -> None:
    drawn = list(sample_numbers(count, most, seed))
    assert len(drawn) == len(set(drawn)) == min(count, most)
    assert all(1 <= number <= count for number in drawn)


@given(count=st.integers(1, 10**40), seed=st.integers(0, 2**40))
def test_a_shorter_sample_begins_a_longer_one(count: int, seed: int) -> None:
    assert list(sample_numbers(count, 5, seed)) == list(sample_numbers(count, 50, seed))[:5]


def test_the_stream_of_a_seed_is_written_down() -> None:
    """These numbers may never change: a drill set names its lines by seed."""
    assert list(sample_numbers(10**12, 4, 2024)) == [199587519879, 638783031134, 220347934250, 798379866794]


def test_seeds_differ() -> None:
    assert len({tuple(sample_numbers(10**12, 3, seed)) for seed in range(50)}) == 50


@pytest.mark.parametrize("place", [0, 1, 3])
def test_every_number_is_as_likely_at_every_place(place: int) -> None:
    """Pearson's chi-square over 12 numbers, 11 degrees of freedom: 31.26 is exceeded once in a thousand (the
    0.999 quantile, NIST/SEMATECH e-Handbook of Statistical Methods, table of critical values). The seeds are
    fixed, so the test gives one answer for ever.
    """
    draws = 6000
    seen = Counter(list(sample_numbers(12, 4, seed))[place] for seed in range(draws))
    expected = draws / 12
    assert sum((seen[number] - expected) ** 2 / expected for number in range(1, 13)) < 31.26
