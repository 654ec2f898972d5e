"""Tallies: how often each interval, degree and pitch is played over *all* lines of a space, and how many
lines have each roughness and each number of notes.

Exact at any size, and without listing a line: each is a fold over the diagram. What happens at one note is
counted by what passes along the arcs; what belongs to a whole line is counted backward, all values at once.
What is counted is in ``properties``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from everyline.rules.ruleset import Rules
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from everyline.solver.properties.base import LINES, NOTES, STEPS, Count
from everyline.solver.properties.table import PROPERTIES

__all__ = ["KINDS", "LINES", "NOTES", "STEPS", "Count", "Tally", "tallies"]

_TALLIED = {name: each.tally for name, each in PROPERTIES.items() if each.tally is not None}
KINDS: dict[str, str] = {name: PROPERTIES[name].says for name in _TALLIED}
"""Every kind of tally, and what is counted."""


@dataclass(frozen=True, slots=True)
class Tally:
    """Every value that occurs, in rising order. ``of`` says what was counted: NOTES, STEPS or LINES.

    The numbers of its entries are semitones (signed for an interval, above the root for a degree), MIDI
    pitches, costs, or plain numbers of what the kind names.
    """

    kind: str
    title: str
    of: str
    entries: tuple[Count, ...]

    @property
    def total(self) -> int:
        """How many notes, intervals or lines were counted in all."""
        return sum(entry.count for entry in self.entries)

    @property
    def mean(self) -> Fraction | None:
        """The exact mean; None for degrees, which have none, and where nothing was counted."""
        total = self.total
        if not _TALLIED[self.kind].has_mean or not total:
            return None
        return Fraction(sum(entry.number * entry.count for entry in self.entries), total)


def tallies(
    rules: Rules, diagram: Diagram | None = None, only: Iterable[str] | None = None
) -> tuple[Tally, ...]:
    """All tallies of the lines under ``rules``, or those of the kinds in ``only``, in the order of KINDS.

    ``diagram`` spares compiling again.
    """
    diagram = compile_rules(rules) if diagram is None else diagram
    wanted = frozenset(KINDS if only is None else only)
    return tuple(_tally(kind, rules, diagram) for kind in KINDS if kind in wanted)


def _tally(kind: str, rules: Rules, diagram: Diagram) -> Tally:
    tallied = _TALLIED[kind]
    entries = tuple(entry for entry in tallied.count(rules, diagram) if entry.count)
    return Tally(kind, KINDS[kind], tallied.of, entries)
