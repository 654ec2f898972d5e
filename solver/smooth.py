"""The smoothest lines of a whole space, exactly, without listing it; and how rough its lines are.

Roughness looks back over two notes, so a line is followed as (node, last pitch, whether a leap still waits to
be filled). On these states the least roughness still to come is worked out backward once; with it a
best-first search (A*: Hart, Nilsson and Raphael 1968) never goes astray, and each further line costs only
its own length.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass, field

from everyline.rules.line import Event, Events
from everyline.rules.roughness import gap_cost, interval_cost
from everyline.rules.ruleset import Weights
from everyline.solver.diagram import Diagram

FREE, UP, DOWN = 0, 1, 2
"""What a line still owes: nothing, or the filling of a leap up or down."""

State = tuple[int, int]
"""(last pitch as a MIDI number, what is owed)."""

_NO_NOTE: State = (-1, FREE)
_WIDEST = 127


@dataclass(frozen=True, slots=True)
class Ranked:
    """A line, its roughness and its number in the whole space."""

    roughness: int
    number: int
    events: Events


def smoothest(diagram: Diagram, weights: Weights | None = None) -> Iterator[Ranked]:
    """All lines from smooth to rough, ties by number, each worked out when it is asked for."""
    return _Search(Graph.of(diagram, weights or Weights())).run()


def roughness_histogram(diagram: Diagram, weights: Weights | None = None) -> dict[int, int]:
    """How many lines there are of each roughness, in rising order; exact at any size."""
    graph = Graph.of(diagram, weights or Weights())
    # One whole number holds the counts of all roughnesses, each in a lane wide enough for every line. Such
    # numbers are large, so they are kept only as long as a node further up may ask for them.
    lane = diagram.count.bit_length() + 1
    done = diagram.done_after()
    sums = [0] * len(graph.states)
    for node, places in enumerate(graph.index):
        for state, place in places.items():
            total = int(diagram.accepts[node])
            for cost, below in graph.steps(node, state):
                total += sums[below] << (cost * lane)
            sums[place] = total
        for child in done[node]:
            for place in graph.index[child].values():
                sums[place] = 0
    return _lanes(sums[-1], lane) if sums else {}


def _lanes(pack: int, width: int) -> dict[int, int]:
    """The lanes of a pack that hold something, by their place."""
    mask = (1 << width) - 1
    found = ((place, pack >> (place * width) & mask) for place in range(-(-pack.bit_length() // width)))
    return {place: count for place, count in found if count}


@dataclass(frozen=True)
class Graph:
    """A diagram whose nodes are told apart by what roughness must remember.

    ``states`` are (node, state) with children before parents; the last is the root.
    """

    diagram: Diagram
    states: tuple[tuple[int, State], ...]
    index: tuple[dict[State, int], ...]
    """For each node, the place of each of its states."""
    costs: tuple[tuple[tuple[int, int], ...], ...]
    """``costs[owed][interval + 127]``: (cost, owed then)."""
    pitches: tuple[int, ...]
    """The pitch of each label."""

    @classmethod
    def of(cls, diagram: Diagram, weights: Weights) -> Graph:
        """All states that some line passes through."""
        costs = _costs(weights)
        pitches = tuple(event.pitch for event in diagram.events)
        reached: list[dict[State, int]] = [{} for _ in diagram.labels]
        reached[diagram.root][_NO_NOTE] = 0
        for node in range(diagram.root, 0, -1):
            edges = [
                (pitches[label], reached[child])
                for label, child in zip(diagram.labels[node], diagram.children[node], strict=True)
            ]
            for last, owed in reached[node]:
                row = costs[owed]
                for pitch, below in edges:
                    below[pitch, FREE if last < 0 else row[pitch - last + _WIDEST][1]] = 0
        states: list[tuple[int, State]] = []
        for node, found in enumerate(reached):
            for state in found:
                found[state] = len(states)
                states.append((node, state))
        return cls(diagram, tuple(states), tuple(reached), costs, pitches)

    def steps(self, node: int, state: State) -> Iterator[tuple[int, int]]:
        """(cost, place of the state reached) for each edge of a node, in order."""
        last, owed = state
        row, pitches, index = self.costs[owed], self.pitches, self.index
        for label, child in zip(self.diagram.labels[node], self.diagram.children[node], strict=True):
            pitch = pitches[label]
            cost, owes = (0, FREE) if last < 0 else row[pitch - last + _WIDEST]
            yield cost, index[child][pitch, owes]

    def least(self) -> list[int]:
        """The least roughness still to come, for each state."""
        found: list[int] = []
        for node, state in self.states:
            ways = [cost + found[below] for cost, below in self.steps(node, state)]
            if self.diagram.accepts[node]:
                ways.append(0)
            found.append(min(ways, default=0))
        return found


def _costs(weights: Weights) -> tuple[tuple[tuple[int, int], ...], ...]:
    """The table of what each interval costs, from the one definition of roughness."""
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
        table.append(tuple(row))
    return tuple(table)


_Path = tuple["_Path", Event] | None


@dataclass
class _Search:
    """Best-first over prefixes. Prefixes hold disjoint runs of numbers, so among equals the one with the
    lowest numbers comes first, and the lines come out in the order of (roughness, number)."""

    graph: Graph
    heap: list[tuple[int, int, int, int, _Path]] = field(default_factory=list)

    def run(self) -> Iterator[Ranked]:
        graph, diagram, heap = self.graph, self.graph.diagram, self.heap
        if not diagram.count:
            return
        least = graph.least()
        root = len(graph.states) - 1
        # (roughness that can be reached, lines before these, roughness so far, state or -1 at the end, path)
        heapq.heappush(heap, (least[root], 0, 0, root, None))
        while heap:
            best, before, spent, place, path = heapq.heappop(heap)
            if place < 0:
                yield Ranked(best, before + 1, _events(path))
                continue
            node, state = graph.states[place]
            if diagram.accepts[node]:
                heapq.heappush(heap, (spent, before, spent, -1, path))
                before += 1
            labels, children = diagram.labels[node], diagram.children[node]
            for label, child, (cost, below) in zip(labels, children, graph.steps(node, state), strict=True):
                cost += spent
                longer = (path, diagram.events[label])
                heapq.heappush(heap, (cost + least[below], before, cost, below, longer))
                before += diagram.totals[child]


def _events(path: _Path) -> Events:
    found: list[Event] = []
    while path is not None:
        path, event = path
        found.append(event)
    return tuple(reversed(found))
