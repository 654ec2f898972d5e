"""Solving: every analysis, note by note, and the distinct lines that they make."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Any

from tests.reference.anatomy import Move, State, moves, openings
from tests.reference.limits import holds, meets_targets
from tests.reference.rulefile import Rules, parse_rules
from tests.reference.vocabulary import Event

# Semitones at most, and their cost.
COSTS = ((0, 2), (2, 0), (4, 1), (7, 3), (12, 6), (127, 10))

Line = tuple[Event, ...]
Roles = tuple[str, ...]


class Result:
    """All valid lines of a rule file, each with all its analyses."""

    def __init__(self, rules: Rules, found: dict[Line, list[Roles]]) -> None:
        self.rules = rules
        self._found = found
        # The rules say: "Lines are ordered event by event: earlier onset first, then lower pitch, then
        # shorter duration."
        self.lines: list[Line] = sorted(found, key=order)

    def number(self, line: Line) -> int:
        """The rules say: "A line's number is its place in that order, from 1."."""
        return self.lines.index(line) + 1

    def analyses(self, line: Line) -> list[Roles]:
        """Every distinct assignment of roles, in alphabetical order."""
        return sorted(set(self._found[line]))

    def best_analyses(self, line: Line) -> list[Roles]:
        """The rules say: "the one shown has the fewest approach notes, then the earliest targets"; all that
        tie."""
        ranked = {roles: preference(line, roles) for roles in self.analyses(line)}
        return [roles for roles, rank in ranked.items() if rank == min(ranked.values())]

    def best_analysis(self, line: Line) -> Roles:
        return self.best_analyses(line)[0]

    def smoothest(self, most: int) -> list[tuple[int, int]]:
        """Roughness and number of the smoothest lines.  "Ties go by line number."."""
        ranked = sorted((roughness(line), number) for number, line in enumerate(self.lines, 1))
        return ranked[:most]


def order(line: Line) -> list[tuple[int, int, int]]:
    return [(onset, pitch, length) for onset, length, pitch in line]


def preference(line: Line, roles: Roles) -> tuple[int, list[int]]:
    targets = [event[0] for event, role in zip(line, roles, strict=True) if role == "target"]
    return roles.count("approach"), targets


def roughness(line: Line) -> int:
    """The rules say: "for each melodic interval in semitones 0 costs 2, 1-2 cost 0, 3-4 cost 1, 5-7 cost 3,
    8-12 cost 6, more costs 10; and each interval of 5 or more costs 2 more unless the next interval is 1 to 4
    semitones the other way; the last interval of the line owes nothing more"."""
    steps = [b[2] - a[2] for a, b in itertools.pairwise(line)]
    total = 0
    for place, step in enumerate(steps):
        size = abs(step)
        total += next(cost for most, cost in COSTS if size <= most)
        if size >= 5 and place + 1 < len(steps):
            back = steps[place + 1] * (-1 if step > 0 else 1)
            total += 0 if 1 <= back <= 4 else 2
    return total


class TooBig(Exception):
    """More states than whoever asked would wait for."""


class Search:
    """Depth first through every analysis; what lies ahead of a state is worked out once and kept."""

    def __init__(self, rules: Rules, most_states: int | None = None) -> None:
        self.rules = rules
        self.most_states = most_states
        self._ahead: dict[State, list[Move]] = {}

    def openings(self) -> list[Move]:
        """The first notes from which the line can be finished."""
        return [move for move in openings(self.rules) if move[2].over or self.ahead(move[2])]

    def ahead(self, state: State) -> list[Move]:
        """The next notes from which the line can still be finished."""
        if state not in self._ahead:
            if self.most_states is not None and len(self._ahead) >= self.most_states:
                raise TooBig
            found = moves(self.rules, state)
            self._ahead[state] = [move for move in found if move[2].over or self.ahead(move[2])]
        return self._ahead[state]

    def analyses(self, before: Move, line: Line, roles: Roles) -> Iterator[tuple[Line, Roles]]:
        """Every whole analysis that begins with these notes and goes on with this one."""
        event, role, state = before
        line, roles = (*line, event), (*roles, role)
        if state.over:
            yield line, roles
        for move in self.ahead(state):
            yield from self.analyses(move, line, roles)


def solve(rules: dict[str, Any] | str) -> Result:
    """Enumerate every analysis; keep the lines whose limits hold and the analyses that meet `must-target`."""
    parsed = parse_rules(rules)
    found: dict[Line, list[Roles]] = {}
    search = Search(parsed)
    for opening in search.openings():
        for line, roles in search.analyses(opening, (), ()):
            # The rules say: must-target "asks that one single analysis meet it together with everything
            # else".
            if meets_targets(parsed, line, roles):
                found.setdefault(line, []).append(roles)
    # "A line with two analyses is one line and is counted once."
    return Result(parsed, {line: roles for line, roles in found.items() if holds(parsed, line)})
