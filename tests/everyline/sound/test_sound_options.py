"""What a player may choose, and what is refused."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.corpora.errors import InputError
from everyline.sound.sound_options import SoundOptions, ladder, practice_tempo


@pytest.mark.parametrize(
    ("choice", "message"),
    [
        ({"tempi": ()}, "0 tempi; allowed are 1 to 50"),
        ({"tempi": (500,)}, "tempo 500; allowed are 30 to 400"),
        ({"swing": "strait"}, 'Did you mean "straight"'),
        ({"count_in": 5}, "count-in 5; allowed are 0 to 4 bars"),
        ({"repeats": 0}, "repeats 0; allowed are 1 to 100"),
        ({"bass": "walkin"}, 'Did you mean "walking"'),
        ({"click": "backbeats"}, 'Did you mean "backbeat"'),
        ({"mute": frozenset({"base"})}, 'Did you mean "bass"'),
        ({"program": 0}, "program 0; allowed are 1 to 128"),
    ],
)
def test_a_wrong_choice_says_what_is_allowed(choice: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message):
        SoundOptions(**choice)


def test_equal_choices_are_equal_values() -> None:
    assert SoundOptions(tempi=(120,), swing="2:1") == SoundOptions(tempi=(120.0,), swing=2.0)


def test_slow_medium_and_full() -> None:
    assert [practice_tempo(step, 200) for step in ("slow", "medium", "full")] == [100, 150, 200]
    assert practice_tempo("slow", 40) == 30
    with pytest.raises(InputError, match="slow, medium, full"):
        practice_tempo("presto", 120)


@given(st.integers(30, 400), st.integers(30, 400), st.integers(2, 50))
def test_a_ladder_goes_from_end_to_end_one_way(first: int, last: int, steps: int) -> None:
    tempi = ladder(first, last, steps)
    assert len(tempi) == steps
    assert (tempi[0], tempi[-1]) == (first, last)
    assert list(tempi) == sorted(tempi, reverse=first > last)
    assert SoundOptions(tempi=tempi).tempi == tempi


def test_a_ladder_by_hand() -> None:
    assert ladder(60, 120, 4) == (60, 80, 100, 120)
