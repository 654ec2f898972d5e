"""A note of a part, as it is played."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PartNote:
    """One note of one part: ``start`` and ``end`` in beats from beat 1 of bar 1, as they sound (swung).

    ``pitch`` is a MIDI number (of the percussion map in the click), ``velocity`` 1 to 127; ``index`` is the
    note's place in its line, from 0, and None in every other part.
    """

    part: str
    start: float
    end: float
    pitch: int
    velocity: int
    index: int | None = None
