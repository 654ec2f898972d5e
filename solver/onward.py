"""The roles that the last note of a line's beginning can have, over all lines that go on from it."""

from __future__ import annotations

from collections.abc import Sequence

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


class Onward:
    """Follows beginnings of lines through all of their readings."""

    def __init__(self, rules: Rules, diagram: Diagram) -> None:
        self._graph: ReadingGraph = trace(rules, diagram)
        self._label = {event: label for label, event in enumerate(diagram.events)}
        sizes = {figure.name: len(figure.steps) for figure in rules.approach.figures}
        self._figures: dict[int, int] = {}
        """Notes of the figure that begins, by the bit of its mark."""
        for bit, mark in enumerate(self._graph.marks):
            if mark.kind == figure_marks.FIGURE:
                self._figures[1 << bit] = sizes[mark.value]
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
        states: set[State] = {(self._graph.root, _NONE)}
        for place, event in enumerate(beginning):
            states = {after for after, _ in self._steps(states, self._label.get(event), place == 0)}
        found: dict[Event, set[str]] = {}
        for event, label in self._label.items():
            for _, role in self._steps(states, label, not beginning):
                found.setdefault(event, set()).add(role)
        return {event: tuple(str(role) for role in ROLES if role in each) for event, each in found.items()}

    def _steps(self, states: set[State], label: int | None, first: bool) -> set[tuple[State, str]]:
        return {
            ((child, after), role)
            for node, under_way in states
            for each, marks, child in self._graph.edges[node]
            if each == label
            for after, role in self._read(under_way, self._notes[each], marks, first)
        }

    def _read(self, under_way: int, note: Note, marks: int, first: bool) -> list[tuple[int, str]]:
        """(what is under way after a note, its role): one for each size of figure that may begin."""
        if under_way == _ENDING or marks & self._endings:
            return [(_ENDING, ENDING)]
        if under_way > _NONE:
            return [(under_way - 1, TARGET if under_way == 1 else APPROACH)]
        # Passing notes lead to the next chord tone, or to the first note of the next chord.
        if under_way == _PASSING - note.chord and not note.chord_tone:
            return [(under_way, PASSING)]
        begun = {size for bit, size in self._figures.items() if marks & bit}
        if begun:
            return [(size, APPROACH) for size in sorted(begun)]
        if marks & self._passing:
            return [(_PASSING - note.chord, PASSING)]
        if first:
            return [(_NONE, ENTRY)]
        return [(_NONE, HANDOFF if marks & self._handoffs else ARPEGGIO)]
