"""The swing map: the curve, what swings, what stays."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.corpora.errors import InputError
from everyline.rules.rulefile import parse_rules
from everyline.sound.swing import (
    FASTEST,
    LARGEST_RATIO,
    SLOWEST,
    SwingMap,
    parse_swing,
    ratio_at,
    swing_map,
    swing_ratio,
)
from everyline.spaces.space import Space
from tests.handmade import handmade
from tests.spaces import CORPUS, PICKUPS

TEMPI = st.floats(SLOWEST, FASTEST)


# Corcoran and Frieler 2021 (Music Perception 38:372), 456 solos: typically 1.3:1, more at slow and moderate
# tempi. Friberg and Sundström 2002 (Music Perception 19:333): soloists far below the cymbal's 3.5:1 at slow
# tempi, even eighths at fast ones. 1.5 to 1.7 at medium tempi is common practice; lines between are ours.
@pytest.mark.parametrize(
    ("tempo", "ratio"), [(60, 1.7), (120, 1.7), (160, 1.5), (200, 1.3), (250, 1.15), (300, 1.0), (400, 1.0)]
)
def test_the_published_figures(tempo: float, ratio: float) -> None:
    assert ratio_at(tempo) == pytest.approx(ratio)


@given(TEMPI, TEMPI)
def test_the_ratio_never_rises_with_the_tempo(one: float, other: float) -> None:
    slow, fast = sorted((one, other))
    assert 1.7 >= ratio_at(slow) >= ratio_at(fast) >= 1


@given(TEMPI, st.floats(1, LARGEST_RATIO), st.integers(-4000, 40000), st.integers(1, 4000))
def test_time_moves_forward_and_beats_stay(tempo: float, ratio: float, tick: int, more: int) -> None:
    timing = SwingMap(tempo, ratio, frozenset({2, -1}))
    assert timing.seconds(tick) < timing.seconds(tick + more)
    assert timing.beats(tick - tick % 480) == (tick - tick % 480) / 480


@given(TEMPI, st.integers(-10, 200))
def test_a_swung_upbeat_divides_the_beat_by_the_ratio(tempo: float, beat: int) -> None:
    timing = SwingMap(tempo, 2.0)
    assert timing.beats(480 * beat + 240) == pytest.approx(beat + 2 / 3)
    assert SwingMap(tempo).beats(480 * beat + 240) == beat + 0.5


@pytest.mark.parametrize(
    ("meter", "subdivision", "swung"),
    [
        ((4, 4), 2, True),
        ((3, 4), 2, True),
        ((4, 4), 3, False),
        ((4, 4), 4, False),
        ((6, 8), 2, False),
        ((2, 2), 2, False),
    ],
)
def test_only_eighths_of_quarter_beats_swing(meter: tuple[int, int], subdivision: int, swung: bool) -> None:
    changes = {"changes": "Dm7 | G7 | Cmaj7", "meter": f"{meter[0]}/{meter[1]}", "subdivision": subdivision}
    rules = parse_rules(changes, CORPUS)
    assert (swing_ratio(rules, 200, 2.0) > 1) is swung
    assert swing_ratio(rules, 200, "straight") == 1


def test_a_beat_of_triplets_is_played_as_written() -> None:
    rules = parse_rules({**PICKUPS, "ending": {"use": ["triplets"]}}, CORPUS)
    line = Space(rules)[0]
    timing = swing_map(line, 120, 3.0)
    triplets = [note for note in line.notes if note.length == 160]
    assert len(triplets) == 3
    assert [timing.beats(note.onset) for note in triplets] == [note.onset / 480 for note in triplets]
    upbeats = [note for note in line.notes if note.onset % 480 == 240]
    assert upbeats
    assert all(timing.beats(note.onset) == (note.onset - 240) / 480 + 0.75 for note in upbeats)


def test_sixteenths_and_triplets_stay_where_they_are_written_and_eighths_beside_them_swing() -> None:
    text = "D4 F4 A4:8 G4:16 F4:16 E4:8t F4:8t G4:8t A4:8. B4:16 | C5 r8 D5:4. C5 B4:4t G4:8t E4:4."
    timing = swing_map(handmade(text), 120, 2.0)
    played = [timing.beats(tick) for tick in (0, 240, 480, 720, 840, 960, 1120, 1280, 1440, 1800, 1920, 2160)]
    written = [0, 2 / 3, 1, 1.5, 1.75, 2, 2 + 1 / 3, 2 + 2 / 3, 3, 3.75, 4, 4 + 2 / 3]
    assert played == pytest.approx(written)


def test_a_note_held_over_beats_ends_with_the_swing() -> None:
    timing = swing_map(handmade("D4:4. F4:8 A4:2"), 120, 2.0)
    assert timing.beats(720) == pytest.approx(1 + 2 / 3)


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("by-tempo", "by-tempo"),
        ("straight", "straight"),
        ("2:1", 2.0),
        ("1.5", 1.5),
        (1.3, 1.3),
        (" 3.5:1 ", 3.5),
    ],
)
def test_swing_as_a_user_writes_it(written: str | float, read: str | float) -> None:
    assert parse_swing(written) == read


@pytest.mark.parametrize("written", ["strait", "4:1", "0.5", "2:3", ""])
def test_what_is_no_swing_is_refused_with_what_is_allowed(written: str) -> None:
    with pytest.raises(InputError, match="by-tempo, straight, or a ratio"):
        parse_swing(written)


def test_a_near_miss_is_named() -> None:
    with pytest.raises(InputError, match='Did you mean "straight"'):
        parse_swing("strait")


@pytest.mark.parametrize("tempo", [0, 29.9, 401, -120, float("nan")])
def test_a_tempo_that_cannot_be_played_is_refused(tempo: float) -> None:
    with pytest.raises(InputError, match="allowed are 30 to 400"):
        ratio_at(tempo)
