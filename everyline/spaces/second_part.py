"""A second part a third below a line, itself a line of the same rules.

The notes that the second player would like are a third below: two steps down the scale of the chord, or for a
note outside the scale the third that its neighbour below has. Of all lines of the rules that keep the rhythm
and lie below the first by a third, fourth, fifth or sixth on every note, the second part is the one that has
the most of them (``solver/repair``); one with fewer thirds than other intervals is none.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from everyline.rules.acceptor import State
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.line import Event, Events, Note
from everyline.rules.ruleset import Rules
from everyline.solver.intersect import intersect
from everyline.solver.repair import nearest_by_onset
from everyline.spaces.space import Space

THIRDS = (3, 4)
"""Semitones of a minor and a major third."""
GAPS = (*THIRDS, 5, 7, 8, 9)
"""By how many semitones a second part may lie below: no second, tritone or seventh (common practice)."""


@dataclass(frozen=True, slots=True)
class _Below:
    """Lines with the rhythm of another, every note one of ``GAPS`` lower. State: how many notes are read."""

    above: Events
    kind: str = "below"

    def start(self) -> State:
        return 0

    def step(self, state: Any, note: Note) -> State | None:
        if state == len(self.above):
            return None
        onset, pitch, length = self.above[state]
        same = (note.onset, note.length) == (onset, length)
        return state + 1 if same and pitch - note.pitch in GAPS else None

    def content(self, state: Any) -> bool:
        return bool(state == len(self.above))


@dataclass(frozen=True, slots=True)
class SecondPart:
    """A second part, and how many of its notes are a third below the first."""

    line: AnnotatedLine
    thirds: int


def second_part(space: Space, line: AnnotatedLine) -> SecondPart | None:
    """The best second part to a line of a space, or None where the rules allow none that stays below it."""
    wanted = [Event(n.onset, third_below(space.rules, n.onset, n.pitch), n.length) for n in line.notes]
    below = intersect(space.diagram, _Below(line.events), space.rules)
    found = next(nearest_by_onset(below, wanted), None)
    number = None if found is None else space.number(found.events)
    if found is None or number is None:
        return None
    (shown,) = space.shown([(number, found.events)])
    pairs = zip(shown.notes, line.notes, strict=True)
    thirds = sum(high.pitch - low.pitch in THIRDS for low, high in pairs)
    return SecondPart(shown, thirds) if 2 * thirds >= len(line.notes) else None


def third_below(rules: Rules, onset: int, pitch: int) -> int:
    """The pitch a third below in the scale of the chord that holds at a tick: two tones of the scale down; a
    note outside it goes down as far as the next tone below it would."""
    chord = rules.progression.chord_index(max(0, onset) // rules.slot_ticks)
    root, scale = rules.progression.chords[chord].root_class, set(rules.scales[chord])
    off = 0
    while (pitch - off - root) % 12 not in scale:
        off += 1
    at, steps = pitch - off, 0
    while steps < 2:
        at -= 1
        steps += (at - root) % 12 in scale
    # Scales with gaps (pentatonic, diminished) have other steps; a third is three or four semitones.
    return pitch - min(max(pitch - off - at, THIRDS[0]), THIRDS[-1])
