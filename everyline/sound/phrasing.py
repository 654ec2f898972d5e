"""How a line is phrased: how loud each note is, and how much of its length it sounds. All common practice.

Offbeats are a little stronger than beats; a peak and the end of a phrase have an accent, the highest note of
all the strongest; a passing note is ghosted. An offbeat is slurred into the beat after it, a note on a beat
is let go a little earlier, so that the next can be tongued or picked; a note before a rest keeps its length.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from everyline.rules.analysis import PASSING
from everyline.rules.annotate import AnnotatedNote
from everyline.rules.line import TICKS_PER_BEAT

PLAIN = 84
"""MIDI velocity of a note on a beat without an accent."""
OFFBEAT, BETWEEN, PEAK, HIGHEST, LAST, GHOST = 7, -5, 8, 10, 9, -24
"""What is added: halfway through a beat, elsewhere in it, at a peak, at the highest peak besides, at the end
of a phrase, for a passing note off the beat.
"""
SLURRED, TONGUED, REPEATED = 1.0, 0.88, 0.8
"""The part of its length that a note sounds: slurred into the next, before a new attack, before itself."""

_HALF = TICKS_PER_BEAT // 2


@dataclass(frozen=True, slots=True)
class Phrased:
    """How one note is played: MIDI velocity, and the part of its length for which it sounds."""

    velocity: int
    part: float


def phrased(notes: Sequence[AnnotatedNote], swings: bool) -> tuple[Phrased, ...]:
    """How each note of a line is played; ``swings`` says whether its beats are divided into eighths."""
    top = max((note.pitch for note in notes), default=0)
    found = []
    for place, note in enumerate(notes):
        after = notes[place + 1] if place + 1 < len(notes) else None
        ends = after is None or after.onset > note.onset + note.length
        velocity = PLAIN + _metre(note, swings)
        if ends:
            velocity += LAST
        elif _peak(notes, place):
            velocity += PEAK + (HIGHEST if note.pitch == top else 0)
        elif note.role == PASSING and note.onset % TICKS_PER_BEAT:
            velocity += GHOST
        found.append(Phrased(velocity, _part(note, after, ends)))
    return tuple(found)


def _metre(note: AnnotatedNote, swings: bool) -> int:
    """What a note's place in the beat adds."""
    into = note.onset % TICKS_PER_BEAT
    if into == 0 or not swings:
        return 0
    return OFFBEAT if into == _HALF else BETWEEN


def _peak(notes: Sequence[AnnotatedNote], place: int) -> bool:
    """Whether the line rises to a note and falls from it."""
    if not 0 < place < len(notes) - 1:
        return False
    return notes[place - 1].pitch < notes[place].pitch > notes[place + 1].pitch


def _part(note: AnnotatedNote, after: AnnotatedNote | None, ends: bool) -> float:
    if ends or after is None:
        return SLURRED
    if after.pitch == note.pitch:
        return REPEATED
    return SLURRED if after.onset % TICKS_PER_BEAT == 0 and note.onset % TICKS_PER_BEAT else TONGUED
