"""What a player did, in seconds: one note after another, from a recording or from MIDI."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

UNSURE = 0.6
"""Sureness below which a note is called unsure."""


@dataclass(frozen=True, slots=True)
class PlayedNote:
    """One note. ``onset`` and ``length`` are in seconds, the onset from the start of the take; ``pitch`` is a
    MIDI number, ``cents`` how far above it the note was (None where that cannot be: MIDI), ``velocity`` the
    MIDI velocity (None for sound). ``sure`` runs from 0 to 1. ``octave`` is 12 or -12 where the note may as
    well be an octave higher or lower than ``pitch``, else 0."""

    onset: float
    length: float
    pitch: int
    sure: float = 1.0
    cents: int | None = None
    octave: int = 0
    velocity: int | None = None

    @property
    def unsure(self) -> bool:
        """Whether too little was heard to build on it."""
        return self.sure < UNSURE or self.octave != 0


@dataclass(frozen=True, slots=True)
class Played:
    """Notes in the order of their onsets. ``by_ear`` says that they come from sound, so that pitch is heard
    and not known; ``tuning`` is by how many cents the whole take is above A = 440 Hz."""

    notes: Sequence[PlayedNote]
    by_ear: bool
    tuning: int = 0
    remarks: tuple[str, ...] = ()
