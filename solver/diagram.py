"""The diagram: a layered graph in which every path is one valid line, and every valid line one path.

Node 0 is the end of a line. Every other node stands for all lines that may go on in the same ways; its
edges are labelled with the next event and sorted in the order in which lines are numbered. Counts are exact
integers of any size.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate

from everyline.rules.line import Event, Events


@dataclass(frozen=True, slots=True)
class After:
    """What may follow: whether a line may end here, and each next event with the exact number of lines that
    go on from it."""

    ends: bool
    events: tuple[tuple[Event, int], ...]

    @property
    def count(self) -> int:
        """How many lines begin so."""
        return self.ends + sum(count for _, count in self.events)


@dataclass(frozen=True, eq=False)
class Diagram:
    """All valid lines under one set of rules.

    ``labels[node]`` and ``children[node]`` are the node's edges, in order; a label is an index into
    ``events``. ``accepts[node]`` says that a line may end there; ``totals[node]`` is the number of lines
    from there on. Children have smaller indices than their parents, so that one pass over
    the nodes sees children first. ``looked_at`` is how many lines whole-line rules had to look at, None
    where there are none.
    """

    events: tuple[Event, ...]
    labels: tuple[tuple[int, ...], ...]
    children: tuple[tuple[int, ...], ...]
    accepts: tuple[bool, ...]
    totals: tuple[int, ...]
    root: int
    looked_at: int | None = None

    @property
    def count(self) -> int:
        """The exact number of distinct lines."""
        return self.totals[self.root]

    @property
    def size(self) -> tuple[int, int]:
        """(nodes, edges)."""
        return len(self.labels), sum(map(len, self.labels))

    @cached_property
    def _ends(self) -> dict[int, list[int]]:
        return {}

    def offsets(self, node: int) -> list[int]:
        """Where each child's lines begin in the node's own numbering from 0, and where the last one's end;
        worked out when a node is first asked."""
        found = self._ends.get(node)
        if found is None:
            totals = self.totals
            found = list(
                accumulate((totals[c] for c in self.children[node]), initial=int(self.accepts[node]))
            )
            self._ends[node] = found
        return found

    def line(self, number: int) -> Events:
        """Line ``number`` (from 1), worked out without the lines before it. Raises IndexError outside
        1..count."""
        if not 1 <= number <= self.count:
            raise IndexError(number)
        rest, node = number - 1, self.root
        found: list[Event] = []
        while True:
            if self.accepts[node] and rest == 0:
                return tuple(found)
            offsets = self.offsets(node)
            index = bisect_right(offsets, rest) - 1
            rest -= offsets[index]
            found.append(self.events[self.labels[node][index]])
            node = self.children[node][index]

    def number(self, line: Sequence[tuple[int, int, int]]) -> int | None:
        """The number of a line, or None when it is not one of these lines."""
        below, node = 0, self.root
        for event in line:
            index = self._edge(node, event)
            if index is None:
                return None
            below += self.offsets(node)[index]
            node = self.children[node][index]
        return below + 1 if self.accepts[node] else None

    def reach(self, line: Sequence[tuple[int, int, int]]) -> tuple[int, int]:
        """(how many events of a line can be followed, the node where that ends)."""
        node = self.root
        for place, event in enumerate(line):
            index = self._edge(node, event)
            if index is None:
                return place, node
            node = self.children[node][index]
        return len(line), node

    def after(self, prefix: Sequence[tuple[int, int, int]]) -> After | None:
        """What may follow the first events of a line; None where no line begins so."""
        reached, node = self.reach(prefix)
        if reached < len(prefix):
            return None
        events, totals = self.events, self.totals
        pairs = zip(self.labels[node], self.children[node], strict=True)
        return After(self.accepts[node], tuple([(events[label], totals[child]) for label, child in pairs]))

    def _edge(self, node: int, event: tuple[int, int, int]) -> int | None:
        for index, label in enumerate(self.labels[node]):
            if self.events[label] == event:
                return index
        return None

    def walk(self, first: int = 1) -> Iterator[Events]:
        """Lines in order from number ``first`` on, one at a time, holding one line in memory."""
        if not 1 <= first <= self.count:
            return
        path, stack = self._descend(first)
        while True:
            yield tuple(path)
            while stack and stack[-1][1] + 1 == len(self.children[stack[-1][0]]):
                stack.pop()
            if not stack:
                return
            # The first line below the next edge: leftmost edges until a node that accepts.
            stack[-1] = (stack[-1][0], stack[-1][1] + 1)
            node = self._follow(path, stack, len(stack) - 1)
            while not self.accepts[node]:
                stack.append((node, 0))
                node = self._follow(path, stack, len(stack) - 1)
            stack.append((node, -1))

    def _follow(self, path: list[Event], stack: list[tuple[int, int]], depth: int) -> int:
        node, index = stack[depth]
        del path[depth:]
        path.append(self.events[self.labels[node][index]])
        return self.children[node][index]

    def _descend(self, number: int) -> tuple[list[Event], list[tuple[int, int]]]:
        """The path to a line and the stack of (node, edge taken); the last entry has edge -1, nothing taken
        yet."""
        rest, node = number - 1, self.root
        path: list[Event] = []
        stack: list[tuple[int, int]] = []
        while not (self.accepts[node] and rest == 0):
            offsets = self.offsets(node)
            index = bisect_right(offsets, rest) - 1
            rest -= offsets[index]
            stack.append((node, index))
            path.append(self.events[self.labels[node][index]])
            node = self.children[node][index]
        stack.append((node, -1))
        return path, stack

    @cached_property
    def onsets(self) -> frozenset[int]:
        """Every tick at which some line has an onset."""
        return frozenset(event.onset for event in self.events)
