"""A diagram and one more acceptor: the lines of the diagram that the acceptor lets pass, as a diagram.

Limits are joined to a diagram one after another, each time with dead ends dropped and equal tails merged, so
that what two limits remember is multiplied only where both of it still matters.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import repeat

from everyline.rules.acceptor import Acceptor, Limit, State
from everyline.rules.limits import LIMITS
from everyline.rules.limits.base import OWN_COST, note_name
from everyline.rules.own import RuleFailed
from everyline.rules.ruleset import Rules
from everyline.solver.budget import check_limit
from everyline.solver.diagram import Diagram

_DEAD = -1


def lightest_first(limits: Iterable[Limit]) -> list[Limit]:
    """Limits in the order in which they are joined: the first thin the diagram for the others."""
    return sorted(limits, key=lambda limit: LIMITS[limit.kind].cost if limit.kind in LIMITS else OWN_COST)


class _States:
    """The acceptor's states as small integers, 0 the start; each step is worked out once."""

    def __init__(self, acceptor: Acceptor, diagram: Diagram, rules: Rules) -> None:
        self._acceptor = acceptor
        self._notes = [rules.note(event) for event in diagram.events]
        start = acceptor.start()
        self._ids: dict[State, int] = {start: 0}
        self._states: list[State] = [start]
        self._steps: list[dict[int, int]] = [{}]
        self.at = (diagram.root, 0)

    def steps(self, state: int) -> dict[int, int]:
        """The steps of a state that are known."""
        return self._steps[state]

    def after(self, state: int, label: int) -> int:
        """The state after an event, or -1, worked out where it is not known."""
        found = self._steps[state].get(label)
        return self.work_out(state, label) if found is None else found

    def work_out(self, state: int, label: int) -> int:
        """The state after an event, or -1 when the acceptor refuses it."""
        after = self._acceptor.step(self._states[state], self._notes[label])
        found = _DEAD
        if after is not None:
            known = self._ids.get(after)
            if known is None:
                known = self._ids[after] = len(self._states)
                self._states.append(after)
                self._steps.append({})
            found = known
        self._steps[state][label] = found
        return found

    def check(self, pairs: int, nodes: int) -> None:
        """Stop before more pairs of a node and a state are met than a diagram may have nodes."""
        check_limit(pairs, nodes, self._acceptor.kind, len(self._states))

    def content(self, state: int) -> bool:
        """Whether a line may end in the state."""
        return self._acceptor.content(self._states[state])


Pairs = list[dict[int, int]]
"""For each node of the diagram, the states it is met in, each with the number of the new node."""


def intersect(diagram: Diagram, acceptor: Acceptor, rules: Rules) -> Diagram:
    """The lines of ``diagram`` that ``acceptor`` lets pass. Labels keep their meaning.

    Raises RuleFailed, with the line that was being read, where a rule in Python fails, and TooManyNodes where
    the two together would be larger than allowed.
    """
    states = _States(acceptor, diagram, rules)
    try:
        met = _meet(diagram, states)
        return _merge(diagram, states, met)
    except RuleFailed as failure:
        notes = [rules.note(diagram.events[label]) for label in _way_to(diagram, states)]
        notes += [] if failure.note is None else [failure.note]
        line = " ".join(note_name(rules.progression, note) for note in notes)
        raise failure.reading(line) from failure


def lets_through(diagram: Diagram, acceptors: Iterable[Acceptor], rules: Rules, most: int) -> bool | None:
    """Whether some line of the diagram passes all acceptors, which is soon seen where many do; None where it
    is not seen after ``most`` places, each a node with what the acceptors remember there."""
    every = [_States(acceptor, diagram, rules) for acceptor in acceptors]
    start = (diagram.root, (0,) * len(every))
    seen, open_ends = {start}, [start]
    while open_ends:
        node, at = open_ends.pop()
        if diagram.accepts[node] and all(map(_States.content, every, at)):
            return True
        for label, child in zip(diagram.labels[node], diagram.children[node], strict=True):
            place = (child, tuple(map(_States.after, every, at, repeat(label))))
            if _DEAD not in place[1] and place not in seen:
                if len(seen) >= most:
                    return None
                seen.add(place)
                open_ends.append(place)
    return False


def compact(diagram: Diagram) -> Diagram:
    """The same diagram without events that no line plays."""
    used = sorted({label for ways in diagram.labels for label in ways})
    numbers = {label: number for number, label in enumerate(used)}
    return replace(
        diagram,
        events=tuple([diagram.events[label] for label in used]),
        labels=tuple([tuple([numbers[label] for label in ways]) for ways in diagram.labels]),
    )


def _way_to(diagram: Diagram, states: _States) -> list[int]:
    """Labels of a way from the root to where the acceptor is being asked."""
    start = (diagram.root, 0)
    came: dict[tuple[int, int], tuple[tuple[int, int], int]] = {}
    open_ends = [start]
    while open_ends:
        node, state = place = open_ends.pop()
        if place == states.at:
            break
        for label, child in zip(diagram.labels[node], diagram.children[node], strict=True):
            after = states.steps(state).get(label, _DEAD)
            if after >= 0 and (child, after) not in came:
                came[child, after] = (place, label)
                open_ends.append((child, after))
    way: list[int] = []
    place = states.at
    while place != start and place in came:
        place, label = came[place]
        way.append(label)
    return way[::-1]


def _meet(diagram: Diagram, states: _States) -> Pairs:
    """Which states each node is met in; nodes come before their children when taken from the root down."""
    met: Pairs = [{} for _ in diagram.labels]
    met[diagram.root][0] = _DEAD
    pairs = 0
    for node in range(diagram.root, -1, -1):
        edges = list(zip(diagram.labels[node], diagram.children[node], strict=True))
        pairs += len(met[node])
        states.check(pairs, diagram.root)
        for state in met[node]:
            states.at = (node, state)
            known = states.steps(state)
            for label, child in edges:
                after = known.get(label)
                if after is None:
                    after = states.work_out(state, label)
                if after >= 0:
                    met[child][after] = _DEAD
    return met


def _merge(diagram: Diagram, states: _States, met: Pairs) -> Diagram:
    """Number what is left from the end, equal tails once."""
    labels: list[tuple[int, ...]] = [()]
    children: list[tuple[int, ...]] = [()]
    accepts: list[bool] = [True]
    totals: list[int] = [1]
    unique: dict[tuple[bool, tuple[int, ...], tuple[int, ...]], int] = {(True, (), ()): 0}
    for node, pairs in enumerate(met):
        edges = list(zip(diagram.labels[node], diagram.children[node], strict=True))
        for state in pairs:
            known = states.steps(state)
            alive = [
                (label, below)
                for label, child in edges
                if (after := known[label]) >= 0 and (below := met[child][after]) >= 0
            ]
            states.at = (node, state)
            accept = diagram.accepts[node] and states.content(state)
            if not alive and not accept:
                continue
            ways = tuple([label for label, _ in alive])
            nodes = tuple([below for _, below in alive])
            key = (accept, ways, nodes)
            found = unique.get(key)
            if found is None:
                found = unique[key] = len(labels)
                labels.append(ways)
                children.append(nodes)
                accepts.append(accept)
                totals.append(accept + sum([totals[below] for below in nodes]))
            pairs[state] = found
    root = met[diagram.root][0]
    if root == _DEAD:
        root = len(labels)
        labels.append(())
        children.append(())
        accepts.append(False)
        totals.append(0)
    return Diagram(diagram.events, tuple(labels), tuple(children), tuple(accepts), tuple(totals), root)
