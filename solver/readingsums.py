"""Sums over a graph of readings: how many lines have each mark in at least one of their readings."""

from __future__ import annotations

import heapq

from everyline.solver.figure_marks import ReadingGraph
from everyline.solver.packs import Packs

State = tuple[tuple[int, ...], tuple[int, ...]]
"""Readings of the notes so far without the mark, and with it; a reading reached both ways is with it."""


def count_each(graph: ReadingGraph, most: int) -> list[int]:
    """For every mark of the graph, the number of distinct lines with a reading that carries it.

    ``most`` is the number of all lines. All marks are counted at once: a state is a pair of sets of
    readings, and where an edge carries some marks, the lanes of those marks go one way and the rest another.
    """
    packs = Packs(len(graph.marks), most)
    every = (1 << len(graph.marks)) - 1
    start: State = ((graph.root,), ())
    ids: dict[State, int] = {start: 0}
    states: list[State] = [start]
    steps: list[list[tuple[int, int]]] = [[]]
    order: list[int] = []
    queue = [(-graph.root, 0)]
    while queue:  # children have smaller indices, so a state comes after all that lead to it
        _, index = heapq.heappop(queue)
        order.append(index)
        without, having = states[index]
        for state, lanes in _after(graph, without, having, every):
            found = ids.get(state)
            if found is None:
                found = ids[state] = len(states)
                states.append(state)
                steps.append([])
                heapq.heappush(queue, (-max((*state[0], *state[1])), found))
            steps[index].append((found, lanes))
    sums = [0] * len(states)
    for index in reversed(order):
        total = packs.ones if any(graph.accepts[reading] for reading in states[index][1]) else 0
        for child, lanes in steps[index]:
            total += sums[child] if lanes == every else sums[child] & packs.spread(lanes)
        sums[index] = total
    return packs.unpack(sums[0])


def _after(
    graph: ReadingGraph, without: tuple[int, ...], having: tuple[int, ...], every: int
) -> list[tuple[State, int]]:
    """(state after one more note, the marks for which it is that state) for each note and group of marks."""
    plain: dict[int, dict[int, int]] = {}
    got: dict[int, set[int]] = {}
    for reading in without:
        for label, marks, child in graph.edges[reading]:
            ways = plain.setdefault(label, {})
            ways[child] = ways.get(child, 0) | marks
    for reading in having:
        for label, _, child in graph.edges[reading]:
            got.setdefault(label, set()).add(child)
    found: list[tuple[State, int]] = []
    for label in plain.keys() | got.keys():
        has = got.get(label, set())
        ways = {child: marks for child, marks in plain.get(label, {}).items() if child not in has}
        groups: dict[frozenset[int], int] = {frozenset(has): every}
        for child, marks in ways.items():
            if marks:
                groups = _part(groups, child, marks)
        for with_it, lanes in groups.items():
            rest = tuple(sorted(child for child in ways if child not in with_it))
            found.append(((rest, tuple(sorted(with_it))), lanes))
    return found


def _part(groups: dict[frozenset[int], int], child: int, marks: int) -> dict[frozenset[int], int]:
    """Each group of marks in two: those that the way to ``child`` carries, and the others."""
    parted: dict[frozenset[int], int] = {}
    for with_it, lanes in groups.items():
        for having, part in ((with_it | {child}, lanes & marks), (with_it, lanes & ~marks)):
            if part:
                parted[having] = parted.get(having, 0) | part
    return parted


def count_without(graph: ReadingGraph, kind: str) -> int:
    """The number of distinct lines with a reading in which nothing of this kind begins: FIGURE or PASSING."""
    marks = graph.bits(kind)
    start = frozenset((graph.root,))
    after: dict[frozenset[int], list[frozenset[int]]] = {}
    order: list[frozenset[int]] = []
    queue: list[tuple[int, int, frozenset[int]]] = [(-graph.root, 0, start)]
    seen = {start}
    while queue:
        _, _, state = heapq.heappop(queue)
        order.append(state)
        by_label: dict[int, set[int]] = {}
        for reading in state:
            for label, carried, child in graph.edges[reading]:
                if not carried & marks:
                    by_label.setdefault(label, set()).add(child)
        after[state] = [frozenset(children) for children in by_label.values()]
        for child_state in after[state]:
            if child_state not in seen:
                seen.add(child_state)
                heapq.heappush(queue, (-max(child_state), len(seen), child_state))
    sums: dict[frozenset[int], int] = {}
    for state in reversed(order):
        accept = any(graph.accepts[reading] for reading in state)
        sums[state] = accept + sum(sums[child] for child in after[state])
    return sums[start]
