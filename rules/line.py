"""A line: what sounds, when, for how long, and nothing else.

Two lines are the same when they have the same events. Events are compared by onset, then pitch, then
length, so the natural order of tuples is the order in which lines are numbered.
"""

from __future__ import annotations

from dataclasses import dataclass
from operator import index
from typing import Any, NamedTuple

from everyline.corpora.errors import InputError

TICKS_PER_BEAT = 480
LONGEST_SHOWN = 60


class Event(NamedTuple):
    """One sounding note: ticks (480 a beat, 0 on beat 1 of bar 1; a pickup is negative) and MIDI pitch."""

    onset: int
    pitch: int
    length: int

    @property
    def end(self) -> int:
        """The first tick at which the note no longer sounds."""
        return self.onset + self.length


Events = tuple[Event, ...]


def make_events(raw: Any) -> Events:
    """Events from any iterable of ``(onset, pitch, length)``. Raises InputError for anything else."""
    try:
        # Anything may be asked whether it is a line; what is no iterable fails here as in any loop.
        return tuple(Event(*map(index, each)) for each in raw)
    except TypeError:
        raise InputError(
            f'{brief(raw)} is not a line; give text such as "D4 F4 A4 C5", a line of a space, or events of '
            "three whole numbers: onset (ticks, 480 a beat), pitch (MIDI) and length (ticks)."
        ) from None


def brief(value: object) -> str:
    """A value as Python writes it, cut where it is long."""
    text = repr(value)
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}..."


@dataclass(frozen=True, slots=True)
class Note:
    """An event together with where it stands in the progression.

    ``slot`` is the slot of the onset (rounded down for a note that falls between slots), ``chord`` the index
    of the chord that holds there, ``degree`` the semitones above its root (0 to 11).
    """

    onset: int
    pitch: int
    length: int
    slot: int
    chord: int
    degree: int
    chord_tone: bool

    @property
    def end(self) -> int:
        """The first tick at which the note no longer sounds."""
        return self.onset + self.length
