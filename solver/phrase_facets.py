"""What one phrase of a plan is made of, counted over whole choruses: figures, targets, endings and so on.

The readings of the phrase are followed within the diagram of the whole, which holds the joins and the limits
over all phrases; the other phrases are taken as their notes stand. A chorus has a value when some analysis of
the phrase has it and, where its notes can be cut into phrases in several ways, in some of these.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from everyline.solver.chorus import Solved
from everyline.solver.diagram import Diagram
from everyline.solver.facets import ANALYSIS_KINDS, KINDS, Facet, analyses_of
from everyline.solver.figure_marks import HANDOFF, Edge, ReadingGraph, merged, trace
from everyline.solver.properties.table import PROPERTIES

OWN_BARS = "Bar 1 is the first of the phrase."
State = tuple[int, int, int]
"""(phrase, node of its graph, the label of the last note where the phrase may be over, else -1)."""
Way = tuple[int, int, State]
"""A note that may follow: (label, marks as bits, state after it)."""


def phrase_facets(solved: Solved, place: int, only: Iterable[str] | None = None) -> tuple[Facet, ...]:
    """The facets of a phrase, by its place from 0, that need its analysis, or those of the kinds in ``only``:
    how many choruses have each value in that phrase."""
    wanted = ANALYSIS_KINDS if only is None else ANALYSIS_KINDS & frozenset(only)
    if not wanted or not solved.diagram.count:
        return ()
    phrase = solved.plan.phrases[place]
    analyses = analyses_of(phrase_readings(solved, place), solved.diagram.count)
    rows = (PROPERTIES[kind].mark_facet for kind in KINDS if kind in wanted)
    found = tuple(facet for row in rows if row is not None for facet in row(phrase.rules, analyses))
    if phrase.bars[0] == 1:
        return found
    return tuple(replace(each, note=OWN_BARS) if each.kind == HANDOFF else each for each in found)


def phrase_readings(solved: Solved, place: int) -> ReadingGraph:
    """Every chorus with each of its readings in one phrase, and no marks of the others. Labels are those of
    the whole diagram."""
    return _Walk(solved, place).graph()


def _unread(diagram: Diagram) -> ReadingGraph:
    """Lines as they are, for want of readings."""
    edges = tuple(
        tuple([(label, 0, child) for label, child in zip(labels, children, strict=True)])
        for labels, children in zip(diagram.labels, diagram.children, strict=True)
    )
    return ReadingGraph((), edges, diagram.accepts, diagram.root)


class _Walk:
    """Follows the whole diagram, and beside it the phrase that each note is in."""

    def __init__(self, solved: Solved, place: int) -> None:
        self.whole = solved.diagram
        self.pieces = solved.pieces
        self.graphs = [_unread(piece.diagram) for piece in self.pieces]
        self.graphs[place] = trace(solved.plan.phrases[place].rules, self.pieces[place].diagram)
        self.marks = self.graphs[place].marks
        number = {event: label for label, event in enumerate(self.whole.events)}
        self.labels = [
            [number.get(piece.event(label), -1) for label in range(len(piece.diagram.events))]
            for piece in self.pieces
        ]
        self._ways: dict[State, list[Way]] = {}

    def graph(self) -> ReadingGraph:
        """All of it, from the first note on; nodes of the whole come before their children."""
        whole = self.whole
        met: list[dict[State, int]] = [{} for _ in whole.labels]
        met[whole.root][0, self.graphs[0].root, -1] = 0
        raw: list[list[Edge]] = [[]]
        ended = [False]
        order: list[int] = []
        for node in range(whole.root, -1, -1):
            children = dict(zip(whole.labels[node], whole.children[node], strict=True))
            for state, index in met[node].items():
                order.append(index)
                ended[index] = whole.accepts[node] and self._over(state)
                for label, marks, after in self._after(state):
                    if (child := children.get(label)) is None:
                        continue
                    found = met[child].get(after)
                    if found is None:
                        found = met[child][after] = len(raw)
                        raw.append([])
                        ended.append(False)
                    raw[index].append((label, marks, found))
            met[node] = {}
        return merged(self.marks, raw, ended, reversed(order))

    def _over(self, state: State) -> bool:
        """Whether the last phrase may be over."""
        phrase, node, _ = state
        return phrase == len(self.pieces) - 1 and self.graphs[phrase].accepts[node]

    def _after(self, state: State) -> list[Way]:
        found = self._ways.get(state)
        if found is None:
            phrase, node, last = state
            found = self._ways[state] = [*self._within(phrase, node), *self._next(phrase, last)]
        return found

    def _within(self, phrase: int, node: int) -> Iterator[Way]:
        """The notes that may follow in a phrase."""
        graph, labels = self.graphs[phrase], self.labels[phrase]
        for own, marks, child in graph.edges[node]:
            if (label := labels[own]) >= 0:
                may_end = graph.accepts[child] and phrase < len(self.pieces) - 1
                yield label, marks, (phrase, child, label if may_end else -1)

    def _next(self, phrase: int, last: int) -> Iterator[Way]:
        """The first notes of the next phrase, where one may begin after the note ``last``."""
        if last < 0:
            return
        events, before = self.whole.events, self.whole.events[last]
        join = self.pieces[phrase + 1].join
        for way in self._within(phrase + 1, self.graphs[phrase + 1].root):
            first = events[way[0]]
            if join is None or join.leads(before.end, before.pitch, first.onset, first.pitch):
                yield way
