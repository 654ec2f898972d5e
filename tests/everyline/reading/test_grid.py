"""Times brought back to what was meant, against times made loose or swung on purpose."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from everyline.reading.grid import fit


def swung(tick: int, ratio: float) -> float:
    """Where a tick sounds, in beats: the first half of a beat takes ratio / (1 + ratio) of it."""
    beat, part = divmod(tick / 480, 1)
    middle = ratio / (1 + ratio)
    return beat + (part * 2 * middle if part <= 0.5 else middle + (part - 0.5) * 2 * (1 - middle))


@given(st.floats(1.25, 3.5), st.lists(st.floats(-0.03, 0.03), min_size=16, max_size=16), st.integers(-2, 4))
def test_swung_and_loose_eighths_come_back_even(ratio: float, loose: list[float], first: int) -> None:
    ticks = [240 * (first + place) for place in range(16)]
    played = [swung(tick, ratio) + by for tick, by in zip(ticks, loose, strict=True)]
    found = fit(played, 2, swings=True)
    assert list(found.onsets) == ticks
    assert abs(found.ratio / ratio - 1) < 0.3
    assert found.loosest <= 0.15


@given(st.lists(st.floats(-0.08, 0.08), min_size=16, max_size=16))
def test_loose_straight_eighths_stay_straight(loose: list[float]) -> None:
    played = [place / 2 + by for place, by in enumerate(loose)]
    found = fit(played, 2, swings=False)
    assert list(found.onsets) == [240 * place for place in range(16)]
    assert found.ratio == 1
    assert abs(found.loosest - max(map(abs, loose))) < 1e-9


@given(st.sampled_from([2, 3, 4]), st.integers(0, 40))
def test_exact_times_are_kept(subdivision: int, first: int) -> None:
    step = 480 // subdivision
    ticks = [step * (first + place) for place in range(12)]
    found = fit([tick / 480 for tick in ticks], subdivision, swings=True)
    assert list(found.onsets) == ticks
    assert found.ratio == 1
    assert found.loosest < 1e-9


def test_triplets_and_sixteenths_among_eighths_are_kept() -> None:
    ticks = [0, 240, 480, 720, 960, 1120, 1280, 1440, 1560, 1680, 1800, 1920]
    assert list(fit([tick / 480 for tick in ticks], 2, swings=True).onsets) == ticks


def test_a_triplet_between_swung_eighths_stays_a_triplet() -> None:
    """A swung pair at 3:1 lies at 0 and 0.75; a triplet at 0, 0.33 and 0.67."""
    played = [0, 0.75, 1, 1.75, 2, 2 + 1 / 3, 2 + 2 / 3, 3, 3.75, 4]
    assert list(fit(played, 2, swings=True).onsets) == [0, 240, 480, 720, 960, 1120, 1280, 1440, 1680, 1920]


def test_sixteenths_between_swung_eighths_stay_sixteenths() -> None:
    played = [0, 0.6, 1, 1.5, 1.75, 2, 2.75, 3, 3.25, 3.5, 3.75, 4, 4.6, 5]
    ticks = [0, 240, 480, 720, 840, 960, 1320, 1440, 1560, 1680, 1800, 1920, 2160, 2400]
    assert list(fit(played, 2, swings=True).onsets) == ticks


def test_eighths_written_as_triplet_quarter_and_eighth_are_swing() -> None:
    played = [beat + part for beat in range(4) for part in (0, 2 / 3)]
    found = fit(played, 2, swings=True)
    assert list(found.onsets) == [240 * place for place in range(8)]
    assert abs(found.ratio - 2) < 1e-9


def test_in_a_meter_of_eighths_nothing_swings() -> None:
    played = [0, 0.62, 1, 1.62, 2, 2.62]
    assert fit(played, 2, swings=False).ratio == 1
