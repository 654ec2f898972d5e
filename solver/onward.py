"""The roles that the last note of a line's beginning can have, over all lines that go on from it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from everyline.rules.analysis import APPROACH, ARPEGGIO, ENDING, ENTRY, HANDOFF, PASSING, PLAIN, ROLES, TARGET
from everyline.rules.line import Event, Note
from everyline.rules.ruleset import Rules
from everyline.solver import figure_marks
from everyline.solver.diagram import Diagram
from everyline.solver.figure_marks import ReadingGraph, trace

_NONE, _ENDING, _PASSING = 0, -1, -2
State = tuple[int, int]
"""A node of the graph of readings, and what is under way: the notes still to come of a figure, its target
included; passing notes over chord c as -2 - c; -1 a stock ending; 0 nothing."""


@dataclass(frozen=True, slots=True)
class Ahead:
    """What a next note can be: its roles in the order of ROLES, and for each figure that can begin on it the
    name and a note that it can land on."""

    roles: tuple[str, ...]
    figures: tuple[tuple[str, Event], ...]


class Onward:
    """Follows beginnings of lines through all of their readings."""

    def __init__(self, rules: Rules, diagram: Diagram) -> None:
        self._graph: ReadingGraph = trace(rules, diagram)
        self._events = diagram.events
        self._label = {event: label for label, event in enumerate(diagram.events)}
        sizes = {figure.name: len(figure.steps) for figure in rules.approach.figures}
        self._figures: dict[int, tuple[str, int]] = {}
        """Name and notes of the figure that begins, by the bit of its mark."""
        for bit, mark in enumerate(self._graph.marks):
            if mark.kind == figure_marks.FIGURE:
                self._figures[1 << bit] = mark.value, sizes[mark.value]
        self._figure_marks = sum(self._figures)
        self._notes = [rules.note(event) for event in diagram.events]
        self._passing = self._graph.bits(figure_marks.PASSING)
        self._handoffs = self._graph.bits(figure_marks.HANDOFF)
        self._endings = sum(
            1 << bit
            for bit, mark in enumerate(self._graph.marks)
            if mark.kind == figure_marks.ENDING and mark.value != PLAIN
        )

    def roles(self, beginning: Sequence[Event]) -> dict[Event, tuple[str, ...]]:
        """For each event that may follow, the roles that it has in some reading of some line, in the order of
        ROLES. Nothing where no line begins so."""
        return {event: each.roles for event, each in self.ahead(beginning).items()}

    def ahead(self, beginning: Sequence[Event]) -> dict[Event, Ahead]:
        """The same with the figures that begin on each event, and where they land."""
        states: set[State] = {(self._graph.root, _NONE)}
        for place, event in enumerate(beginning):
            label = self._label.get(event)
            states = {
                (child, after) for each, child, after, _, _ in self._ways(states, place == 0) if each == label
            }
        roles: dict[int, set[str]] = {}
        figures: dict[int, set[tuple[str, Event]]] = {}
        for label, child, _, role, marks in self._ways(states, not beginning):
            roles.setdefault(label, set()).add(role)
            if role == APPROACH and marks & self._figure_marks:
                figures.setdefault(label, set()).update(self._landings(child, marks))
        return {
            self._events[label]: Ahead(
                tuple(str(role) for role in ROLES if role in found), tuple(sorted(figures.get(label, ())))
            )
            for label, found in roles.items()
        }

    def _landings(self, child: int, marks: int) -> Iterator[tuple[str, Event]]:
        """The figures that an edge begins, each with every note that it can land on."""
        for bit, (name, size) in self._figures.items():
            if not marks & bit:
                continue
            nodes, labels = {child}, set[int]()
            for _ in range(size):
                edges = [edge for node in nodes for edge in self._graph.edges[node]]
                nodes, labels = {below for _, _, below in edges}, {label for label, _, _ in edges}
            yield from ((name, self._events[label]) for label in labels)

    def _ways(self, states: set[State], first: bool) -> Iterator[tuple[int, int, int, str, int]]:
        """(label, node after it, what is under way then, role, marks) for each way on."""
        for node, under_way in states:
            for label, marks, child in self._graph.edges[node]:
                for after, role in self._read(under_way, self._notes[label], marks, first):
                    yield label, child, after, role, marks

    def _read(self, under_way: int, note: Note, marks: int, first: bool) -> list[tuple[int, str]]:
        """(what is under way after a note, its role): one for each size of figure that may begin."""
        if under_way == _ENDING or marks & self._endings:
            return [(_ENDING, ENDING)]
        if under_way > _NONE:
            return [(under_way - 1, TARGET if under_way == 1 else APPROACH)]
        # Passing notes lead to the next chord tone, or to the first note of the next chord.
        if under_way == _PASSING - note.chord and not note.chord_tone:
            return [(under_way, PASSING)]
        begun = {size for bit, (_, size) in self._figures.items() if marks & bit}
        if begun:
            return [(size, APPROACH) for size in sorted(begun)]
        if marks & self._passing:
            return [(_PASSING - note.chord, PASSING)]
        if first:
            return [(_NONE, ENTRY)]
        return [(_NONE, HANDOFF if marks & self._handoffs else ARPEGGIO)]
