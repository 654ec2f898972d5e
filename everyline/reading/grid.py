"""Times that are not exact, brought back to what was meant: swing evened out, loose notes moved to the grid.

All times are in beats; 0 is the first beat of a bar.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from everyline.rules.line import TICKS_PER_BEAT

EARLY = 0.1
"""A note up to this much before a beat belongs to that beat."""
SWUNG_FROM, SWUNG_TO = 0.545, 0.8
"""Where the upbeat of a swung pair lies within the beat: from 1.2:1 to 4:1."""
NEAR = 0.04
"""Beats by which an upbeat has to be nearer to a sixteenth than to the swung eighth to be one."""
DIVISIONS = (1, 2, 3, 4, 6, 8)
FINER = 0.04
"""What each note of a finer division than the rules' own has to gain, in beats, before it is believed."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Times after straightening. ``onsets`` are ticks (480 a beat); ``ratio`` is long to short of the swing
    found, 1 for even eighths; ``loosest`` is how far the loosest note was moved, in beats."""

    onsets: tuple[int, ...]
    ratio: float
    loosest: float
    even_beats: frozenset[int]

    def straighten(self, time: float) -> float:
        """A time in beats with the swing taken out."""
        beat, part = _split(time)
        return beat + _even(part, self.ratio, beat in self.even_beats)


def fit(onsets: Sequence[float], subdivision: int, swings: bool) -> Grid:
    """The grid that rising onsets in beats were meant on. ``swings`` says whether the meter has eighths that
    may swing."""
    beats: dict[int, list[float]] = {}
    for onset in onsets:
        beat, part = _split(onset)
        beats.setdefault(beat, []).append(part)
    ratio = _swing(beats.values()) if swings and subdivision == 2 else 1.0
    even = frozenset(beat for beat, parts in beats.items() if _is_even(parts, ratio))
    ticks: list[int] = []
    loosest = 0.0
    for beat in sorted(beats):
        parts = [_even(part, ratio, beat in even) for part in beats[beat]]
        places, moved = _snap(parts, subdivision)
        loosest = max(loosest, moved)
        ticks += [beat * TICKS_PER_BEAT + place for place in places]
    return Grid(tuple(ticks), ratio, loosest, even)


def _split(time: float) -> tuple[int, float]:
    beat = int((time + EARLY) // 1)
    return beat, time - beat


def _is_even(parts: Sequence[float], ratio: float) -> bool:
    """Whether a beat is played as written: only eighths swing, so more than one note after its first, or one
    on a sixteenth, shows that it is."""
    inside = [part for part in parts if part > EARLY]
    if len(inside) != 1:
        return len(inside) > 1
    swung = abs(inside[0] - ratio / (1 + ratio))
    return min(abs(inside[0] - place) for place in (0.25, 0.75)) + NEAR < swung


def _swing(beats: Iterable[Sequence[float]]) -> float:
    """Long to short, from the upbeats that stand alone in their beat; 1 where they are even or too few."""
    inside = ([part for part in parts if part > EARLY] for parts in beats)
    upbeats = [parts[0] for parts in inside if len(parts) == 1 and 0.35 < parts[0] < SWUNG_TO]
    if len(upbeats) < 2:
        return 1.0
    middle = median(upbeats)
    return middle / (1 - middle) if SWUNG_FROM <= middle <= SWUNG_TO else 1.0


def _even(part: float, ratio: float, even: bool) -> float:
    """A place within the beat with the swing taken out."""
    if ratio == 1 or even or part <= 0:
        return part
    middle = ratio / (1 + ratio)
    return part / middle / 2 if part <= middle else 0.5 + (part - middle) / (1 - middle) / 2


def _snap(parts: Sequence[float], subdivision: int) -> tuple[list[int], float]:
    """Places within the beat in ticks, under the division that moves the notes least, and the largest
    move."""
    best: tuple[float, list[int], float] | None = None
    for division in sorted(DIVISIONS, key=lambda each: each != subdivision):
        step = TICKS_PER_BEAT // division
        places = [round(part * division) * step for part in parts]
        moves = [abs(place / TICKS_PER_BEAT - part) for place, part in zip(places, parts, strict=True)]
        # Two notes on one place cannot be meant, unless no division keeps them apart.
        clash = len(places) - len(set(places))
        finer = FINER * len(parts) if subdivision % division else 0.0
        # One upbeat alone says little: it is the rules' own, unless it is far from it.
        if len(parts) < 3 and finer and max(moves) > 0.01:
            finer += 0.08
        cost = sum(moves) + finer + clash
        if best is None or cost < best[0] - 1e-9:
            best = cost, places, max(moves)
    assert best is not None
    return best[1], best[2]
