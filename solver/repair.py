"""The nearest valid lines to a given one, exact over the whole space.

Two measures. By *onset*: how many moments have to change, where a moment is an onset of either line, and it
changes when the two do not have the same pitch there (an onset in one only counts as a change). By *order*:
how many notes have to be changed, added or left out, reading both as sequences of pitches without regard to
time (edit distance; Wagner and Fischer, "The string-to-string correction problem", Journal of the ACM 21,
1974, 168-173): what mends a figure with a note too many or too few.

Ties go by the total distance in semitones of the notes that changed pitch, then (by onset) by how many notes
kept their pitch and changed their length, then by line number. Lines come out one by one, nearest first:
exact costs to go are worked out once, children before parents, and a best-first descent then never leaves
the way to the next line.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from rules.line import Event, Events, make_events
from solver.diagram import Diagram

# A cost is one integer, so that adding and comparing are single steps: changes, then semitones, then lengths.
_LENGTH, _SEMITONE, _CHANGE = 1, 1 << 16, 1 << 40
CHANGED, ADDED, LEFT_OUT = "changed", "added", "left out"


class Change(NamedTuple):
    """One change: ``kind`` changed, added or left out; the place (from 0) of the note in the given line and
    in the line found, None where it has none."""

    kind: str
    given: int | None
    found: int | None


@dataclass(frozen=True, slots=True)
class Repair:
    """A valid line near a given one: its number, its events, what changed, and the ties' measures.

    ``semitones`` is the total distance of notes that changed pitch; ``lengths`` the places in the line found
    of notes that kept their pitch and changed their length (by onset only).
    """

    number: int
    events: Events
    changes: tuple[Change, ...]
    semitones: int
    lengths: tuple[int, ...] = ()


def nearest_by_onset(diagram: Diagram, line: Sequence[tuple[int, int, int]]) -> Iterator[Repair]:
    """Valid lines from the nearest to the furthest by onset, lazily; nothing where there is no line."""
    given = make_events(sorted(line))
    return _ByOnset(diagram, given).run()


def nearest_by_order(diagram: Diagram, line: Sequence[tuple[int, int, int]]) -> Iterator[Repair]:
    """Valid lines from the nearest to the furthest by order (notes may be added or left out), lazily."""
    given = make_events(sorted(line))
    return _ByOrder(diagram, given).run()


class _Search:
    """Best-first descent under exact costs to go.

    An entry is (cost of its best line, number of lines before its first line, node, what the measure
    carries, events so far). Entries stand for disjoint runs of line numbers, so equal costs come out by
    number.
    """

    def __init__(self, diagram: Diagram, given: Events) -> None:
        self.diagram = diagram
        self.given = given

    def descend(
        self,
        start: tuple[int, Any],
        onward: Callable[[Any, int, Event], tuple[int, Any]],
        stop: Callable[[Any], int],
    ) -> Iterator[tuple[int, Events]]:
        """(number, events), nearest first. ``onward`` and ``stop`` give the cost of the best line after one
        more edge, and of stopping here."""
        diagram = self.diagram
        if not diagram.count:
            return
        cost, carried = start
        heap: list[tuple[int, int, int, int, Any, Events]] = [(cost, 0, 0, diagram.root, carried, ())]
        pushed = 0
        while heap:
            _, below, _, node, carried, events = heapq.heappop(heap)
            if node < 0:
                yield below + 1, events
                continue
            if diagram.accepts[node]:
                pushed += 1
                heapq.heappush(heap, (stop(carried), below, pushed, -1, None, events))
                below += 1
            for label, child in zip(diagram.labels[node], diagram.children[node], strict=True):
                event = diagram.events[label]
                cost, after = onward(carried, child, event)
                pushed += 1
                heapq.heappush(heap, (cost, below, pushed, child, after, (*events, event)))
                below += diagram.totals[child]


class _ByOnset(_Search):
    """Carries (cost so far, how many of the given notes are passed)."""

    def __init__(self, diagram: Diagram, given: Events) -> None:
        super().__init__(diagram, given)
        self.to_go = self._costs_to_go()

    def _step(self, passed: int, event: Event) -> tuple[int, int]:
        """(cost, given notes passed) of one event of a valid line."""
        given, cost = self.given, 0
        while passed < len(given) and given[passed].onset < event.onset:
            cost += _CHANGE
            passed += 1
        if passed == len(given) or given[passed].onset > event.onset:
            return cost + _CHANGE, passed
        own = given[passed]
        if own.pitch == event.pitch:
            return cost + (_LENGTH if own.length != event.length else 0), passed + 1
        return cost + _CHANGE + _SEMITONE * abs(own.pitch - event.pitch), passed + 1

    def _costs_to_go(self) -> dict[tuple[int, int], int]:
        """For each node and each number of given notes passed that can occur together: the least cost to
        go."""
        diagram, events = self.diagram, self.diagram.events
        there: list[set[int]] = [set() for _ in diagram.labels]
        there[diagram.root].add(0)
        steps: dict[tuple[int, int], tuple[int, int]] = {}
        for node in range(diagram.root, -1, -1):
            for passed in there[node]:
                for label, child in zip(diagram.labels[node], diagram.children[node], strict=True):
                    step = steps.get((label, passed))
                    if step is None:
                        step = steps[label, passed] = self._step(passed, events[label])
                    there[child].add(step[1])
        found: dict[tuple[int, int], int] = {}
        size = len(self.given)
        for node in range(diagram.root + 1):
            for passed in there[node]:
                ways = [(size - passed) * _CHANGE] if diagram.accepts[node] else []
                for label, child in zip(diagram.labels[node], diagram.children[node], strict=True):
                    cost, after = steps[label, passed]
                    ways.append(cost + found[child, after])
                if ways:
                    found[node, passed] = min(ways)
        return found

    def run(self) -> Iterator[Repair]:
        if not self.diagram.count:
            return
        size = len(self.given)

        def onward(carried: tuple[int, int], child: int, event: Event) -> tuple[int, tuple[int, int]]:
            cost, passed = self._step(carried[1], event)
            cost += carried[0]
            return cost + self.to_go[child, passed], (cost, passed)

        def stop(carried: tuple[int, int]) -> int:
            return carried[0] + (size - carried[1]) * _CHANGE

        start = (self.to_go[self.diagram.root, 0], (0, 0))
        for number, events in self.descend(start, onward, stop):
            yield self._repair(number, events)

    def _repair(self, number: int, events: Events) -> Repair:
        # Two given notes on one onset (no line, but it may be asked about): the first is compared.
        own: dict[int, int] = {}
        for place, event in enumerate(self.given):
            own.setdefault(event.onset, place)
        theirs = {event.onset: place for place, event in enumerate(events)}
        changes = [
            Change(LEFT_OUT, place, None)
            for place, event in enumerate(self.given)
            if event.onset not in theirs or own[event.onset] != place
        ]
        semitones, lengths = 0, []
        for place, event in enumerate(events):
            at = own.get(event.onset)
            if at is None:
                changes.append(Change(ADDED, None, place))
            elif self.given[at].pitch != event.pitch:
                changes.append(Change(CHANGED, at, place))
                semitones += abs(self.given[at].pitch - event.pitch)
            elif self.given[at].length != event.length:
                lengths.append(place)
        changes.sort(key=lambda change: self._onset(change, events))
        return Repair(number, events, tuple(changes), semitones, tuple(lengths))

    def _onset(self, change: Change, events: Events) -> int:
        if change.given is not None:
            return self.given[change.given].onset
        assert change.found is not None
        return events[change.found].onset


class _ByOrder(_Search):
    """Carries the row of the edit table after the events so far: the least cost for each number of given
    notes used."""

    def run(self) -> Iterator[Repair]:
        if not self.diagram.count:
            return
        to_go = self._costs_to_go()
        first = tuple(place * _CHANGE for place in range(len(self.given) + 1))

        def onward(row: tuple[int, ...], child: int, event: Event) -> tuple[int, tuple[int, ...]]:
            after = self._row(row, event.pitch)
            rest = to_go[child]
            return min([a + b for a, b in zip(after, rest, strict=True)]), after

        def stop(row: tuple[int, ...]) -> int:
            return row[-1]

        for number, events in self.descend((to_go[self.diagram.root][0], first), onward, stop):
            yield self._repair(number, events)

    def _change(self, own: int, pitch: int) -> int:
        return 0 if own == pitch else _CHANGE + _SEMITONE * abs(own - pitch)

    def _row(self, row: tuple[int, ...], pitch: int) -> tuple[int, ...]:
        """The next row of the edit table, for one more note of the valid line."""
        after = [row[0] + _CHANGE]
        for place, event in enumerate(self.given):
            after.append(
                min(
                    row[place] + self._change(event.pitch, pitch),
                    row[place + 1] + _CHANGE,
                    after[place] + _CHANGE,
                )
            )
        return tuple(after)

    def _costs_to_go(self) -> list[list[int]]:
        """For each node, by how many given notes are used: the least cost to go."""
        diagram, size = self.diagram, len(self.given)
        pitches = {event.pitch for event in diagram.events}
        swaps = {pitch: [self._change(own.pitch, pitch) for own in self.given] for pitch in pitches}
        by_label = [swaps[event.pitch] for event in diagram.events]
        stop = [left * _CHANGE for left in range(size, -1, -1)]
        never = (size + 1 + len(diagram.labels)) * _CHANGE
        found: list[list[int]] = []
        for node in range(diagram.root + 1):
            row = stop[:] if diagram.accepts[node] else [never] * (size + 1)
            for label, child in zip(diagram.labels[node], diagram.children[node], strict=True):
                below, swap = found[child], by_label[label]
                added = [cost + _CHANGE for cost in below]
                swapped = [a + b for a, b in zip(below[1:], swap, strict=True)]
                row = list(map(min, row, added, [*swapped, never]))
            # A given note may be left out before any other step.
            for used in range(size - 1, -1, -1):
                if row[used + 1] + _CHANGE < row[used]:
                    row[used] = row[used + 1] + _CHANGE
            found.append(row)
        return found

    def _repair(self, number: int, events: Events) -> Repair:
        rows = [tuple(place * _CHANGE for place in range(len(self.given) + 1))]
        for event in events:
            rows.append(self._row(rows[-1], event.pitch))
        changes: list[Change] = []
        semitones = 0
        place, at = len(events), len(self.given)
        while place or at:
            cost = rows[place][at]
            if place and at:
                swap = self._change(self.given[at - 1].pitch, events[place - 1].pitch)
                if rows[place - 1][at - 1] + swap == cost:
                    place, at = place - 1, at - 1
                    if swap:
                        changes.append(Change(CHANGED, at, place))
                        semitones += abs(self.given[at].pitch - events[place].pitch)
                    continue
            if place and rows[place - 1][at] + _CHANGE == cost:
                place -= 1
                changes.append(Change(ADDED, None, place))
            else:
                at -= 1
                changes.append(Change(LEFT_OUT, at, None))
        return Repair(number, events, tuple(reversed(changes)), semitones)
