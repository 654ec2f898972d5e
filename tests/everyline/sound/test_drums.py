"""The drums: patterns that fit the meter, all common practice, and the ride's own swing as it is heard."""

from __future__ import annotations

from collections import Counter

import pytest

from everyline.rules.progression import Progression, parse_progression
from everyline.sound.audio import available
from everyline.sound.drums import (
    BASS_DRUM,
    CLOSED_HAT,
    FOOT_HAT,
    RIDE,
    SIDE_STICK,
    SNARE,
    SWEEP,
    hits,
)
from everyline.sound.feels import FEELS, fitting
from everyline.sound.performance import perform
from everyline.sound.pulses import bar_ticks, pulses
from everyline.sound.sound_options import SoundOptions
from everyline.sound.swing import cymbal_ratio_at
from tests.everyline.sound.measure import stroke_onsets
from tests.everyline.sound.sounding import pickups, two_five_one

METERS = [f"{beats}/{unit}" for unit in (2, 4, 8) for beats in range(1, 16)]


def form(meter: str, subdivision: int = 2) -> Progression:
    return parse_progression("Dm7 | G7 | Cmaj7 | %", meter, subdivision)


def struck(progression: Progression, feel: str, key: int, bars: int = 1, seed: int = 0) -> list[float]:
    """The beats, counted from 1 as musicians do, on which a key is struck."""
    found = hits(progression, range(bars), FEELS[feel], 120, False, seed)
    return [1 + hit.tick / 480 for hit in found if hit.key == key]


@pytest.mark.parametrize("meter", METERS)
def test_patterns_fit_the_meter(meter: str) -> None:
    progression = form(meter)
    there = pulses(progression)
    grid = {pulse.start + part * pulse.ticks // pulse.parts for pulse in there for part in range(pulse.parts)}
    for feel in set(fitting(progression)) - {"plain"}:
        for seed in range(4):
            played = list(hits(progression, range(4), FEELS[feel], 120, False, seed))
            assert len({(hit.tick, hit.key) for hit in played}) == len(played), "no key twice at once"
            assert {hit.tick % bar_ticks(progression) for hit in played} <= grid
            times = {hit.tick for hit in played if hit.key in (RIDE, CLOSED_HAT, SWEEP)}
            for bar in range(4):
                assert {bar * bar_ticks(progression) + pulse.start for pulse in there} <= times
            assert all(1 <= hit.velocity <= 127 for hit in played)
            low = Counter(hit.tick // bar_ticks(progression) for hit in played if hit.key == BASS_DRUM)
            assert set(low) == set(range(4)), "every bar has its 1"
            for hit in played:
                if hit.key == FOOT_HAT:
                    at = [p for p in there if p.start == hit.tick % bar_ticks(progression)]
                    assert [p.place for p in at] == [1], "the backbeat of a group"


def test_swing_as_it_is_taught() -> None:
    assert sorted(struck(form("4/4"), "swing", RIDE)) == [1, 2, 2.5, 3, 4, 4.5]
    assert struck(form("4/4"), "swing", FOOT_HAT) == [2, 4]
    assert sorted(struck(form("3/4"), "waltz", RIDE)) == [1, 2, 2.5, 3]
    assert struck(form("3/4"), "waltz", FOOT_HAT) == [2]
    assert struck(form("3/4"), "waltz", BASS_DRUM) == [1]
    triplets = struck(form("4/4", 3), "swing", RIDE)
    assert sorted(triplets) == pytest.approx([1, 2, 2 + 2 / 3, 3, 4, 4 + 2 / 3])


def test_bossa_as_it_is_taught() -> None:
    assert struck(form("4/4"), "bossa", SIDE_STICK, 2) == [1, 2.5, 4, 6, 7.5]
    assert sorted(struck(form("4/4"), "bossa", BASS_DRUM)) == [1, 2.5, 3, 4.5]
    assert sorted(struck(form("4/4"), "bossa", CLOSED_HAT)) == [1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5]


def test_ballads_and_meters_of_eighths_as_they_are_taught() -> None:
    assert struck(form("4/4"), "ballad", SWEEP) == [1, 2, 3, 4]
    assert struck(form("4/4"), "ballad", SNARE) == [2, 4]
    assert sorted(struck(form("12/8"), "eighths", CLOSED_HAT)) == list(range(1, 13))
    assert struck(form("12/8"), "eighths", SNARE) == [4, 10]
    assert struck(form("12/8"), "eighths", BASS_DRUM) == [1, 7]
    assert struck(form("6/8"), "eighths", SNARE) == [4]
    assert struck(form("7/8"), "eighths", SNARE) == [5]


def test_a_seed_leaves_out_upbeats_of_the_ride_and_nothing_else() -> None:
    whole = set(hits(form("4/4"), range(32), FEELS["swing"], 120, False, 0))
    drawn = set(hits(form("4/4"), range(32), FEELS["swing"], 120, False, 5))
    assert drawn < whole
    assert {(hit.key, hit.tick % 480) for hit in whole - drawn} == {(RIDE, 240)}


def test_a_plain_backing_has_no_drums_and_muted_drums_are_silent() -> None:
    line = two_five_one()[0]
    for options in (SoundOptions(feel="plain"), SoundOptions(mute=frozenset({"drums"}))):
        assert not [note for note in perform(line, options).passes[0].notes if note.part == "drums"]


def test_drums_wait_for_the_count_in_and_keep_time_under_a_pickup_of_a_loop() -> None:
    line = next(line for line in pickups().sample(50, 2) if line.notes[0].onset == -720)
    (counted,) = perform(line, SoundOptions(count_in=1)).passes
    (alone,) = perform(line, SoundOptions(count_in=0)).passes
    assert min(note.start for note in counted.notes if note.part == "drums") == 0
    assert min(note.start for note in alone.notes if note.part == "drums") == -4
    assert not [note for note in alone.notes if note.part == "click"]


# Friberg and Sundström 2002 (Music Perception 19:333): the ride's short note lasts about a tenth of a second
# at medium and fast tempi; 3.5:1 at slow tempi, 1:1 at fast ones.
CYMBAL = [(80, 3.5), (120, 3.5), (160, 2.75), (200, 2.0), (240, 1.5), (300, 1.0), (400, 1.0)]


@pytest.mark.parametrize(("tempo", "ratio"), CYMBAL)
def test_the_published_figures_of_the_cymbal(tempo: float, ratio: float) -> None:
    assert cymbal_ratio_at(tempo) == pytest.approx(ratio)


@pytest.mark.skipif(not available(), reason="no synthesiser on this machine")
@pytest.mark.parametrize(("tempo", "ratio"), CYMBAL[:5])
def test_the_ride_as_it_is_heard_follows_the_published_figures(tempo: float, ratio: float) -> None:
    options = SoundOptions(tempi=(tempo,), feel="swing", count_in=0, seed=0)
    _, two, upbeat, three = stroke_onsets(two_five_one()[0], options, RIDE, 4)
    assert (upbeat - two) / (three - upbeat) == pytest.approx(ratio, rel=0.05)
