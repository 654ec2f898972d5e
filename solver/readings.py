"""Every reading of every line of a diagram, as one graph whose edges say what an analysis has at that note.

A line may have several analyses. The diagram has one path for it; the graph here has one path for each of
its *readings*, and an edge carries *marks*: here an approach figure of this name begins, here a chord is
entered on this note, here this ending is played. A line has a mark in one of its analyses when one of its
paths carries it. Equal tails of readings are one node, so the graph stays small however many lines there
are.
"""

from __future__ import annotations

import heapq
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from typing import Any, NamedTuple

from everyline.rules.analysis import PLAIN
from everyline.rules.anatomy import Anatomy
from everyline.rules.front import ENDED, NO_PITCH, NO_TAILS, NO_TONES, NOTHING_OPEN, Front, Moment
from everyline.rules.ladder import figure_pitches
from everyline.rules.line import Events
from everyline.rules.ruleset import Rules
from everyline.solver.diagram import Diagram

FIGURE, TARGET, HANDOFF, ENDING = "figure", "target", "handoff", "ending"


class Mark(NamedTuple):
    """Something that an analysis has: the kind, the chord's index for a handoff (else 0), and which one.

    The value is a figure's name; (degree, slot within the bar) of a target; the pitch of a handoff, None
    where the change falls inside a stock ending; the name of an ending or ``plain``.
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
    can be read in several ways; an edge that begins a figure stands for readings that all begin one.
    Children have smaller indices than their parents.
    """

    marks: tuple[Mark, ...]
    edges: tuple[tuple[Edge, ...], ...]
    accepts: tuple[bool, ...]
    root: int

    def bits(self, kind: str) -> int:
        """All marks of a kind, as bits."""
        return sum(1 << bit for bit, mark in enumerate(self.marks) if mark.kind == kind)


def trace(rules: Rules, diagram: Diagram) -> ReadingGraph:
    """The graph of readings of a diagram's lines, under the rules that the diagram was compiled from."""
    return _Tracer(rules, diagram).run()


Moves = dict[int, list[tuple[int, int]]]
"""For each label: (the reading after it, marks as bits)."""


class _Tracer:
    """Follows single readings along the diagram, which already holds every limit."""

    def __init__(self, rules: Rules, diagram: Diagram) -> None:
        self.rules = rules
        self.diagram = diagram
        self.anatomy = Anatomy(rules)
        self.label = {event: label for label, event in enumerate(diagram.events)}
        self.bit: dict[Mark, int] = {}
        self.readings: list[Front] = []
        self.ids: dict[Front, int] = {}
        self._moments: dict[int, tuple[int, Moment]] = {}
        self._moment_ids: dict[Moment, int] = {}
        self._split_moves: dict[tuple[int, int], list[tuple[int, int, Front]]] = {}
        self._slot_moves: dict[tuple[int, int], Moves] = {}
        self._names: dict[tuple[int, tuple[int, ...], int], int] = {}

    # -- the graph -------------------------------------------------------------------------------------------

    def run(self) -> ReadingGraph:
        layers: dict[int, dict[tuple[int, int], int]] = {}
        raw: list[list[Edge]] = [[]]
        keys: list[tuple[int, int]] = [(self.diagram.root, -1)]
        ticks: list[int] = []

        def follow(source: int, node: int, moves: Moves) -> None:
            for label, child in zip(self.diagram.labels[node], self.diagram.children[node], strict=True):
                for reading, marks in moves.get(label, ()):
                    tick = self.diagram.events[label].onset
                    if tick not in layers:
                        layers[tick] = {}
                        heapq.heappush(ticks, tick)
                    layer = layers[tick]
                    found = layer.get((child, reading))
                    if found is None:
                        found = layer[child, reading] = len(raw)
                        raw.append([])
                        keys.append((child, reading))
                    raw[source].append((label, marks, found))

        follow(0, self.diagram.root, self._entries())
        order: list[int] = []
        while ticks:
            tick = heapq.heappop(ticks)
            for (node, reading), index in layers[tick].items():
                order.append(index)
                follow(index, node, self._moves(tick // self.rules.slot_ticks, reading))
        return self._merge(raw, keys, [*reversed(order), 0])

    def _merge(self, raw: list[list[Edge]], keys: list[tuple[int, int]], order: list[int]) -> ReadingGraph:
        """Drop readings that never come to an end; make those with the same tails one."""
        edges: list[tuple[Edge, ...]] = []
        accepts: list[bool] = []
        unique: dict[tuple[bool, tuple[Edge, ...]], int] = {}
        merged = [-1] * len(raw)
        figures = sum(1 << bit for mark, bit in self.bit.items() if mark.kind == FIGURE)
        for index in order:
            node, reading = keys[index]
            accept = reading >= 0 and self.readings[reading].done and self.diagram.accepts[node]
            # Ways to the same tails are one edge, save that a way without a figure stays apart.
            joined: dict[tuple[int, int, bool], int] = {}
            for label, marks, child in raw[index]:
                if merged[child] >= 0:
                    way = (label, merged[child], bool(marks & figures))
                    joined[way] = joined.get(way, 0) | marks
            if not joined and not accept and index:
                continue
            tails = tuple(sorted((label, marks, child) for (label, child, _), marks in joined.items()))
            found = unique.get((accept, tails))
            if found is None:
                found = unique[accept, tails] = len(edges)
                edges.append(tails)
                accepts.append(accept)
            merged[index] = found
        return ReadingGraph(tuple(self.bit), tuple(edges), tuple(accepts), merged[0])

    # -- single readings -------------------------------------------------------------------------------------

    def _id(self, front: Front) -> int:
        found = self.ids.get(front)
        if found is None:
            found = self.ids[front] = len(self.readings)
            self.readings.append(front)
        return found

    def _mark(self, kind: str, value: Hashable, chord: int = 0) -> int:
        return 1 << self.bit.setdefault(Mark(kind, chord, value), len(self.bit))

    def _moment(self, slot: int) -> tuple[int, Moment]:
        found = self._moments.get(slot)
        if found is None:
            moment = self.anatomy.moment(slot)
            number = self._moment_ids.setdefault(moment, len(self._moment_ids))
            found = self._moments[slot] = (number, moment)
        return found

    def _entries(self) -> Moves:
        moves: Moves = {}
        length = self.rules.slot_ticks
        for slot in self.anatomy.entry_slots():
            for pitch, opened in self.anatomy.entries(slot).items():
                label = self.label.get((slot * length, pitch, length))  # type: ignore[call-overload]
                if label is not None:
                    for single in singles(opened):
                        marks = self._begun(slot, pitch, single) if single.pending else 0
                        moves.setdefault(label, []).append((self._id(single), marks))
        return moves

    def _moves(self, slot: int, reading: int) -> Moves:
        """What may follow a reading whose last note began on a slot."""
        front = self.readings[reading]
        if front.done:
            return {}
        if front.tails:
            moves: Moves = {}
            for tail in front.tails:
                self._play(tail, 0, moves)
            return moves
        found = self._slot_moves.get((slot + 1, reading))
        if found is None:
            found = self._slot_moves[slot + 1, reading] = self._go_on(slot + 1, reading)
        return found

    def _go_on(self, slot: int, reading: int) -> Moves:
        number, moment = self._moment(slot)
        front = self.readings[reading]
        known = self._split_moves.get((number, reading))
        if known is None:
            after = self.anatomy.moves(moment, front)
            known = [(pitch, self._id(one), one) for pitch, all_ in after.items() for one in singles(all_)]
            self._split_moves[number, reading] = known
        rules = self.rules
        onset = slot * rules.slot_ticks
        length = self.anatomy.final_length if moment.resolves else rules.slot_ticks
        moves: Moves = {}
        for pitch, single_id, single in known:
            label = self.label.get((onset, pitch, length))  # type: ignore[call-overload]
            if label is None:
                continue
            marks = 0
            if single.pending:
                marks = self._begun(slot, pitch, single) if front.tones else 0
            elif moment.fresh:
                marks = self._mark(HANDOFF, pitch, moment.chord)
            if moment.resolves:
                marks |= self._mark(ENDING, PLAIN)
            moves.setdefault(label, []).append((single_id, marks))
        for events in self.anatomy.ending_starts(moment, front):
            self._play(events, self._ended(moment, front, events), moves)
        return moves

    def _play(self, tail: Events, marks: int, moves: Moves) -> None:
        """Go on with the first event of a stock ending's rest."""
        label = self.label.get(tail[0])
        if label is not None:
            left = frozenset((tail[1:],)) if tail[1:] else frozenset()
            after = Front(NO_PITCH, NO_TONES, NOTHING_OPEN, left, not left)
            moves.setdefault(label, []).append((self._id(after), marks))

    # -- marks -----------------------------------------------------------------------------------------------

    def _begun(self, slot: int, first: int, single: Front) -> int:
        """The marks of a figure whose first note falls on a slot: its names and its target."""
        ((_, pending),) = single.pending
        ((left, target),) = pending
        notes = (first, *left)
        lands = slot + len(notes)
        progression = self.rules.progression
        index = progression.chord_index(lands)
        degree = progression.chords[index].degree_of(target)
        marks = self._mark(TARGET, (degree, lands % progression.slots_per_bar))
        key = (index, notes, target)
        names = self._names.get(key)
        if names is None:
            root, scale = progression.chords[index].root_class, self.rules.scales[index]
            names = self._names[key] = sum(
                self._mark(FIGURE, figure.name)
                for figure in self.rules.approach.figures
                if len(figure.steps) == len(notes)
                and figure_pitches(figure.steps, target, root, scale) == notes
            )
        return marks | names

    def _ended(self, moment: Moment, front: Front, events: Events) -> int:
        """The marks of stock endings that begin with these events: their names, and the changes inside."""
        progression = self.rules.progression
        marks = 0
        for ending in moment.endings:
            if ending.after(front.pitch) == events:
                marks |= self._mark(ENDING, ending.name)
        for index, start in enumerate(progression.starts):
            if index and start * self.rules.slot_ticks >= events[0].onset:
                marks |= self._mark(HANDOFF, None, index)
        return marks


def singles(front: Front) -> Iterable[Front]:
    """The readings of a front, each as a front of its own."""
    for tone in front.tones:
        yield Front(front.pitch, frozenset((tone,)), NOTHING_OPEN, NO_TAILS, False)
    for context, pending in front.pending:
        for each in pending:
            one = frozenset(((context, frozenset((each,))),))
            yield Front(NO_PITCH, NO_TONES, one, NO_TAILS, False)
    if front.done:
        yield ENDED
