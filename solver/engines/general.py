"""What the engines on general-purpose solvers share: they find every line, then put them in order."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

from everyline.corpora.errors import Stopped
from everyline.rules.line import Events
from everyline.rules.own import meets_filters
from everyline.rules.ruleset import Rules
from everyline.solver.compiler import compile_rules
from everyline.solver.contract import DEFAULT, Allowance, Clock, check_most
from everyline.solver.engines.skeleton import Skeleton, skeletons


class GeneralEngine(ABC):
    """An engine that gives a general solver one skeleton after another and collects what it finds.

    Even the first line is known only when all are: a general solver finds them in an order of its own. So
    that nobody waits for days, a space with more lines than allowed is refused before the search; how many it
    has, the diagram says.
    """

    name: str

    def __init__(self, allowance: Allowance) -> None:
        self._allowance = allowance

    @abstractmethod
    def pitches(self, skeleton: Skeleton, clock: Clock) -> Iterator[tuple[int, ...]]:
        """The pitches of every line of a skeleton; a line may come more than once."""

    def _all(self, rules: Rules) -> set[Events]:
        clock = Clock(self.name, self._allowance)
        most = self._allowance.most_lines
        if most is not None:
            self._refuse_above(most, rules)
        found = {
            skeleton.events(pitches)
            for skeleton in skeletons(rules)
            for pitches in self.pitches(skeleton, clock)
        }
        return found if not rules.filters else {line for line in found if self._meets(rules, line, clock)}

    def _meets(self, rules: Rules, line: Events, clock: Clock) -> bool:
        clock.left()
        return meets_filters(rules, line)

    def _refuse_above(self, most: int, rules: Rules) -> None:
        # Whole-line rules are asked of what the solver finds, so what they would leave says nothing here.
        count = compile_rules(replace(rules, filters=())).count
        if count > most:
            raise Stopped(
                f"the engine {self.name} looks at every line by itself, at most {most} of them, and these "
                f'rules allow {count}; use the engine "{DEFAULT}", narrow the rules, or let it look at more.'
            )

    def count(self, rules: Rules) -> int:
        """The number of lines; see ``Engine.count``."""
        return len(self._all(rules))

    def lines(self, rules: Rules) -> Iterator[Events]:
        """All lines in order; see ``Engine.lines``. All are held in memory."""
        return iter(sorted(self._all(rules)))

    def first(self, rules: Rules, most: int) -> tuple[Events, ...]:
        """The first lines; see ``Engine.first``. It takes as long as all of them."""
        check_most(most)
        return tuple(islice(self.lines(rules), most))
