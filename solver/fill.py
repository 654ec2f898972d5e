"""Every way to fill the blanks of a line: exact, by the diagram, without trying pitches."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field

from everyline.rules.line import Event, Events
from everyline.solver.diagram import Diagram


@dataclass
class Fill:
    """The valid lines that agree with a line everywhere but on its blanks, whose rhythm stays.

    ``blanks`` are the places of the notes (from 0) whose pitch is open.
    """

    diagram: Diagram
    line: Events
    blanks: Collection[int]
    _counts: dict[tuple[int, int], int] = field(default_factory=dict, repr=False)

    @property
    def count(self) -> int:
        """How many lines there are."""
        return self._count(self.diagram.root, 0)

    def lines(self) -> Iterator[Events]:
        """All of them, in the order of their numbers."""
        return self._lines(self.diagram.root, ())

    def _edges(self, node: int, place: int) -> Iterator[tuple[Event, int]]:
        wanted = self.line[place]
        for label, child in zip(self.diagram.labels[node], self.diagram.children[node], strict=True):
            event = self.diagram.events[label]
            same_time = (event.onset, event.length) == (wanted.onset, wanted.length)
            if same_time and (place in self.blanks or event.pitch == wanted.pitch):
                yield event, child

    def _count(self, node: int, place: int) -> int:
        if place == len(self.line):
            return int(self.diagram.accepts[node])
        key = (node, place)
        if key not in self._counts:
            edges = self._edges(node, place)
            self._counts[key] = sum(self._count(child, place + 1) for _, child in edges)
        return self._counts[key]

    def _lines(self, node: int, so_far: Events) -> Iterator[Events]:
        if len(so_far) == len(self.line):
            if self.diagram.accepts[node]:
                yield so_far
            return
        for event, child in self._edges(node, len(so_far)):
            if self._count(child, len(so_far) + 1):
                yield from self._lines(child, (*so_far, event))


def continuations(diagram: Diagram, given: Events) -> int:
    """How many valid lines begin with these notes."""
    reached, node = diagram.reach(given)
    return diagram.totals[node] if reached == len(given) else 0
