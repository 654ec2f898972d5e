"""The default engine: everything is read off the diagram of all lines."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

from everyline.rules.line import Events
from everyline.rules.ruleset import Rules
from everyline.solver.compiler import compile_rules
from everyline.solver.contract import Allowance, Clock, check_most
from everyline.solver.diagram import Diagram

_LINES_BETWEEN_LOOKS = 4096


class DiagramEngine:
    """Compiles the rules once and walks the diagram; the number of lines does not matter to it.

    The time limit is looked at after compiling, which is not broken off, and while lines are read.
    """

    name = "diagram"

    def __init__(self, allowance: Allowance) -> None:
        self._allowance = allowance
        self._last: tuple[Rules, Diagram] | None = None

    def diagram(self, rules: Rules) -> Diagram:
        """The diagram of these rules; asked again for the same rules, it is not compiled again."""
        if self._last is None or self._last[0] is not rules:
            self._last = rules, compile_rules(rules)
        return self._last[1]

    def count(self, rules: Rules) -> int:
        """The number of lines; see ``Engine.count``."""
        clock = Clock(self.name, self._allowance)
        count = self.diagram(rules).count
        clock.left()
        return count

    def lines(self, rules: Rules) -> Iterator[Events]:
        """All lines in order; see ``Engine.lines``.

        They are worked out one at a time, as they are asked for.
        """
        clock = Clock(self.name, self._allowance)
        diagram = self.diagram(rules)
        clock.left()
        return self._walk(diagram, clock)

    def _walk(self, diagram: Diagram, clock: Clock) -> Iterator[Events]:
        for place, line in enumerate(diagram.walk()):
            if place % _LINES_BETWEEN_LOOKS == 0:
                clock.left()
            yield line

    def first(self, rules: Rules, most: int) -> tuple[Events, ...]:
        """The first lines; see ``Engine.first``."""
        check_most(most)
        return tuple(islice(self.lines(rules), most))


def build(allowance: Allowance) -> DiagramEngine:
    """The engine, held to an allowance."""
    return DiagramEngine(allowance)
