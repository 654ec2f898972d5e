"""The mix, measured: the line in the middle, parts at levels of their own, loops without a gap, swing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.rules.annotate import AnnotatedLine
from everyline.rules.rulefile import parse_rules
from everyline.sound.audio import available, render
from everyline.sound.mix import KNEE, folded, printed
from everyline.sound.sound_options import PARTS, SECOND, SoundOptions
from everyline.spaces.space import Space
from tests.everyline.sound.measure import Signal, loudness, onsets
from tests.everyline.sound.sounding import pickups, two_five_one
from tests.handmade import handmade
from tests.spaces import CORPUS

synthesiser = pytest.mark.skipif(not available(), reason="no synthesiser on this machine")

LINE_ONLY = frozenset({"chords", "bass", "drums", "click"})


def heard(line: AnnotatedLine, *parts: str, **options: object) -> Signal:
    """What is heard of some parts up to the end of the last bar, full scale at 1."""
    mute = frozenset(PARTS) - set(parts)
    sound = render(line, SoundOptions(mute=mute, **{"count_in": 0, "tempi": (140,), **options}))  # type: ignore[arg-type]
    return np.asarray(sound.samples[: int(sound.performance.seconds * sound.rate)] / 32768)


@synthesiser
@pytest.mark.parametrize("instrument", CORPUS.instruments)
def test_every_instrument_is_in_the_middle_and_as_loud_as_the_others(instrument: str) -> None:
    rules = parse_rules(
        {"changes": "Dm7 | G7 | Cmaj7", "range": {"instrument": instrument}, "handoff": {"rule": "any"}},
        CORPUS,
    )
    signal = heard(Space(rules).sample(1, 4)[0], "line")
    left, right = (signal**2).mean(axis=0)
    assert abs(10 * np.log10(left / right)) < 1
    assert loudness(signal) == pytest.approx(-21.5, abs=2.5)


@synthesiser
def test_a_part_is_as_loud_whatever_else_is_heard() -> None:
    line = two_five_one()[3]
    together = heard(line, "line", "chords", "bass")
    apart = heard(line, "line") + heard(line, "chords", "bass")
    assert np.abs(together).max() < 1
    quiet = np.abs(apart) < KNEE
    assert quiet.mean() > 0.99
    # Each of the three is rounded to 16 bits.
    assert np.abs(together - apart)[quiet].max() < 3 / 32768


@synthesiser
def test_two_players_stand_a_little_apart_each_as_loud_as_the_other() -> None:
    """Two decibels to a side; the right one alone is in the middle again."""
    first, second = two_five_one()[3], two_five_one()[40]
    alone = {}
    for muted in (set[str](), {"line"}, {SECOND}):
        options = SoundOptions(mute=frozenset(PARTS) - {"line", SECOND} | muted, count_in=0, tempi=(140,))
        sound = render(first, options, [second])
        alone[frozenset(muted)] = (sound.samples[: int(sound.performance.seconds * sound.rate)] / 32768).T
    left, right = alone[frozenset()]
    one, two = alone[frozenset({SECOND})][0], alone[frozenset({"line"})][0]
    assert np.abs(left - (one + 0.8 * two)).max() < 3 / 32768
    assert np.abs(right - (0.8 * one + two)).max() < 3 / 32768
    assert np.abs(one).max() > 0.1 < np.abs(two).max()


@synthesiser
def test_every_part_is_in_the_middle_and_the_line_stands_out() -> None:
    line = two_five_one()[3]
    melody = loudness(heard(line, "line"))
    for part, below in (("chords", 3), ("bass", 0), ("drums", 4)):
        signal = heard(line, part)
        left, right = (signal**2).mean(axis=0)
        assert abs(10 * np.log10(left / right)) < 1, part
        # Heard, and not in the way.
        assert melody - 15 < loudness(signal) < melody - below, part


@synthesiser
def test_the_count_in_is_as_loud_as_the_line() -> None:
    line = two_five_one()[3]
    sound = render(line, SoundOptions(tempi=(120,), count_in=2))
    signal = np.abs(sound.samples.mean(axis=1)) / 32768
    beat = sound.rate // 2
    clicks = [signal[round(at * beat) : round(at * beat) + beat // 2].max() for at in range(8)]
    body = signal[8 * beat : 8 * beat + 4 * beat].max()
    # One, two, one two three four: the 1 the strongest, nothing on the beats between.
    assert all(clicks[at] > body / 4 for at in (0, 2, 4, 5, 6, 7))
    assert clicks[1] < body / 50 and clicks[3] < body / 50
    assert min(clicks[0], clicks[4]) > max(clicks[2], clicks[5], clicks[7])


@given(st.integers(0, 50), st.integers(1, 30), st.integers(1, 90))
def test_a_fold_lays_everything_where_it_is_heard_again(start: int, period: int, length: int) -> None:
    sound = np.arange(2 * length, dtype=np.float32).reshape(-1, 2) + 1
    expected = np.zeros((period, 2))
    for place in range(length):
        expected[(place - start) % period] += sound[place]
    assert np.array_equal(folded(sound, start, period), expected)


def test_nothing_is_cut_off() -> None:
    loud = np.linspace(-3, 3, 1001, dtype=np.float32)[:, None].repeat(2, axis=1)
    out = printed(loud).astype(int)
    assert (np.diff(out[:, 0]) >= 0).all() and np.abs(out).max() <= 32767
    kept = np.abs(loud[:, 0]) <= KNEE
    assert np.abs(out[kept, 0] - loud[kept, 0] * 32767).max() <= 0.51


@synthesiser
@pytest.mark.parametrize("kind", ["line", "pickup"])
def test_a_loop_is_as_long_as_its_bars_and_goes_on_without_a_gap(kind: str) -> None:
    line = two_five_one()[3]
    if kind == "pickup":
        line = next(each for each in pickups().sample(50, 2) if each.notes[0].onset == -720)
    sound = render(line, SoundOptions(tempi=(150,), loop=True, count_in_each=False))
    rate, bars = sound.rate, sound.performance.passes[0].bars
    assert len(sound.samples) == round(bars * 4 * 60 / 150 * rate)
    # Twice over it is what two times round sound like, from the second on: no jump where they meet.
    twice = np.concatenate([sound.samples, sound.samples]).astype(int)
    seam = len(sound.samples)
    inside = np.abs(np.diff(twice[:seam], axis=0)).max()
    assert np.abs(twice[seam] - twice[seam - 1]).max() <= inside
    assert np.abs(sound.samples[-rate // 100 :].astype(int)).max() > 50, "it does not die away"


# 1.7 at 120 and below, 1.3 at 200, 1 at 300: the figures and their sources stand in everyline.sound.swing.
@synthesiser
@pytest.mark.parametrize(("tempo", "ratio"), [(80, 1.7), (120, 1.7), (160, 1.5), (200, 1.3), (240, 1.18)])
def test_swing_as_it_is_heard_follows_the_published_figures(tempo: int, ratio: float) -> None:
    line = handmade(
        "D4 D5 D4 D5 D4 D5 D4 D5 D4 D5 D4 D5 D4:4", "Dm7 | G7", range={"instrument": "vibraphone"}
    )
    measured = onsets(line, SoundOptions(tempi=(tempo,), mute=LINE_ONLY, count_in=0))
    gaps = np.diff([start for _, start in measured])
    assert gaps[::2].mean() / gaps[1::2].mean() == pytest.approx(ratio, rel=0.05)


@synthesiser
def test_accents_are_heard() -> None:
    line = handmade(
        "D4 F4 D4 F4 D4 F4 D4 F4 D4 F4 D4 A4 D4:4", "Dm7 | G7", range={"instrument": "vibraphone"}
    )
    sound = render(line, SoundOptions(tempi=(100,), mute=LINE_ONLY, count_in=0, swing="straight"))
    signal = sound.samples.mean(axis=1)
    step = round(0.3 * sound.rate)
    levels = [np.abs(signal[place * step : place * step + step // 2]).max() for place in range(12)]
    beats, offbeats = np.mean(levels[2:10:2]), np.mean(levels[1:10:2])
    assert 1 < 20 * np.log10(offbeats / beats) < 6
