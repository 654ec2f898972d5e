"""Every reading of every line of a diagram, as one graph whose edges say what an analysis has at that note.

A line may have several analyses. The diagram has one path for it; the graph here has one path for each of
its *readings*, and an edge carries *marks*: here an approach figure of this name begins, here a chord is
entered on this note, here this ending is played. A line has a mark in one of its analyses when one of its
paths carries it. Equal tails of readings are one node, so the graph stays small however many lines there
are.
"""

from __future__ import annotations

import heapq
from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from everyline.rules.analysis import PLAIN
from everyline.rules.front import FILL, NO_PITCH, NO_TONES, NOTHING_OPEN, Front
from everyline.rules.line import Event, Events
from everyline.rules.moves.passing import passing_kinds
from everyline.rules.moves.roles import Role
from everyline.rules.readings import Taken
from everyline.rules.rhythm import OVER, Step, Stop
from everyline.rules.ruleset import Rules
from everyline.solver.diagram import Diagram

FIGURE, TARGET, HANDOFF, ENDING, PASSING = "figure", "target", "handoff", "ending", "passing"


class Mark(NamedTuple):
    """Something that an analysis has: the kind, the chord's index for a handoff (else 0), and which one.

    The value is a figure's name; (degree, slot within the bar) of a target; the pitch of a handoff, None
    where the change falls inside a stock ending; the name of an ending or ``plain``; a kind of passing notes.
    """

    kind: str
    chord: int
    value: Any


Edge = tuple[int, int, int]
"""(label, marks as bits, child)."""


@dataclass(frozen=True, eq=False)
class ReadingGraph:
    """All readings of all lines of a diagram.

    ``edges[node]`` are (label, marks, child): labels as in the diagram, marks as bits that index ``marks``.
    ``accepts[node]`` says that a reading may end there. A node has several edges of one label where a line
    can be read in several ways; an edge that begins a figure, or a filled move, stands for readings that all
    begin one.
    Children have smaller indices than their parents.
    """

    marks: tuple[Mark, ...]
    edges: tuple[tuple[Edge, ...], ...]
    accepts: tuple[bool, ...]
    root: int

    def bits(self, kind: str) -> int:
        """All marks of a kind, as bits."""
        return sum(1 << bit for bit, mark in enumerate(self.marks) if mark.kind == kind)


def merged(
    marks: tuple[Mark, ...], raw: Sequence[Sequence[Edge]], ended: Sequence[bool], order: Iterable[int]
) -> ReadingGraph:
    """The graph of readings as they were followed: those that never come to an end dropped, those with the
    same tails one.

    ``order`` has every index once, children before their parents and 0, where all begin, last.
    """
    edges: list[tuple[Edge, ...]] = []
    accepts: list[bool] = []
    unique: dict[tuple[bool, tuple[Edge, ...]], int] = {}
    numbers = [-1] * len(raw)
    begun = [
        sum(1 << bit for bit, mark in enumerate(marks) if mark.kind == kind) for kind in (FIGURE, PASSING)
    ]
    for index in order:
        # Ways to the same tails are one edge, save that those on which a figure, or a filled move,
        # begins stay apart from those without.
        joined: dict[tuple[int, int, tuple[bool, ...]], int] = {}
        for label, carried, child in raw[index]:
            if numbers[child] >= 0:
                way = (label, numbers[child], tuple([bool(carried & each) for each in begun]))
                joined[way] = joined.get(way, 0) | carried
        if not joined and not ended[index] and index:
            continue
        tails = tuple(sorted((label, carried, child) for (label, child, _), carried in joined.items()))
        found = unique.get((ended[index], tails))
        if found is None:
            found = unique[ended[index], tails] = len(edges)
            edges.append(tails)
            accepts.append(ended[index])
        numbers[index] = found
    return ReadingGraph(marks, tuple(edges), tuple(accepts), numbers[0])


def trace(rules: Rules, diagram: Diagram) -> ReadingGraph:
    """The graph of readings of a diagram's lines, under the rules that the diagram was compiled from."""
    return _Tracer(rules, diagram).run()


Way = tuple[int, int, int, int]
"""A note that may follow: (label, node of the rhythm, reading after it, marks as bits)."""

Place = tuple[int, int, int]
"""(node of the diagram, node of the rhythm, reading); the reading is -1 before the first note."""


class _Tracer:
    """Follows single readings along the diagram, which already holds every limit."""

    def __init__(self, rules: Rules, diagram: Diagram) -> None:
        self.rules = rules
        self.diagram = diagram
        self.readings = rules.readings
        self.anatomy = self.readings.anatomy
        self.label = {event: label for label, event in enumerate(diagram.events)}
        self.bit: dict[Mark, int] = {}
        self._onward: dict[tuple[int, int], list[Way]] = {}

    # -- the graph -------------------------------------------------------------------------------------------

    def run(self) -> ReadingGraph:
        """Follow all readings, layer by layer."""
        layers: dict[int, dict[Place, int]] = {}
        raw: list[list[Edge]] = [[]]
        keys: list[Place] = [(self.diagram.root, OVER, -1)]
        ticks: list[int] = []

        def follow(source: int, node: int, ways: list[Way]) -> None:
            children = dict(zip(self.diagram.labels[node], self.diagram.children[node], strict=True))
            for label, place, reading, marks in ways:
                child = children.get(label)
                if child is None:
                    continue
                tick = self.diagram.events[label].onset
                if tick not in layers:
                    layers[tick] = {}
                    heapq.heappush(ticks, tick)
                layer = layers[tick]
                found = layer.get((child, place, reading))
                if found is None:
                    found = layer[child, place, reading] = len(raw)
                    raw.append([])
                    keys.append((child, place, reading))
                raw[source].append((label, marks, found))

        follow(0, self.diagram.root, self._entries())
        order: list[int] = []
        while ticks:
            tick = heapq.heappop(ticks)
            for (node, place, reading), index in layers[tick].items():
                order.append(index)
                follow(index, node, self._after(place, reading))
        ended = [
            reading >= 0 and self.readings.fronts[reading].done and self.diagram.accepts[node]
            for node, _, reading in keys
        ]
        return merged(tuple(self.bit), raw, ended, [*reversed(order), 0])

    # -- single readings -------------------------------------------------------------------------------------

    def _mark(self, kind: str, value: Hashable, chord: int = 0) -> int:
        return 1 << self.bit.setdefault(Mark(kind, chord, value), len(self.bit))

    def _entries(self) -> list[Way]:
        return [
            way
            for step in self.anatomy.rhythm.entries
            for pitch, taken in self.readings.begin(step).items()
            for way in self._ways(step, NO_PITCH, pitch, taken)
        ]

    def _after(self, place: int, reading: int) -> list[Way]:
        """Every note that may follow a reading."""
        found = self._onward.get((place, reading))
        if found is None:
            front = self.readings.fronts[reading]
            if front.tails:
                found = [self._play(tail, 0) for tail in front.tails]
            else:
                found = [] if front.done else self._go_on(place, reading, front)
            found = self._onward[place, reading] = [way for way in found if way[0] >= 0]
        return found

    def _go_on(self, place: int, reading: int, front: Front) -> list[Way]:
        node = self.anatomy.rhythm.nodes[place]
        found = [
            way
            for step in node.steps
            for pitch, taken in self.readings.after(self.anatomy.moment(step), reading).items()
            for way in self._ways(step, front.pitch, pitch, taken)
        ]
        for stop in node.stops:
            for events in self.anatomy.ending_starts(stop, front):
                found.append(self._play(events, self._ended(stop, front, events)))
        return found

    def _ways(self, step: Step, before: int, pitch: int, taken: list[Taken]) -> Iterator[Way]:
        label = self.label.get(Event(step.onset, pitch, step.length), -1)
        if label < 0:
            return
        moment = self.anatomy.moment(step)
        chord = self.rules.progression.chord_index(step.onset // self.rules.slot_ticks)
        for each in taken:
            marks = self._begun(chord, before, each) if each.opens else 0
            if each.role == Role.TARGET:
                marks |= self._landed(step, chord, pitch)
            if moment.fresh:
                marks |= self._mark(HANDOFF, pitch, chord)
            if moment.resolves:
                marks |= self._mark(ENDING, PLAIN)
            yield label, step.node, each.reading, marks

    def _play(self, tail: Events, marks: int) -> Way:
        """The first event of a stock ending's rest."""
        left = frozenset((tail[1:],)) if tail[1:] else frozenset()
        after = Front(NO_PITCH, NO_TONES, NOTHING_OPEN, left, not left)
        return self.label.get(tail[0], -1), OVER, self.readings.number(after), marks

    # -- marks -----------------------------------------------------------------------------------------------

    def _begun(self, chord: int, before: int, taken: Taken) -> int:
        """The marks of a move of several notes: a figure's names, or the kinds of passing notes."""
        if taken.kind == FILL:
            kinds = passing_kinds(self.anatomy.table.grounds[chord], before, taken.opens)
            return sum(self._mark(PASSING, kind) for kind in kinds)
        names = self.rules.figures_with(chord + taken.across, taken.opens)
        return sum(self._mark(FIGURE, figure.name) for figure in names)

    def _landed(self, step: Step, chord: int, target: int) -> int:
        """The mark of a figure's target."""
        progression = self.rules.progression
        degree = progression.chords[chord].degree_of(target)
        slot = step.onset // self.rules.slot_ticks
        return self._mark(TARGET, (degree, slot % progression.slots_per_bar))

    def _ended(self, stop: Stop, front: Front, events: Events) -> int:
        """The marks of stock endings that begin with these events: their names, and the changes inside."""
        progression = self.rules.progression
        marks = 0
        for ending in self.anatomy.endings_at(stop):
            if ending.after(front.pitch) == events:
                marks |= self._mark(ENDING, ending.name)
        begun = progression.chord_index(events[0].onset // self.rules.slot_ticks)
        for index in range(max(1, begun + (not stop.fresh)), len(progression.chords)):
            marks |= self._mark(HANDOFF, None, index)
        return marks
