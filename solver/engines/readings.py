"""The anatomy of a line read note by note, for a solver that tries notes one after another.

A *reading* is one analysis of the notes so far: what the rules must remember of it and, inside a figure, the
notes still to come. It is written apart from the anatomy that the diagram is compiled from, and from the
tables of the other general engine, so that the three can be held against each other.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

from everyline.rules.ladder import figure_pitches, handoffs, rung
from everyline.rules.ruleset import Rules
from everyline.solver.engines.skeleton import Skeleton

_REMEMBERED = 1 << 14


class Reading(NamedTuple):
    """What one analysis remembers.

    ``run`` is 1 in a run upward, -1 in one downward, else 0; ``turns`` how often that run has turned;
    ``started`` the figures started in this chord; ``since`` the chord tones since the last target, that one
    included, counted no further than ``after``; ``met`` the must-targets met, as bits; ``left`` what is left
    of a figure, its target last, or nothing.
    """

    run: int
    turns: int
    started: int
    since: int
    met: int
    left: tuple[int, ...]


Moves = Iterator[tuple[int, Reading]]
"""Pitches that may come next, each with a reading that it leads to."""

Onward = dict[int, frozenset[Reading]]
"""For each pitch that may come next, all readings that it leads to."""


@dataclass
class Reader:
    """Reads the body of the lines of one skeleton."""

    skeleton: Skeleton
    figures: dict[int, list[tuple[int, ...]]] = field(default_factory=dict)
    """For each slot the figures that may start there, all notes in range, each with its target last."""

    def __post_init__(self) -> None:
        """Write out every figure at every slot."""
        for slot in self.skeleton.body:
            self.figures[slot] = list(self._figures(slot))
        self.bounds = {chord: (least, most) for chord, least, most in self.skeleton.counted()}
        self.after = lru_cache(maxsize=_REMEMBERED)(self._after)
        self.all_met = (1 << len(self.rules.must_targets)) - 1

    @property
    def rules(self) -> Rules:
        """The rules of the skeleton."""
        return self.skeleton.rules

    def _figures(self, slot: int) -> Iterator[tuple[int, ...]]:
        rules = self.rules
        for steps in {figure.steps for figure in rules.approach.figures}:
            landing = slot + len(steps)
            if not self.skeleton.fits(slot, landing):
                continue
            chord = self.skeleton.chord(landing)
            root = rules.progression.chords[chord].root_class
            for target in self.skeleton.targets(landing):
                notes = figure_pitches(steps, target, root, rules.scales[chord])
                if rules.pitches.issuperset(notes):
                    yield (*notes, target)

    def sounding(self, slot: int) -> set[int]:
        """Every pitch that may sound at a slot of the body in some line or other."""
        found = set(self.skeleton.tones(slot))
        for first, figures in self.figures.items():
            found |= {figure[slot - first] for figure in figures if 0 <= slot - first < len(figure)}
        return found

    # -- reading ---------------------------------------------------------------------------------------------

    def begin(self) -> Onward:
        """The readings of a line's first note, for each pitch that it may have."""
        rules, slot = self.rules, self.skeleton.body[0]
        blank = Reading(0, 0, 0, rules.approach.after, 0, ())
        ways = [(pitch, blank) for pitch in self.skeleton.tones(slot)]
        if self._most(0) > 0:
            ways += [
                (first, blank._replace(started=1, left=tuple(rest))) for first, *rest in self.figures[slot]
            ]
        root = rules.progression.chords[0].root_class
        return _gathered(way for way in ways if rules.entry.allows(way[0], root))

    def _after(self, readings: frozenset[Reading], slot: int, before: int) -> Onward:
        """The readings after one more note of the body, for each pitch that it may have."""
        moves: list[tuple[int, Reading]] = []
        for reading in readings:
            if reading.left:
                moves += self._figure_goes_on(reading, slot)
            elif self.skeleton.fresh(slot):
                moves += self._handoff(reading, slot, before)
            else:
                moves += self._arpeggio(reading, slot, before)
                moves += self._figure_starts(reading, slot, before)
        return _gathered(move for move in moves if move[0] in self.rules.pitches)

    def _figure_goes_on(self, reading: Reading, slot: int) -> Moves:
        pitch, *rest = reading.left
        if rest:
            yield pitch, reading._replace(left=tuple(rest))
            return
        chord = self.skeleton.chord(slot)
        degree = (pitch - self.rules.progression.chords[chord].root_class) % 12
        met = reading.met
        for bit, wanted in enumerate(self.rules.must_targets):
            met |= wanted.meets(chord, degree, slot) << bit
        landed = Reading(0, 0, reading.started, min(1, self.rules.approach.after), met, ())
        yield from self._entering(landed, slot, (pitch,))

    def _handoff(self, reading: Reading, slot: int, before: int) -> Moves:
        yield from self._entering(self._one_tone_more(reading, 0, 0), slot, self._legal(before, slot))

    def _arpeggio(self, reading: Reading, slot: int, before: int) -> Moves:
        rules = self.rules
        chord = rules.progression.chords[self.skeleton.chord(slot)]
        for way in rules.arpeggio.directions:
            turns = reading.turns + (1 if way == -reading.run else 0)
            if turns <= rules.arpeggio.turns:
                yield rung(chord, before, way), self._one_tone_more(reading, way, turns)

    def _figure_starts(self, reading: Reading, slot: int, before: int) -> Moves:
        approach = self.rules.approach
        if reading.since < approach.after or reading.started >= self._most(self.skeleton.chord(slot)):
            return
        for first, *rest in self.figures[slot]:
            landing = slot + len(rest)
            near = 0 < abs(first - before) <= approach.reach
            if near and (not self.skeleton.fresh(landing) or rest[-1] in self._legal(before, landing)):
                yield first, reading._replace(started=reading.started + 1, left=tuple(rest))

    # -- what the moves share --------------------------------------------------------------------------------

    def _legal(self, before: int, slot: int) -> tuple[int, ...]:
        """The legal handoffs to the chord of a slot."""
        rules = self.rules
        chord = rules.progression.chords[self.skeleton.chord(slot)]
        return handoffs(rules.handoff, before, chord, rules.approach.reach)

    def _one_tone_more(self, reading: Reading, run: int, turns: int) -> Reading:
        since = min(reading.since + 1, self.rules.approach.after)
        return Reading(run, turns, reading.started, since, reading.met, ())

    def _entering(self, reading: Reading, slot: int, pitches: tuple[int, ...]) -> Moves:
        """The reading on a chord tone; on a new chord only where the chord it leaves has its figures."""
        if self.skeleton.fresh(slot):
            if reading.started < self.bounds[self.skeleton.chord(slot) - 1][0]:
                return
            reading = reading._replace(started=0)
        yield from ((pitch, reading) for pitch in pitches)

    def _most(self, chord: int) -> int:
        return self.rules.approach.bounds(chord)[1]

    def complete(self, readings: frozenset[Reading]) -> bool:
        """Whether some reading is that of a whole body, after which the ending or nothing follows."""
        last = self.skeleton.body[-1]
        sounded = self.skeleton.chord(last)
        owed = [least for chord, (least, _) in self.bounds.items() if chord > sounded]
        if any(owed):
            return False
        least = self.bounds.get(sounded, (0, 0))[0]
        return any(
            not reading.left and reading.met == self.all_met and reading.started >= least
            for reading in readings
        )


def _gathered(moves: Iterable[tuple[int, Reading]]) -> Onward:
    found: dict[int, set[Reading]] = {}
    for pitch, reading in moves:
        found.setdefault(pitch, set()).add(reading)
    return {pitch: frozenset(readings) for pitch, readings in found.items()}
