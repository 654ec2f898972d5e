"""Every way to fill the blanks of a line: exact, by the diagram, without trying pitches."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from functools import cached_property

from everyline.rules.line import Events
from everyline.solver.diagram import Diagram
from everyline.solver.fold import Fold


@dataclass(frozen=True)
class Fill:
    """The valid lines that agree with a line everywhere but on its blanks, whose rhythm stays.

    ``blanks`` are the places of the notes (from 0) whose pitch is open.
    """

    diagram: Diagram
    line: Events
    blanks: Collection[int]

    @cached_property
    def _fold(self) -> Fold[int, int]:
        """The lines that agree; what is remembered is how many notes have been read."""
        line, blanks, events = self.line, frozenset(self.blanks), self.diagram.events

        def step(place: int, label: int) -> tuple[int, int] | None:
            if place == len(line):
                return None
            event, wanted = events[label], line[place]
            agrees = event if place not in blanks else event._replace(pitch=wanted.pitch)
            return (place + 1, 0) if agrees == wanted else None

        return Fold[int, int].of(self.diagram, 0, step, lambda place: place == len(line))

    @property
    def count(self) -> int:
        """How many lines there are."""
        return self._fold.sums()[0]

    def lines(self) -> Iterator[Events]:
        """All of them, in the order of their numbers."""
        return (events for _, _, events in self._fold.best())


def continuations(diagram: Diagram, given: Events) -> int:
    """How many valid lines begin with these notes."""
    after = diagram.after(given)
    return after.count if after else 0
