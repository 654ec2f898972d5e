"""The drums: what the kit plays in each feel. The patterns are common practice.

Keys are those of the percussion map of General MIDI; with the brush kit of Level 2 the snare drum is tapped
and swept. Ticks are 480 a beat, before swing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from everyline.rules.progression import Progression
from everyline.sound.drawn import drawn
from everyline.sound.feels import BALLAD, BOSSA, EIGHTHS, SWING, WALTZ, Feel
from everyline.sound.pulses import Pulse, bar_ticks, pulses

BASS_DRUM, SIDE_STICK, SNARE, SWEEP, CLOSED_HAT, FOOT_HAT, RIDE = 36, 37, 38, 40, 42, 44, 51
FASTEST_FEATHERED = 220.0
"""Pulses a minute up to which the bass drum is played softly on every one."""
SKIPS = ((True, True), (True, True), (True, True), (False, True), (True, False), (False, False))
"""In which groups of a bar the ride has its upbeat: the first and those that follow."""
CLAVE = ((0.0, 1.5, 3.0), (1.0, 2.5))
"""The side stick of the bossa in the two bars of its pattern, in pulses."""


@dataclass(frozen=True, slots=True)
class Hit:
    """One stroke: tick from bar 1, key of the percussion map, MIDI velocity."""

    tick: int
    key: int
    velocity: int


def hits(
    progression: Progression, bars: range, feel: Feel, tempo: float, closing: bool, seed: int
) -> Iterator[Hit]:
    """What the drums play in some bars, counted from 0; nothing in a feel without drums.

    ``tempo`` is in beats a minute. A ``closing`` last bar has one stroke on 1; ``seed`` draws where the ride
    leaves its upbeats out.
    """
    pattern = _PATTERNS.get(feel.name)
    if pattern is None:
        return
    there = pulses(progression)
    pace = tempo * progression.beats_per_bar / len(there)
    for bar in bars:
        line = bar * bar_ticks(progression)
        if closing and bar == bars[-1]:
            yield Hit(line, RIDE, 76)
            yield Hit(line, BASS_DRUM, 54)
            continue
        for tick, key, velocity in pattern(there, bar, pace, drawn(seed, line, "ride")):
            yield Hit(line + tick, key, velocity)


_Stroke = tuple[int, int, int]


def _swing(there: tuple[Pulse, ...], bar: int, pace: float, draw: int) -> Iterator[_Stroke]:
    """Ride on every pulse, its upbeat after the second of each group, hi-hat by foot there."""
    feathered = pace <= FASTEST_FEATHERED and there[0].size != 3
    for pulse in there:
        second = pulse.place == 1
        yield pulse.start, RIDE, 82 if second else 74
        if second:
            yield pulse.start, FOOT_HAT, 84
            if SKIPS[draw % len(SKIPS)][pulse.start > there[1].start]:
                yield pulse.upbeat, RIDE, 62
        if feathered or pulse.place == 0:
            yield pulse.start, BASS_DRUM, 40 if pulse.place == 0 else 32


def _ballad(there: tuple[Pulse, ...], bar: int, pace: float, draw: int) -> Iterator[_Stroke]:
    """Brushes swept on every pulse, tapped on the second of each group, hi-hat by foot there."""
    for pulse in there:
        second = pulse.place == 1
        yield pulse.start, SWEEP, 76 if second else 84
        if second:
            yield pulse.start, SNARE, 66
            yield pulse.start, FOOT_HAT, 76
    yield 0, BASS_DRUM, 36
    if draw % 3 == 2:
        yield there[-1].upbeat, SNARE, 36


def _bossa(there: tuple[Pulse, ...], bar: int, pace: float, draw: int) -> Iterator[_Stroke]:
    """Closed hi-hat in even eighths, bass drum on 1, 2&, 3 and 4&, the side stick in two bars of pattern."""
    for number, pulse in enumerate(there):
        yield pulse.start, CLOSED_HAT, 86
        yield pulse.upbeat, CLOSED_HAT, 70
        if number % 2 == 0:
            yield pulse.start, BASS_DRUM, 58
        else:
            yield pulse.upbeat, BASS_DRUM, 44
    for first in range(0, len(there), 4):
        for place in CLAVE[(bar * len(there) // 4 + first // 4) % 2]:
            yield _at(there, first + place), SIDE_STICK, 66


def _eighths(there: tuple[Pulse, ...], bar: int, pace: float, draw: int) -> Iterator[_Stroke]:
    """Closed hi-hat on every eighth, bass drum where a group begins, the snare softly where it answers."""
    for pulse in there:
        step = pulse.ticks // pulse.parts
        for part in range(pulse.parts):
            yield pulse.start + part * step, CLOSED_HAT, 76 if part else 96
        if pulse.place == 0:
            yield pulse.start, BASS_DRUM, 58
        elif pulse.place == pulse.size - 1:
            yield pulse.start, SNARE, 54


def _at(there: tuple[Pulse, ...], place: float) -> int:
    """Tick of a place in pulses, with .5 for an upbeat."""
    pulse = there[int(place)]
    return pulse.upbeat if place % 1 else pulse.start


_PATTERNS: dict[str, Callable[[tuple[Pulse, ...], int, float, int], Iterator[_Stroke]]] = {
    SWING: _swing,
    WALTZ: _swing,
    BALLAD: _ballad,
    BOSSA: _bossa,
    EIGHTHS: _eighths,
}
