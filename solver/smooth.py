"""The smoothest lines of a whole space, exactly, without listing it; and how rough its lines are.

Roughness looks back over two notes, so the fold remembers the last pitch and whether a leap still waits to be
filled.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from everyline.rules.line import Events
from everyline.rules.roughness import gap_cost, interval_cost
from everyline.rules.ruleset import Weights
from everyline.solver.diagram import Diagram
from everyline.solver.fold import Fold

FREE, UP, DOWN = 0, 1, 2
"""What a line still owes: nothing, or the filling of a leap up or down."""

_NO_NOTE = -1
_WIDEST = 127


@dataclass(frozen=True, slots=True)
class Ranked:
    """A line, its roughness and its number in the whole space."""

    roughness: int
    number: int
    events: Events


def smoothest(diagram: Diagram, weights: Weights | None = None) -> Iterator[Ranked]:
    """All lines from smooth to rough, ties by number, each worked out when it is asked for."""
    return (Ranked(*each) for each in roughness_fold(diagram, weights).best())


def roughness_histogram(diagram: Diagram, weights: Weights | None = None) -> dict[int, int]:
    """How many lines there are of each roughness, in rising order; exact at any size."""
    return roughness_fold(diagram, weights).histogram()


def roughness_fold(diagram: Diagram, weights: Weights | None = None) -> Fold[int, int]:
    """The fold whose values are what each note adds to the roughness."""
    pitches = [event.pitch for event in diagram.events]
    costs = _costs(weights or Weights())

    def step(memory: int, label: int) -> tuple[int, int]:
        pitch = pitches[label]
        if memory < 0:
            return pitch * 3, 0
        last, owed = divmod(memory, 3)
        cost, owes = costs[owed][pitch - last + _WIDEST]
        return pitch * 3 + owes, cost

    return Fold[int, int].of(diagram, _NO_NOTE, step)


def _costs(weights: Weights) -> list[list[tuple[int, int]]]:
    """``[owed][interval + 127]``: (cost, owed then), from the one definition of roughness."""
    leaps = {FREE: 0, UP: max(weights.leap, 1), DOWN: -weights.leap}
    table = []
    for owed in (FREE, UP, DOWN):
        row = []
        for interval in range(-_WIDEST, _WIDEST + 1):
            cost = interval_cost(interval, weights)
            if owed != FREE:
                cost += gap_cost(leaps[owed], interval, weights)
            owes = FREE if abs(interval) < weights.leap else UP if interval > 0 else DOWN
            row.append((cost, owes))
        table.append(row)
    return table
