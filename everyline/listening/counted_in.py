"""Counting in: short sounds a beat apart before the line, left out."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from everyline.corpora.counted import plural
from everyline.listening.played import PlayedNote

LEAST, MOST = 2, 16
"""How many sounds a count-in has: a bar of two to four bars of four."""
SHORT = 0.35
"""The part of a beat that such a sound lasts at most."""
NEAR = 0.12
"""The part of a beat by which they may be off."""


def without_count_in(notes: Sequence[PlayedNote], period: float) -> tuple[list[PlayedNote], list[str]]:
    """Notes without a count-in at their start, and what is to be said of it; ``period`` is a beat in seconds.

    A count-in is a row of short sounds of one or two pitches, each one or two beats after the one before, the
    last a beat or two before the line.
    """
    count = 0
    for note, after in pairwise(notes):
        gap = (after.onset - note.onset) / period
        on_beat = any(abs(gap - beats) <= NEAR * beats for beats in (1, 2))
        if (
            note.length > SHORT * period
            or not on_beat
            or len({each.pitch for each in notes[: count + 1]}) > 2
        ):
            break
        count += 1
    if not LEAST <= count <= MOST:
        return list(notes), []
    return list(notes[count:]), [f"left out before the line: {plural(count, 'sound')} of a count-in."]
