"""What the analyses of one line have: figures, targets, handoffs, endings.

A line has what any of its analyses has.
"""

from __future__ import annotations

from everyline.rules.line import Events
from everyline.solver.diagram import Diagram
from everyline.solver.figure_marks import FIGURE, Mark, ReadingGraph


class LineMarks:
    """Looks up the marks of lines of a diagram, whose readings ``graph`` holds."""

    def __init__(self, diagram: Diagram, graph: ReadingGraph) -> None:
        self._graph = graph
        self._label = {event: label for label, event in enumerate(diagram.events)}
        self._figures = graph.bits(FIGURE)
        self._by_label: dict[int, dict[int, list[tuple[int, int]]]] = {}

    def __call__(self, events: Events) -> tuple[frozenset[Mark], bool]:
        """(every mark that some analysis of the line has, whether some analysis has no figure).

        Raises KeyError for an event that no line has.
        """
        graph = self._graph
        layers: list[set[int]] = [{graph.root}]
        labels = [self._label[event] for event in events]
        for label in labels:
            ways = (way for node in layers[-1] for way in self._ways(node, label))
            layers.append({child for _, child in ways})
        # Backward: only ways that come to an end count, and of those the ones without a figure apart.
        ending = {node for node in layers[-1] if graph.accepts[node]}
        bare = set(ending)
        bits = 0
        for place in range(len(labels) - 1, -1, -1):
            reached, plain = set(), set()
            for node in layers[place]:
                for marks, child in self._ways(node, labels[place]):
                    if child in ending:
                        bits |= marks
                        reached.add(node)
                        if child in bare and not marks & self._figures:
                            plain.add(node)
            ending, bare = reached, plain
        found = frozenset(mark for bit, mark in enumerate(graph.marks) if bits >> bit & 1)
        return found, bool(bare)

    def _ways(self, node: int, label: int) -> list[tuple[int, int]]:
        """(marks as bits, child) of a node's edges with that label."""
        by_label = self._by_label.get(node)
        if by_label is None:
            by_label = self._by_label[node] = {}
            for each, marks, child in self._graph.edges[node]:
                by_label.setdefault(each, []).append((marks, child))
        return by_label.get(label, [])
