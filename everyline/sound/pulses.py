"""The pulse of a bar: what the accompaniment counts, how it is divided, and in which groups it goes.

A pulse is a quarter note in meters of quarters and halves, three eighths in 6/8, 9/8 and 12/8, and two or
three in the other meters of eighths (7/8 is 2 + 2 + 3). Groups are of two pulses or three: 4/4 is 2 + 2, 5/4
is 3 + 2. All common practice. Ticks are 480 a beat.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.meter import Meter
from everyline.rules.progression import Progression


@dataclass(frozen=True, slots=True)
class Pulse:
    """One pulse: ``start`` and ``ticks`` count from the bar line, ``parts`` is into how many it is divided.

    ``place`` is its place in its group, from 0, and ``size`` how many pulses that group has.
    """

    start: int
    ticks: int
    parts: int
    place: int
    size: int

    @property
    def end(self) -> int:
        """Where the pulse ends."""
        return self.start + self.ticks

    @property
    def upbeat(self) -> int:
        """Where its last part begins: halfway, or after two of three."""
        return self.end - self.ticks // self.parts


def bar_ticks(progression: Progression) -> int:
    """Ticks of a bar."""
    return progression.beats_per_bar * TICKS_PER_BEAT


def pulses(progression: Progression) -> tuple[Pulse, ...]:
    """The pulses of a bar, in order."""
    return _pulses(progression.meter, progression.subdivision == 3)


@lru_cache(maxsize=256)
def _pulses(meter: Meter, triplets: bool) -> tuple[Pulse, ...]:
    beats, unit = meter.beats, meter.unit
    if meter.dotted:
        ticks = [TICKS_PER_BEAT] * beats
    elif unit == 8:
        lengths = [3] * (beats // 3) if beats % 3 == 0 else _twos(beats)
        ticks = [length * TICKS_PER_BEAT for length in lengths]
    elif unit == 2:
        ticks = [TICKS_PER_BEAT // 2] * (2 * beats)
    else:
        ticks = [TICKS_PER_BEAT] * beats
    places = [(place, size) for size in _groups(len(ticks)) for place in range(size)]
    found: list[Pulse] = []
    for length, (place, size) in zip(ticks, places, strict=True):
        three = meter.dotted or length == 3 * TICKS_PER_BEAT or (unit == 4 and triplets)
        found.append(Pulse(found[-1].end if found else 0, length, 3 if three else 2, place, size))
    return tuple(found)


def _groups(count: int) -> list[int]:
    """So many pulses in twos and threes; 5 is 3 + 2, other odd bars end with the three."""
    if count == 1:
        return [1]
    if count % 3 == 0 and count != 12:
        return [3] * (count // 3)
    return [3, 2] if count == 5 else _twos(count)


def _twos(count: int) -> list[int]:
    """Twos, and a three at the end where the count is odd."""
    if count < 2:
        return [count]
    return [2] * (count // 2 - count % 2) + [3] * (count % 2)
