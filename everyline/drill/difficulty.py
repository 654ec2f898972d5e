"""How hard a line is to play, as one number: a stated sum, for putting lines in order and nothing more.

The weights are the project's own, a rule of thumb. They count what a player has to do, not how a line sounds.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from types import MappingProxyType

from everyline.rules.annotate import AnnotatedLine
from everyline.rules.ranges import DEFAULT_SPAN, Fretboard
from everyline.rules.ruleset import Rules
from everyline.rules.spelling import key_signature
from everyline.solver.properties.fretboard import position_masks

LEAP = 5
"""Semitones from which an interval counts as a leap."""

OCTAVE = 12

WEIGHTS: Mapping[str, int] = MappingProxyType(
    {
        "figures": 2,
        "outside notes": 1,
        "leaps": 2,
        "position shifts": 3,
        "accidentals in the signature": 1,
        "semitones of range beyond an octave": 1,
    }
)
"""What each thing adds, once for every time that it occurs."""


def difficulty(line: AnnotatedLine) -> int:
    """The sum of ``counts`` times WEIGHTS."""
    return sum(WEIGHTS[name] * number for name, number in counts(line).items())


def counts(line: AnnotatedLine) -> dict[str, int]:
    """How often each thing that makes a line hard occurs in it, in the analysis shown."""
    rules = line.rules
    pitches = [event.pitch for event in line.events]
    return {
        "figures": len(line.figures),
        "outside notes": sum(not rules.note(event).chord_tone for event in line.events),
        "leaps": sum(abs(after - before) >= LEAP for before, after in pairwise(pitches)),
        "position shifts": position_shifts(rules, pitches),
        "accidentals in the signature": abs(key_signature(rules.key)) if rules.key else 0,
        "semitones of range beyond an octave": max(0, max(pitches) - min(pitches) - OCTAVE),
    }


def position_shifts(rules: Rules, pitches: list[int]) -> int:
    """The fewest changes of position in which the pitches can be played on the rules' fretted instrument;
    0 for any other.

    Staying in a position as long as it holds is never worse than leaving it early, so one pass finds the
    fewest.
    """
    board = Fretboard.of(rules.instrument) if rules.instrument is not None else None
    if board is None:
        return 0
    place = rules.position
    masks = position_masks(
        board, place.strings if place else board.strings, place.span if place else DEFAULT_SPAN
    )
    shifts, held = 0, -1
    for pitch in pitches:
        here = masks.get(pitch, 0)
        if not held & here:
            shifts += 1
            held = here
        else:
            held &= here
    return shifts
