"""What a chord allows after a pitch, whatever a line has played before: rungs, handoffs, figures in place.

All of it depends on the chord, its scale and a few of the rules alone. It is worked out once and kept for
as long as the process runs, so that whoever changes one rule and asks again does not wait for the rest.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import NamedTuple

from everyline.rules.chords import Chord
from everyline.rules.front import Firsts
from everyline.rules.ladder import figure_pitches, handoffs, rung
from everyline.rules.ruleset import Rules

Runs = dict[int, tuple[tuple[int, ...], ...]]
"""For each target, the notes of the approach figures that land on it."""


class Grounds(NamedTuple):
    """The rules that bear on the moves in every chord: range, directions of a run, handoff rule, the steps of
    the figures, degrees of targets in semitones (None for all chord tones), reach in semitones."""

    pitches: frozenset[int]
    directions: tuple[int, ...]
    handoff: str
    figures: tuple[tuple[str, ...], ...]
    targets: frozenset[int] | None
    reach: int


def all_moves(rules: Rules) -> list[ChordMoves]:
    """The moves in each chord of a progression."""
    approach = rules.approach
    figures = tuple([figure.steps for figure in approach.figures])
    directions = tuple(rules.arpeggio.directions)
    grounds = Grounds(rules.pitches, directions, rules.handoff, figures, approach.targets, approach.reach)
    chords = zip(rules.progression.chords, rules.scales, strict=True)
    return [chord_moves(chord, scale, grounds) for chord, scale in chords]


class ChordMoves:
    """The moves in one chord. Pitches out of range are left out of every answer."""

    def __init__(self, chord: Chord, scale: tuple[int, ...], grounds: Grounds) -> None:
        self._chord = chord
        self._scale = scale
        self._grounds = grounds
        self._rungs: dict[int, tuple[tuple[int, int], ...]] = {}
        self._handoffs: dict[int, tuple[int, ...]] = {}
        self._runs: dict[int, Runs] = {}
        self._inside: dict[tuple[int, ...], Firsts] = {}
        self._onto: dict[tuple[int, int], Firsts] = {}

    def rungs(self, pitch: int) -> tuple[tuple[int, int], ...]:
        """(direction, the next chord tone that way) for each direction in which a run may go."""
        found = self._rungs.get(pitch)
        if found is None:
            tones = [(each, rung(self._chord, pitch, each)) for each in self._grounds.directions]
            found = tuple([(each, tone) for each, tone in tones if tone in self._grounds.pitches])
            self._rungs[pitch] = found
        return found

    def handoffs(self, pitch: int) -> tuple[int, ...]:
        """The notes on which this chord may begin after ``pitch`` in the one before."""
        found = self._handoffs.get(pitch)
        if found is None:
            notes = handoffs(self._grounds.handoff, pitch, self._chord, self._grounds.reach)
            found = tuple([each for each in notes if each in self._grounds.pitches])
            self._handoffs[pitch] = found
        return found

    def figures_inside(self, lengths: tuple[int, ...]) -> Firsts:
        """Figures of these lengths that land in this chord."""
        found = self._inside.get(lengths)
        if found is None:
            placed = [self._placed(length) for length in lengths]
            found = self._inside[lengths] = by_first_note(
                (notes, target) for runs in placed for target, figures in runs.items() for notes in figures
            )
        return found

    def figures_onto(self, length: int, pitch: int) -> Firsts:
        """Figures of this length on a note that this chord may begin on after ``pitch``."""
        found = self._onto.get((length, pitch))
        if found is None:
            runs = self._placed(length)
            legal = [target for target in self.handoffs(pitch) if target in runs]
            found = self._onto[length, pitch] = by_first_note(
                (notes, target) for target in legal for notes in runs[target]
            )
        return found

    def _placed(self, length: int) -> Runs:
        """Every figure of this length that lands in the chord, all of it in range."""
        found = self._runs.get(length)
        if found is None:
            found = self._runs[length] = {}
            chord, (pitches, _, _, figures, targets, _) = self._chord, self._grounds
            root = chord.root_class
            shapes = [steps for steps in figures if len(steps) == length]
            for target in pitches:
                if target % 12 in chord.tone_classes and (targets is None or (target - root) % 12 in targets):
                    notes = {figure_pitches(steps, target, root, self._scale) for steps in shapes}
                    if inside := tuple([each for each in notes if pitches.issuperset(each)]):
                        found[target] = inside
        return found


@lru_cache(maxsize=256)
def chord_moves(chord: Chord, scale: tuple[int, ...], grounds: Grounds) -> ChordMoves:
    """The moves in a chord; the same object for the same chord and rules."""
    return ChordMoves(chord, scale, grounds)


def by_first_note(runs: Iterable[tuple[tuple[int, ...], int]]) -> Firsts:
    """(notes, target) of figures, sorted by their first note, which is taken off."""
    found: dict[int, set[tuple[tuple[int, ...], int]]] = {}
    for notes, target in runs:
        found.setdefault(notes[0], set()).add((notes[1:], target))
    return {first: frozenset(left) for first, left in found.items()}
