"""The anatomy of a line as tables of allowed values, for a solver that takes rules as constraints.

Each slot of a skeleton's body has three variables: the note's *role* (chord tone of some kind, or the j-th
note of figure f), its *aim* (the target that the figure under way will land on; a chord tone aims at itself)
and its *pitch*. With them every rule reaches no further than from one slot to the next, and a solution is one
analysis of a line. Nothing here is shared with the anatomy that the diagram is compiled from.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import IntEnum
from typing import NamedTuple

from everyline.rules.ladder import figure_pitches, handoffs, rung
from everyline.rules.ruleset import Rules
from everyline.solver.engines.skeleton import Skeleton


class Kind(IntEnum):
    """The role of a note, as far as the rules that count need to know it."""

    ENTRY = 0
    UP = 1
    DOWN = 2
    HANDOFF = 3
    TARGET = 4
    BEGIN = 5
    """First note of a figure that lands in the same chord."""
    ACROSS = 6
    """First note of a figure that lands on the first slot of the next chord."""
    INSIDE = 7
    """Any later note of a figure."""


BEGINS = (Kind.BEGIN, Kind.ACROSS)
APPROACHES = (*BEGINS, Kind.INSIDE)
TONES = tuple(kind for kind in Kind if kind not in APPROACHES)

Pairs = list[tuple[int, ...]]


class Choice(NamedTuple):
    """What one slot may hold.

    ``role`` is the kind of a chord tone, or ``FIRST_FIGURE`` and more for figures' notes.
    """

    role: int
    kind: int
    aim: int
    pitch: int


FIRST_FIGURE = len(Kind)


class Move(NamedTuple):
    """How a note may follow another: pitch before, and kind, aim and pitch of the note."""

    before: int
    kind: int
    aim: int
    pitch: int


@dataclass(frozen=True)
class Shape:
    """A figure as steps, with the role of its first note; the roles of the others follow it."""

    steps: tuple[str, ...]
    role: int


@dataclass
class Tables:
    """For each slot of the body what it may hold, and how that may follow the slot before.

    ``choices[i]`` are for the i-th slot, ``moves[i]`` from slot i - 1 to it (none for the entry),
    ``follows[i]`` the pairs of roles allowed on slots i - 1 and i.
    """

    skeleton: Skeleton
    shapes: tuple[Shape, ...] = ()
    choices: list[set[Choice]] = field(default_factory=list)
    moves: list[set[Move]] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Work the tables out."""
        role = FIRST_FIGURE
        shapes = []
        for steps in sorted({figure.steps for figure in self.rules.approach.figures}):
            shapes.append(Shape(steps, role))
            role += len(steps)
        self.shapes = tuple(shapes)
        self.choices = [set() for _ in self.skeleton.body]
        self.moves = [set() for _ in self.skeleton.body]
        for place in range(len(self.skeleton.body)):
            self._tones(place)
        for place in range(len(self.skeleton.body)):
            for shape in self.shapes:
                self._figure(place, shape)

    @property
    def rules(self) -> Rules:
        """The rules of the skeleton."""
        return self.skeleton.rules

    def follows(self, place: int) -> Pairs:
        """The pairs of roles that the slots ``place`` - 1 and ``place`` may hold."""
        after = {role: role + 1 for shape in self.shapes for role in self._inner(shape)}
        after |= {shape.role + len(shape.steps) - 1: int(Kind.TARGET) for shape in self.shapes}
        inner = {role + 1 for shape in self.shapes for role in self._inner(shape)} | {int(Kind.TARGET)}
        roles = {choice.role for choice in self.choices[place]}
        before = {choice.role for choice in self.choices[place - 1]}
        return [(a, b) for a in before for b in roles if (after[a] == b if a in after else b not in inner)]

    @staticmethod
    def _inner(shape: Shape) -> range:
        """The roles of a figure's notes that another note of it follows."""
        return range(shape.role, shape.role + len(shape.steps) - 1)

    # -- chord tones -----------------------------------------------------------------------------------------

    def _tones(self, place: int) -> None:
        """The ways to hold a chord tone, save as a figure's target."""
        skeleton, rules = self.skeleton, self.rules
        slot = skeleton.body[place]
        if place == 0:
            root = rules.progression.chords[0].root_class
            for pitch in skeleton.tones(slot):
                if rules.entry.allows(pitch, root):
                    self.choices[0].add(Choice(Kind.ENTRY, Kind.ENTRY, pitch, pitch))
            return
        for before in skeleton.tones(skeleton.body[place - 1]):
            for kind, pitch in self._reached(slot, before):
                self.choices[place].add(Choice(kind, kind, pitch, pitch))
                self.moves[place].add(Move(before, kind, pitch, pitch))

    def _reached(self, slot: int, before: int) -> Iterator[tuple[Kind, int]]:
        """The chord tones, in range, that a chord tone leads to as arpeggio or handoff."""
        rules = self.rules
        chord = rules.progression.chords[self.skeleton.chord(slot)]
        if self.skeleton.fresh(slot):
            found = [(Kind.HANDOFF, p) for p in handoffs(rules.handoff, before, chord, rules.approach.reach)]
        else:
            ways = {1: Kind.UP, -1: Kind.DOWN}
            found = [(ways[way], rung(chord, before, way)) for way in rules.arpeggio.directions]
        return ((kind, pitch) for kind, pitch in found if pitch in rules.pitches)

    # -- figures ---------------------------------------------------------------------------------------------

    def _figure(self, place: int, shape: Shape) -> None:
        """The ways in which a figure may start on a slot."""
        skeleton, rules = self.skeleton, self.rules
        first = skeleton.body[place]
        landing = first + len(shape.steps)
        if not skeleton.fits(first, landing):
            return
        chord = skeleton.chord(landing)
        root = rules.progression.chords[chord].root_class
        for target in skeleton.targets(landing):
            pitches = figure_pitches(shape.steps, target, root, rules.scales[chord])
            if rules.pitches.issuperset(pitches) and self._starts(place, chord, pitches[0], target):
                self._carry(place, shape, pitches, target)

    def _starts(self, place: int, chord: int, pitch: int, target: int) -> bool:
        """Note how the figure's first note may follow the note before; whether it may at all."""
        skeleton, rules = self.skeleton, self.rules
        slot = skeleton.body[place]
        across = skeleton.chord(slot) != chord
        kind = Kind.ACROSS if across else Kind.BEGIN
        if place == 0:
            return rules.entry.allows(pitch, rules.progression.chords[0].root_class)
        moves = set()
        for before in skeleton.tones(skeleton.body[place - 1]):
            if not 0 < abs(pitch - before) <= rules.approach.reach:
                continue
            legal = handoffs(rules.handoff, before, rules.progression.chords[chord], rules.approach.reach)
            if not across or target in legal:
                moves.add(Move(before, kind, target, pitch))
        self.moves[place] |= moves
        return bool(moves)

    def _carry(self, place: int, shape: Shape, pitches: tuple[int, ...], target: int) -> None:
        """Enter a figure's notes and its target, each with the note before it."""
        across = self.skeleton.chord(self.skeleton.body[place]) != self.skeleton.chord(
            self.skeleton.body[place + len(pitches)]
        )
        for inside, pitch in enumerate(pitches):
            kind = Kind.INSIDE if inside else Kind.ACROSS if across else Kind.BEGIN
            self.choices[place + inside].add(Choice(shape.role + inside, kind, target, pitch))
            if inside:
                self.moves[place + inside].add(Move(pitches[inside - 1], kind, target, pitch))
        landing = place + len(pitches)
        self.choices[landing].add(Choice(Kind.TARGET, Kind.TARGET, target, target))
        self.moves[landing].add(Move(pitches[-1], Kind.TARGET, target, target))
