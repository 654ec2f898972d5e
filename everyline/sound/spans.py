"""The chords of a progression cut at the bar lines: what an accompaniment plays one after another."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from everyline.rules.progression import Progression
from everyline.sound.pulses import bar_ticks


@dataclass(frozen=True, slots=True)
class Span:
    """The time that one chord holds within one bar: ticks, the chord's place, whether it begins there."""

    start: int
    end: int
    chord: int
    begins: bool


def spans(progression: Progression, bars: int) -> tuple[Span, ...]:
    """The chords cut at the bar lines, in order."""
    bar = bar_ticks(progression)
    starts = {start * progression.slot_ticks: index for index, start in enumerate(progression.starts)}
    edges = sorted({*range(0, bars * bar + 1, bar), *(tick for tick in starts if tick < bars * bar)})
    found, chord = [], 0
    for start, end in pairwise(edges):
        chord = starts.get(start, chord)
        found.append(Span(start, end, chord, start in starts))
    return tuple(found)
