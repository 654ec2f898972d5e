"""Diagrams one after another: one diagram of every line that is a line of each, in turn, rightly joined.

Built from the last piece back to the first. A piece's lines may stop in different places and on different
pitches, so what may follow is chosen by the event that a line stops with. Where a line of one piece may go on
like the beginning of the next (a late ending, an early pickup), both ways are one path, so that each line is
counted once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from everyline.rules.chorus_plan import Join
from everyline.rules.line import Event
from everyline.solver.budget import TooManyNodes, most_nodes
from everyline.solver.diagram import Diagram
from everyline.solver.intersect import compact

_NONE = -1
_EMPTY = Diagram((), ((), ()), ((), ()), (True, False), (1, 0), 1)
"""No line at all."""


@dataclass(frozen=True)
class Piece:
    """A diagram whose events are moved by ``shift`` ticks; ``join`` is how it follows the piece before."""

    diagram: Diagram
    shift: int = 0
    join: Join | None = None

    def event(self, label: int) -> Event:
        """The event of a label, in its place."""
        onset, pitch, length = self.diagram.events[label]
        return Event(onset + self.shift, pitch, length)

    def stops(self) -> set[tuple[int, int]]:
        """Every (tick at which the last note is over, its pitch)."""
        diagram, found = self.diagram, set()
        for labels, children in zip(diagram.labels, diagram.children, strict=True):
            for label, child in zip(labels, children, strict=True):
                if diagram.accepts[child]:
                    event = self.event(label)
                    found.add((event.end, event.pitch))
        return found


@dataclass(frozen=True)
class Joined:
    """The diagram of the whole.

    Where it has no line, ``broken`` is the index (from 0) of the last piece that nothing of the next can
    follow, and ``entries`` are the (onset, pitch) with which the next one may begin and still be brought to
    its end.
    """

    diagram: Diagram
    broken: int | None = None
    entries: frozenset[tuple[int, int]] = frozenset()


def join(pieces: Sequence[Piece]) -> Joined:
    """All lines that are a line of the first piece, then one of the second that may follow it, and so on.

    Raises TooManyNodes where the whole would be larger than allowed.
    """
    moved = [[piece.event(label) for label in range(len(piece.diagram.events))] for piece in pieces]
    events = sorted({event for each in moved for event in each})
    numbers = {event: number for number, event in enumerate(events)}
    joiner = _Joiner(events)
    root, next_join = _NONE, None
    for index in range(len(pieces) - 1, -1, -1):
        before, piece = root, pieces[index]
        labels = [numbers[event] for event in moved[index]]
        root = joiner.attach(piece.diagram, labels, before, next_join)
        if root == _NONE:
            return Joined(_EMPTY, index, joiner.entries(before) if next_join else frozenset())
        next_join = piece.join or Join(127, 0)
    return Joined(compact(joiner.diagram(root)))


@dataclass
class _Joiner:
    """The nodes of the whole, numbered from the end; equal tails are one node."""

    events: list[Event]
    labels: list[tuple[int, ...]] = field(default_factory=lambda: [()])
    children: list[tuple[int, ...]] = field(default_factory=lambda: [()])
    accepts: list[bool] = field(default_factory=lambda: [True])
    totals: list[int] = field(default_factory=lambda: [1])
    unique: dict[tuple[bool, tuple[int, ...], tuple[int, ...]], int] = field(
        default_factory=lambda: {(True, (), ()): 0}
    )
    unions: dict[tuple[int, int], int] = field(default_factory=dict)
    most: int = field(default_factory=most_nodes)

    def diagram(self, root: int) -> Diagram:
        """What hangs below a root, without the nodes that no line passes."""
        passed = [False] * (root + 1)
        passed[0] = passed[root] = True
        for node in range(root, 0, -1):
            if passed[node]:
                for child in self.children[node]:
                    passed[child] = True
        kept = [node for node in range(root + 1) if passed[node]]
        number = {node: place for place, node in enumerate(kept)}
        return Diagram(
            tuple(self.events),
            tuple([self.labels[node] for node in kept]),
            tuple([tuple([number[child] for child in self.children[node]]) for node in kept]),
            tuple([self.accepts[node] for node in kept]),
            tuple([self.totals[node] for node in kept]),
            number[root],
        )

    def entries(self, root: int) -> frozenset[tuple[int, int]]:
        """(onset, pitch) of the first notes below a root."""
        return frozenset(self.events[label][:2] for label in self.labels[root])

    def attach(self, diagram: Diagram, labels: list[int], after: int, join: Join | None) -> int:
        """The root of a piece whose lines go on below ``after``; without ``join`` they end where they end.

        ``labels`` gives for each of the piece's own labels that of the whole.
        """
        settled: list[int] = []
        ended: dict[tuple[int, int, int], int] = {}
        for node, own in enumerate(diagram.labels):
            ways: list[int] = []
            nodes: list[int] = []
            for label, child in zip(own, diagram.children[node], strict=True):
                way = labels[label]
                below = settled[child]
                if join is not None and diagram.accepts[child]:
                    event = self.events[way]
                    key = (child, event.end, event.pitch)
                    if key not in ended:
                        follow = self._following(after, join, event.end, event.pitch)
                        ended[key] = self._union(below, follow)
                    below = ended[key]
                if below != _NONE:
                    ways.append(way)
                    nodes.append(below)
            accept = join is None and diagram.accepts[node]
            settled.append(self._node(accept, tuple(ways), tuple(nodes)))
        return settled[diagram.root]

    def _following(self, root: int, join: Join, end: int, pitch: int) -> int:
        """The node for what may follow a line that stops at tick ``end`` on ``pitch``."""
        chosen = [
            (label, child)
            for label, child in zip(self.labels[root], self.children[root], strict=True)
            if join.leads(end, pitch, self.events[label].onset, self.events[label].pitch)
        ]
        return self._node(False, tuple([label for label, _ in chosen]), tuple([child for _, child in chosen]))

    def _node(self, accept: bool, ways: tuple[int, ...], nodes: tuple[int, ...]) -> int:
        if not ways and not accept:
            return _NONE
        key = (accept, ways, nodes)
        found = self.unique.get(key)
        if found is None:
            found = self.unique[key] = len(self.labels)
            if found >= self.most:
                raise TooManyNodes(
                    f"stopped: the phrases together need more than {self.most} nodes; allow fewer figures or "
                    f"entries in them, or allow more with --most-nodes."
                )
            self.labels.append(ways)
            self.children.append(nodes)
            self.accepts.append(accept)
            self.totals.append(accept + sum([self.totals[node] for node in nodes]))
        return found

    def _union(self, one: int, other: int) -> int:
        """The node whose lines are those of either; it may be long, so it is worked out without recursion."""
        if _NONE in (one, other) or one == other:
            return max(one, other)
        first = (min(one, other), max(one, other))
        stack = [first]
        while stack:
            pair = stack[-1]
            if pair not in self.unions:
                edges, missing = self._merged(*pair)
                if missing:
                    stack.extend(missing)
                    continue
                ways = sorted(edges)
                accept = self.accepts[pair[0]] or self.accepts[pair[1]]
                self.unions[pair] = self._node(accept, tuple(ways), tuple([edges[way] for way in ways]))
            stack.pop()
        return self.unions[first]

    def _merged(self, one: int, other: int) -> tuple[dict[int, int], list[tuple[int, int]]]:
        """(edges of either node, pairs of nodes that have to be united first)."""
        edges = dict(zip(self.labels[one], self.children[one], strict=True))
        missing = []
        for way, child in zip(self.labels[other], self.children[other], strict=True):
            known = edges.setdefault(way, child)
            if known != child:
                pair = (min(known, child), max(known, child))
                if pair in self.unions:
                    edges[way] = self.unions[pair]
                else:
                    missing.append(pair)
        return edges, missing
