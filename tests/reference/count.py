"""Counting without listing: what lies ahead depends only on the set of states that the notes so far allow."""

from __future__ import annotations

from typing import Any

from tests.reference.anatomy import Move, State
from tests.reference.result import Search, solve
from tests.reference.rulefile import parse_rules
from tests.reference.vocabulary import Event

# The limits that the states keep up with; with any other the lines are listed.
COUNTED = {"notes", "rests"}


def by_event(found: list[Move]) -> dict[Event, frozenset[State]]:
    """One entry for each next note, with every state that it can lead to."""
    groups: dict[Event, set[State]] = {}
    for event, _, state in found:
        groups.setdefault(event, set()).add(state)
    return {event: frozenset(states) for event, states in groups.items()}


def count_analyses(rules: dict[str, Any] | str, most_states: int | None = None) -> int:
    """The number of analyses, limits aside (but for those on notes and rests): how much there is to list.

    Raises TooBig where that takes more than so many states.
    """
    parsed = parse_rules(rules)
    search = Search(parsed, most_states)
    known: dict[State, int] = {}

    def ahead(state: State) -> int:
        if state not in known:
            known[state] = int(state.over) + sum(ahead(after) for _, _, after in search.ahead(state))
        return known[state]

    return sum(ahead(state) for _, _, state in search.openings())


def count(rules: dict[str, Any] | str) -> int:
    """The number of distinct lines.  "A line with two analyses is one line and is counted once."

    Lines that begin with the same notes share a set of states, so no line is met twice; sets of states that
    have been met before are not walked again.
    """
    parsed = parse_rules(rules)
    if {limit["kind"] for limit in parsed.limits} - COUNTED:
        return len(solve(rules).lines)
    search = Search(parsed)
    known: dict[frozenset[State], int] = {}

    def ahead(states: frozenset[State]) -> int:
        if states not in known:
            here = int(any(state.over for state in states))
            steps = by_event([move for state in states for move in search.ahead(state)])
            known[states] = here + sum(ahead(after) for after in steps.values())
        return known[states]

    return sum(ahead(states) for states in by_event(search.openings()).values())
