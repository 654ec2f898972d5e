"""Events as integers while a diagram is being made, and back.

A code is (onset * 128 + pitch) * number of lengths + rank of the length, so that the order of codes is that
of events.
"""

from __future__ import annotations

from everyline.rules.line import TICKS_PER_BEAT, Event
from everyline.rules.ruleset import Rules

PITCHES = 128


class Codes:
    """The codes of one compilation. ``semitone`` is what a semitone adds to a code, ``tick`` what a tick of
    the onset adds."""

    def __init__(self, rules: Rules) -> None:
        lengths = {rules.slot_ticks, TICKS_PER_BEAT}
        lengths.update([part.length for cell in rules.cells for part in cell.parts if not part.rest])
        lengths.update([note.length for ending in rules.endings for note in ending.notes])
        self._lengths = sorted(lengths)
        self._ranks = {length: rank for rank, length in enumerate(self._lengths)}
        self.semitone = len(self._lengths)
        self.tick = PITCHES * self.semitone

    def base(self, onset: int, length: int) -> int:
        """The code of an event of pitch 0."""
        return onset * self.tick + self._ranks[length]

    def event(self, code: int) -> Event:
        """The event of a code."""
        rest, rank = divmod(code, self.semitone)
        onset, pitch = divmod(rest, PITCHES)
        return Event(onset, pitch, self._lengths[rank])
