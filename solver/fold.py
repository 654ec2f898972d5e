"""One fold over the diagram: everything that is summed, minimised or ranked over all lines stands on it.

A *fold* is a diagram whose nodes are told apart by a small *memory* of the notes so far: the last pitch, a
leap that waits to be filled, a limit's state, nothing at all. The diagram's node and the memory together are
a *place*; every line is one path of places, and each *arc* carries a value that place and note decide: a
cost, a factor, a feature that is counted. Values are gathered backward from the ends of the lines, forward
from the root, or both ways at once (what passes along an arc is what comes to it times what goes on from it).
All of it is exact, in whole numbers of any size, and nothing recurses: a line of ten thousand notes is folded
as one of ten.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import repeat
from math import inf
from operator import itemgetter
from typing import Any, Generic, Protocol, TypeVar

from everyline.rules.line import Events
from everyline.solver.diagram import Diagram
from everyline.solver.reuse import collector_at_rest

M = TypeVar("M", bound=Hashable)
V = TypeVar("V")
T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)
S = TypeVar("S")

Arc = tuple[int, V, int]
"""(which edge of the node, the value, the place that it leads to)."""
Step = Callable[[M, int], "tuple[M, V] | None"]
"""From a memory and the label of the next event to the memory then and the arc's value; None where the fold
leaves out all lines that go on so."""


class Table(Protocol[T_co]):
    """Whatever can be looked up by the values of a fold: a list where they are places in it, a dict."""

    def __getitem__(self, value: Any, /) -> T_co: ...


class TooManyPlaces(Exception):
    """A fold would have more places than its maker allowed."""


class _Steps(dict[int, "tuple[M, V] | None"]):
    """The steps of one memory by label, each worked out when it is first asked for."""

    def __init__(self, step: Step[M, V], memory: M) -> None:
        super().__init__()
        self._step, self._memory = step, memory

    def __missing__(self, label: int) -> tuple[M, V] | None:
        found = self[label] = self._step(self._memory, label)
        return found


@dataclass(frozen=True, eq=False)
class Fold(Generic[M, V]):
    """A diagram told apart by a memory.

    ``nodes[place]`` and ``memories[place]`` are what a place stands for, ``arcs[place]`` lead on from it, in
    the order of the diagram's edges; ``ends[place]`` says that a line may end there, and ``last`` has the
    value of ending there where it has one. ``order`` has every place after all that lead to it; its first is
    the root's. ``whole`` says that no line is left out.
    """

    diagram: Diagram
    nodes: Sequence[int]
    memories: Sequence[M]
    arcs: list[list[Arc[V]]]
    ends: Sequence[bool]
    order: Sequence[int]
    whole: bool
    last: Mapping[int, V]

    @classmethod
    @collector_at_rest()
    def of(
        cls,
        diagram: Diagram,
        start: M,
        step: Step[M, V],
        content: Callable[[M], bool] | None = None,
        close: Callable[[M], V] | None = None,
        most: int | None = None,
    ) -> Fold[M, V]:
        """All places that some line passes through, from the memory ``start`` on.

        ``content`` says with which memory a line may end (any, where it is None), ``close`` which value that
        has (none, where it is None). Raises TooManyPlaces before there are more than ``most``.
        """
        nodes, memories, order = [diagram.root], [start], []
        arcs: list[list[Arc[V]]] = [[]]
        whole = content is None
        known: dict[M, _Steps[M, V]] = {}
        met: dict[int, dict[M, int]] = defaultdict(dict)
        met[diagram.root][start] = 0
        for node in range(diagram.root, -1, -1):  # children have smaller numbers than their parents
            here = met.pop(node, None)
            if not here:
                continue
            labels, children = diagram.labels[node], diagram.children[node]
            layers = [met[child] for child in children]
            for memory, place in here.items():
                steps = known.get(memory)
                if steps is None:
                    steps = known[memory] = _Steps(step, memory)
                found = arcs[place]
                for edge, label, child, layer in zip(
                    range(len(labels)), labels, children, layers, strict=True
                ):
                    after = steps[label]
                    if after is None:
                        whole = False
                        continue
                    then, value = after
                    below = layer.get(then)
                    if below is None:
                        below = layer[then] = len(nodes)
                        nodes.append(child)
                        memories.append(then)
                        arcs.append([])
                    found.append((edge, value, below))
                order.append(place)
            if most is not None and len(nodes) > most:
                raise TooManyPlaces
        accepts = diagram.accepts
        pairs = zip(nodes, memories, strict=True)
        ends = [accepts[node] and (content is None or content(memory)) for node, memory in pairs]
        last = {} if close is None else {place: close(memories[place]) for place in order if ends[place]}
        return cls(diagram, nodes, memories, arcs, ends, order, whole, last)

    @classmethod
    @collector_at_rest()
    def plain(cls, diagram: Diagram, values: Sequence[V]) -> Fold[None, V]:
        """The diagram itself, without a memory; ``values`` are those of the labels. Places are nodes."""
        arcs = [
            list(zip(range(len(labels)), [values[label] for label in labels], children, strict=True))
            for labels, children in zip(diagram.labels, diagram.children, strict=True)
        ]
        nodes = range(diagram.root + 1)
        return Fold(diagram, nodes, [None] * len(nodes), arcs, diagram.accepts, nodes[::-1], True, {})

    @collector_at_rest()
    def valued(self, values: Table[T]) -> Fold[M, T]:
        """The same places with other values, looked up by the ones that are there."""
        arcs = [[(edge, values[value], below) for edge, value, below in here] for here in self.arcs]
        last = {place: values[value] for place, value in self.last.items()}
        return Fold(self.diagram, self.nodes, self.memories, arcs, self.ends, self.order, self.whole, last)

    @property
    def root(self) -> int:
        """The place of the root."""
        return self.order[0]

    def label(self, place: int, edge: int) -> int:
        """The label of an arc, an index into the diagram's events."""
        return self.diagram.labels[self.nodes[place]][edge]

    def depths(self) -> list[int]:
        """For each place the most notes that come before it."""
        found = [0] * len(self.nodes)
        for place in self.order:
            after = found[place] + 1
            for _, _, below in self.arcs[place]:
                found[below] = max(found[below], after)
        return found

    # -- backward --------------------------------------------------------------------------------------------

    def backward(self, gather: Callable[[int, list[T]], T], forget: bool = False) -> list[T]:
        """What is gathered at each place, those that it leads to first.

        ``gather`` takes a place and all that has been gathered. With ``forget`` only the root's is kept to
        the end, and a few layers on the way: for values that are large.
        """
        found: list[Any] = [None] * len(self.nodes)
        done = self._done() if forget else repeat(())
        for place, over in zip(reversed(self.order), done, strict=False):
            found[place] = gather(place, found)
            for each in over:
                found[each] = None
        return found

    def _done(self) -> Iterator[list[int]]:
        """For each place, from the ends to the root, those that no place still to come leads to."""
        seen = bytearray(len(self.nodes))
        made = []
        for place in self.order:
            new = []
            for _, _, below in self.arcs[place]:
                if not seen[below]:
                    seen[below] = 1
                    new.append(below)
            made.append(new)
        return reversed(made)

    def sums(self, factor: Table[int] | None = None) -> list[int]:
        """For each place the lines that go on from it; with factors, each line weighs their product."""
        if factor is None and self.whole:
            totals = self.diagram.totals
            return [totals[node] for node in self.nodes]

        arcs, ends, last = self.arcs, self.ends, self.last

        def count_lines(place: int, found: list[int]) -> int:
            return ends[place] + sum([found[below] for _, _, below in arcs[place]])

        def weigh(place: int, found: list[int]) -> int:
            ending = int(ends[place])
            if place in last:
                ending = weights[last[place]]
            return ending + sum([weights[value] * found[below] for _, value, below in arcs[place]])

        if factor is None:
            return self.backward(count_lines)
        weights = factor
        return self.backward(weigh)

    def least(self) -> list[float]:
        """For each place the least sum of values still to come, as a whole number; infinite where no line
        comes to an end."""
        arcs: list[list[Arc[Any]]] = self.arcs
        ends, last = self.ends, self.last

        def gather(place: int, found: list[float]) -> float:
            ways = [value + found[below] for _, value, below in arcs[place]]
            if ends[place]:
                ways.append(last.get(place, 0))
            return min(ways, default=inf)

        return self.backward(gather)

    def histogram(self) -> dict[int, int]:
        """How many lines have each sum of values, in rising order."""
        arcs: list[list[Arc[Any]]] = self.arcs
        ends = self.ends
        last: Mapping[int, Any] = self.last
        lane = self.diagram.count.bit_length() + 1
        # A lane has a number from 0 up. Values below 0 are raised, by as much for all lines: each step by so
        # much for each note that the longest way to where it leads has more.
        values = [value for here in arcs for _, value, _ in here] + list(last.values())
        more = -min(0, *values) if values else 0
        depth = self.depths() if more else [0] * len(self.nodes)
        most = max(depth) + 1 if more else 0

        def gather(place: int, found: list[int]) -> int:
            here = depth[place]
            total: int = int(ends[place]) << ((last.get(place, 0) + more * (most - here)) * lane)
            for _, value, below in arcs[place]:
                total += found[below] << ((value + more * (depth[below] - here)) * lane)
            return total

        raised = _lanes(self.backward(gather, forget=True)[self.root], lane)
        return {value - more * most: count for value, count in raised.items()}

    # -- forward and both ways -------------------------------------------------------------------------------

    def passed(self, factor: Table[int] | None = None) -> dict[V, int]:
        """How often each value occurs over all lines; with factors, each line counts by their product."""
        found: dict[V, int] = defaultdict(int)
        ways, sums = [0] * len(self.nodes), self.sums(factor)
        ways[self.root] = 1
        for place in self.order:
            here = ways[place]
            if factor is None:
                for _, value, below in self.arcs[place]:
                    found[value] += here * sums[below]
                    ways[below] += here
            else:
                for _, value, below in self.arcs[place]:
                    onward = here * factor[value]
                    found[value] += onward * sums[below]
                    ways[below] += onward
            if place in self.last:
                value = self.last[place]
                found[value] += here if factor is None else here * factor[value]
        return dict(found)

    # -- the best, one by one --------------------------------------------------------------------------------

    def best(self) -> Iterator[tuple[int, int, Events]]:
        """(sum of values, number, line) of all lines, the least sum first, ties by number; lazily."""
        least, ends = self.least(), self.ends
        last: Mapping[int, Any] = self.last
        arcs: list[list[Arc[Any]]] = self.arcs
        if least[self.root] == inf:
            return iter(())

        def expand(node: int, state: tuple[int, int]) -> Expanded[tuple[int, int]]:
            spent, place = state
            ways = []
            for edge, value, below in arcs[place]:
                after = spent + value
                ways.append((after + least[below], edge, (after, below)))
            return spent + last.get(place, 0) if ends[place] else None, ways

        return best_first(self.diagram, least[self.root], (0, self.root), expand)


def finals(diagram: Diagram, start: M, step: Callable[[M, int], M | None]) -> dict[M, int]:
    """How many lines end with each memory: a pass forward that keeps only the layers under way.

    Lines for which ``step`` gives None are left out.
    """
    found: dict[M, int] = {}
    ways: dict[int, dict[M, int]] = {diagram.root: {start: 1}}
    for node in range(diagram.root, -1, -1):
        here = ways.pop(node, None)
        if not here:
            continue
        if diagram.accepts[node]:
            for memory, number in here.items():
                found[memory] = found.get(memory, 0) + number
        edges = [
            (label, ways.setdefault(child, {}))
            for label, child in zip(diagram.labels[node], diagram.children[node], strict=True)
        ]
        for memory, number in here.items():
            for label, below in edges:
                after = step(memory, label)
                if after is not None:
                    below[after] = below.get(after, 0) + number
    return found


Expanded = tuple[float | None, list[tuple[float, int, S]]]
"""The cost of ending here (None where no line may), and for each edge taken the cost of the best line that
goes on so (infinite where none does), which edge it is, and the state after it."""

_Path = tuple["_Path", int] | None


def best_first(
    diagram: Diagram, least: float, start: S, expand: Callable[[int, S], Expanded[S]]
) -> Iterator[tuple[int, int, Events]]:
    """(cost, number, line), the least cost first, ties by number, each line worked out when it is asked for.

    ``expand`` takes a node and a state; ``least`` is the cost of the best line of all. Under exact costs to
    go a best-first search (A*: Hart, Nilsson and Raphael 1968) never goes astray, so that each further line
    costs only its own length. Prefixes hold disjoint runs of numbers: among equals the one whose numbers are
    lowest comes first.
    """
    heap: list[tuple[float, int, int, S, _Path]] = [(least, 0, diagram.root, start, None)]
    while heap:
        cost, before, node, state, path = heapq.heappop(heap)
        while node >= 0:
            ending, ways = expand(node, state)
            starts, labels, children = diagram.offsets(node), diagram.labels[node], diagram.children[node]
            entries: list[tuple[float, int, int, S, _Path]] = []
            if ending is not None:
                entries.append((ending, before, -1, state, path))
            for estimate, edge, after in ways:
                if estimate < inf:
                    on = path, labels[edge]
                    entries.append((estimate, before + starts[edge], children[edge], after, on))
            # The first of the best ways is most often next of all, and then never goes through the heap.
            best = min(entries, key=itemgetter(0))
            for entry in entries:
                if entry is not best:
                    heapq.heappush(heap, entry)
            cost, before, node, state, path = heapq.heappushpop(heap, best)
        yield int(cost), before + 1, _events(diagram, path)


def _events(diagram: Diagram, path: _Path) -> Events:
    found = []
    while path is not None:
        path, label = path
        found.append(diagram.events[label])
    return tuple(reversed(found))


def _lanes(pack: int, width: int) -> dict[int, int]:
    """The lanes of a pack that hold something, by their number."""
    mask = (1 << width) - 1
    found = ((place, pack >> (place * width) & mask) for place in range(-(-pack.bit_length() // width)))
    return {place: count for place, count in found if count}
