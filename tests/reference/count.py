"""Counting without listing: what lies ahead depends only on the set of states that the notes so far allow."""

from __future__ import annotations

from typing import Any

from tests.reference.anatomy import Move, State, moves, openings
from tests.reference.result import solve
from tests.reference.rulefile import parse_rules
from tests.reference.vocabulary import Event


def by_event(found: list[Move]) -> dict[Event, frozenset[State]]:
    """One entry for each next note, with every state that it can lead to."""
    groups: dict[Event, set[State]] = {}
    for event, _, state in found:
        groups.setdefault(event, set()).add(state)
    return {event: frozenset(states) for event, states in groups.items()}


def count_analyses(rules: dict[str, Any] | str) -> int:
    """The number of analyses, limits aside: how much there is to list."""
    parsed = parse_rules(rules)
    known: dict[State, int] = {}

    def ahead(state: State) -> int:
        if state not in known:
            known[state] = int(state.over) + sum(ahead(after) for _, _, after in moves(parsed, state))
        return known[state]

    return sum(ahead(state) for _, _, state in openings(parsed))


def count(rules: dict[str, Any] | str) -> int:
    """The number of distinct lines.  With limits the lines are listed; without, sets of states are
    remembered."""
    parsed = parse_rules(rules)
    if parsed.limits:
        return len(solve(rules).lines)
    known: dict[frozenset[State], int] = {}

    def ahead(states: frozenset[State]) -> int:
        if states not in known:
            here = int(any(state.over for state in states))
            steps = by_event([move for state in states for move in moves(parsed, state)])
            known[states] = here + sum(ahead(after) for after in steps.values())
        return known[states]

    return sum(ahead(states) for states in by_event(list(openings(parsed))).values())
