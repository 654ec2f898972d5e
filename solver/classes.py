"""All lines of a diagram told apart by their traits: exact classes, without listing a line.

Two lines are in one class when every trait named has the same values. Diagram, traits and readings are
followed together, so each line is one path; a class knows how many lines it has and any one of them.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate

from everyline.corpora.errors import InputError, did_you_mean
from everyline.rules.line import Event, Events
from everyline.rules.ruleset import Rules
from everyline.solver.diagram import Diagram
from everyline.solver.figure_marks import ReadingGraph, trace
from everyline.solver.fold import Fold, TooManyPlaces
from everyline.solver.properties.table import PROPERTIES, TRAITS
from everyline.solver.reuse import collector_at_rest

MOST_STATES = 400_000
"""States that are followed before the traits are refused as too many (about a gigabyte)."""

Signature = tuple[frozenset[str], ...]
"""The values of each trait, in the order of the traits; one value where the notes alone decide it."""


class TooManyStates(InputError):
    """The traits tell too many lines apart to be followed exactly."""


@dataclass(frozen=True, eq=False)
class Classes:
    """The classes of a diagram's lines, in an order that depends on the rules alone.

    ``signatures[c]`` are the values of class ``c``; ``counts[c]`` is its number of lines. ``line(c, n)`` is
    its n-th line, n from 0, in an order of its own.
    """

    traits: tuple[str, ...]
    signatures: tuple[Signature, ...]
    counts: tuple[int, ...]
    _finals: tuple[tuple[int, ...], ...]
    _ways: tuple[int, ...]
    _before: tuple[tuple[tuple[int, int], ...], ...]
    _events: tuple[Event, ...]

    def line(self, which: int, place: int) -> Events:
        """Line ``place`` (from 0) of a class. Raises IndexError beyond its count."""
        if not 0 <= place < self.counts[which]:
            raise IndexError(place)
        state = -1
        for state in self._finals[which]:
            if place < self._ways[state]:
                break
            place -= self._ways[state]
        found: list[Event] = []
        while state:
            edges = self._before[state]
            ends = list(accumulate((self._ways[source] for source, _ in edges), initial=0))
            index = bisect_right(ends, place) - 1
            place -= ends[index]
            state, label = edges[index]
            found.append(self._events[label])
        return tuple(reversed(found))


def check_traits(names: Iterable[str]) -> tuple[str, ...]:
    """The names, each once. Raises InputError for one that is no trait."""
    found = tuple(dict.fromkeys(names))
    for name in found:
        if name not in TRAITS:
            raise InputError(
                f'"{name}" is no trait of a line; the traits are {", ".join(TRAITS)}.'
                f"{did_you_mean(name, TRAITS)}"
            )
    return found


def classify(
    rules: Rules, diagram: Diagram, traits: Sequence[str], most_states: int = MOST_STATES
) -> Classes:
    """The classes of a diagram compiled from ``rules``. Raises InputError for an unknown trait and
    TooManyStates."""
    return _Classifier(rules, diagram, check_traits(traits), most_states).run()


Readings = tuple[tuple[int, int], ...]
"""(node of the graph of readings, values so far as bits), sorted."""


class _Classifier:
    def __init__(self, rules: Rules, diagram: Diagram, names: tuple[str, ...], most: int) -> None:
        self.rules, self.diagram, self.names, self.most = rules, diagram, names, most
        self.notes = [rules.note(event) for event in diagram.events]
        rows = [PROPERTIES[name] for name in names]
        self.note_traits = {each.name: each.notes(rules) for each in rows if each.notes is not None}
        self.mark_traits = {each.name: each.marks(rules) for each in rows if each.marks is not None}
        self.graph = trace(rules, diagram) if self.mark_traits else None
        self.note_ids: dict[tuple[object, ...], int] = {}
        self.note_states: list[tuple[object, ...]] = []
        self.note_steps: dict[tuple[int, int], int] = {}
        self.reading_ids: dict[Readings, int] = {}
        self.reading_states: list[Readings] = []
        self.reading_steps: dict[int, dict[int, int]] = {}
        # The values of a reading are bits. The first ones say what it has as long as it lacks certain marks.
        self.values: list[tuple[str, str]] = []
        self.lacking: list[int] = []
        if self.graph is not None:
            for name, trait in self.mark_traits.items():
                if trait.without is not None:
                    self.values.append((name, trait.without))
                    self.lacking.append(self.graph.bits(trait.lacking))
        self.carried = self._carried(self.graph) if self.graph is not None else []

    def _carried(self, graph: ReadingGraph) -> list[int]:
        """For each mark of the graph, the values that it gives, as bits."""
        bits: dict[tuple[str, str], int] = {}
        carried = []
        for mark in graph.marks:
            found = 0
            for name, trait in self.mark_traits.items():
                if trait.kind == mark.kind:
                    value = (name, trait.label(mark))
                    if value not in bits:
                        bits[value] = len(self.values)
                        self.values.append(value)
                    found |= 1 << bits[value]
            carried.append(found)
        return carried

    @collector_at_rest()
    def run(self) -> Classes:
        diagram = self.diagram
        at_rest = tuple(trait.start for trait in self.note_traits.values())
        start = (self._note_id(at_rest), self._reading_id(self._root()))
        try:
            fold = Fold[tuple[int, int], int].of(diagram, start, self._step, most=self.most + 1)
        except TooManyPlaces:
            raise self._too_many() from None
        ways = [0] * len(fold.nodes)
        ways[fold.root] = 1
        before: list[list[tuple[int, int]]] = [[] for _ in fold.nodes]
        finals: dict[Signature, list[int]] = {}
        for place in fold.order:
            for _, label, below in fold.arcs[place]:
                ways[below] += ways[place]
                before[below].append((place, label))
            if fold.ends[place]:
                finals.setdefault(self._signature(*fold.memories[place]), []).append(place)
        order = sorted(finals, key=lambda signature: [sorted(values) for values in signature])
        return Classes(
            self.names,
            tuple(order),
            tuple(sum(ways[place] for place in finals[each]) for each in order),
            tuple(tuple(finals[each]) for each in order),
            tuple(ways),
            tuple(map(tuple, before)),
            diagram.events,
        )

    def _step(self, state: tuple[int, int], label: int) -> tuple[tuple[int, int], int]:
        note, reading = state
        return (self._note_step(note, label), self._reading_step(reading, label)), label

    def _too_many(self) -> TooManyStates:
        return TooManyStates(
            f"the traits {', '.join(self.names)} tell more than {self.most} states apart over these lines; "
            f"name fewer traits, or rules with fewer lines."
        )

    # -- what the notes decide -------------------------------------------------------------------------------

    def _note_id(self, states: tuple[object, ...]) -> int:
        found = self.note_ids.setdefault(states, len(self.note_states))
        if found == len(self.note_states):
            self.note_states.append(states)
        return found

    def _note_step(self, state: int, label: int) -> int:
        if not self.note_traits:
            return 0
        found = self.note_steps.get((state, label))
        if found is None:
            note = self.notes[label]
            pairs = zip(self.note_traits.values(), self.note_states[state], strict=True)
            found = self._note_id(tuple(trait.step(each, note) for trait, each in pairs))
            self.note_steps[state, label] = found
        return found

    # -- what the analyses decide ----------------------------------------------------------------------------

    def _root(self) -> Readings:
        return () if self.graph is None else ((self.graph.root, (1 << len(self.lacking)) - 1),)

    def _reading_id(self, readings: Readings) -> int:
        found = self.reading_ids.setdefault(readings, len(self.reading_states))
        if found == len(self.reading_states):
            self.reading_states.append(readings)
        return found

    def _reading_step(self, state: int, label: int) -> int:
        if self.graph is None:
            return 0
        steps = self.reading_steps.get(state)
        if steps is None:
            steps = self.reading_steps[state] = self._follow(self.graph, self.reading_states[state])
        return steps[label]

    def _follow(self, graph: ReadingGraph, readings: Readings) -> dict[int, int]:
        found: dict[int, dict[int, int]] = {}
        for node, values in readings:
            for label, marks, child in graph.edges[node]:
                after = values
                for place, kind in enumerate(self.lacking):
                    if marks & kind:
                        after &= ~(1 << place)
                left = marks
                while left:
                    low = left & -left
                    after |= self.carried[low.bit_length() - 1]
                    left ^= low
                by_child = found.setdefault(label, {})
                by_child[child] = by_child.get(child, 0) | after
        return {label: self._reading_id(tuple(sorted(each.items()))) for label, each in found.items()}

    def _signature(self, note: int, reading: int) -> Signature:
        by_name: dict[str, set[str]] = {name: set() for name in self.names}
        pairs = zip(self.note_traits.items(), self.note_states[note], strict=True)
        for (name, trait), state in pairs:
            by_name[name] = {trait.words(state)}
        if self.graph is not None:
            bits = 0
            for node, values in self.reading_states[reading]:
                if self.graph.accepts[node]:
                    bits |= values
            for place, (name, label) in enumerate(self.values):
                if bits >> place & 1:
                    by_name[name].add(label)
        return tuple(frozenset(by_name[name]) for name in self.names)
