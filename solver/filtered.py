"""Whole-line rules: every line is looked at, and those that hold become a diagram of their own.

So counting, numbering, sampling and everything else work on what is left as they do on any diagram.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import replace

from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.rules.line import Event, Events
from everyline.rules.own import meets_filters
from everyline.rules.ruleset import Rules
from everyline.rules.schema import listed
from everyline.solver.diagram import Diagram


class TooManyLines(InputError):
    """A whole-line rule may not look at so many lines; the message says how many there are."""


Looker = Callable[[Diagram, Rules], Iterator[Events]]
"""Gives the lines of a diagram that meet the whole-line rules, in order."""


def one_by_one(diagram: Diagram, rules: Rules) -> Iterator[Events]:
    """Look at every line in this process."""
    return (events for events in diagram.walk() if meets_filters(rules, events))


_looker: ContextVar[Looker] = ContextVar("looker", default=one_by_one)


@contextmanager
def looking_with(looker: Looker) -> Iterator[None]:
    """Let ``looker`` look at lines inside the block, on other processes say."""
    before = _looker.set(looker)
    try:
        yield
    finally:
        _looker.reset(before)


def filtered(diagram: Diagram, rules: Rules) -> Diagram:
    """The lines of a diagram that meet the whole-line rules.

    Raises TooManyLines where there are more lines than the rules may look at, and RuleFailed with the line
    where a rule's own code fails.
    """
    names = listed(f'"{rule.kind}"' for rule in rules.filters)
    most = min(rule.look_at for rule in rules.filters)
    if diagram.count > most:
        raise TooManyLines(
            f"the whole-line rule {names} has to look at every line by itself, and there are "
            f"{diagram.count}, more than {most}; narrow the other rules, write it as a step rule, or allow "
            f"it with --look-at {diagram.count}."
        )

    found = replace(of_lines(_looker.get()(diagram, rules)), looked_at=diagram.count)
    report = next((rule.report for rule in rules.filters if rule.report is not None), None)
    if report is not None:
        report(
            f"the whole-line rule {names} looked at {plural(diagram.count, 'line')} and left {found.count}."
        )
    return found


def of_lines(lines: Iterator[Events]) -> Diagram:
    """The smallest diagram of lines that come in order, each once. Holds one line and the diagram.

    Built line by line: what the next line no longer shares with the one before is finished, and a finished
    node that equals an earlier one becomes that one (Daciuk, Mihov, Watson and Watson 2000).
    """
    made = _Builder()
    for line in lines:
        made.add(line)
    return made.diagram()


class _Builder:
    def __init__(self) -> None:
        self._codes: dict[Event, int] = {}
        self._labels: list[tuple[int, ...]] = [()]
        self._children: list[tuple[int, ...]] = [()]
        self._accepts: list[bool] = [True]
        self._totals: list[int] = [1]
        self._known: dict[tuple[bool, tuple[int, ...], tuple[int, ...]], int] = {(True, (), ()): 0}
        self._last: Events = ()
        # For each note of the last line, and the root before them: labels, finished children, accepts.
        self._open: list[tuple[list[int], list[int], list[bool]]] = [([], [], [False])]

    def add(self, line: Events) -> None:
        shared = 0
        for old, new in zip(self._last, line, strict=False):
            if old != new:
                break
            shared += 1
        self._finish(shared)
        for event in line[shared:]:
            self._open[-1][0].append(self._codes.setdefault(event, len(self._codes)))
            self._open.append(([], [], [False]))
        self._open[-1][2][0] = True
        self._last = line

    def _finish(self, depth: int) -> None:
        while len(self._open) > depth + 1:
            node = self._node()
            self._open[-1][1].append(node)

    def _node(self) -> int:
        labels, children, accept = self._open.pop()
        key = (accept[0], tuple(labels), tuple(children))
        found = self._known.get(key)
        if found is None:
            found = self._known[key] = len(self._labels)
            self._labels.append(key[1])
            self._children.append(key[2])
            self._accepts.append(key[0])
            self._totals.append(key[0] + sum(self._totals[child] for child in children))
        return found

    def diagram(self) -> Diagram:
        self._finish(0)
        root = self._node()
        order = sorted(self._codes)
        number = {self._codes[event]: place for place, event in enumerate(order)}
        labels = tuple(tuple(number[code] for code in ways) for ways in self._labels)
        rest = (tuple(self._children), tuple(self._accepts), tuple(self._totals))
        return Diagram(tuple(order), labels, *rest, root)
