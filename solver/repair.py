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

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from everyline.rules.line import Event, Events, make_events
from everyline.solver.diagram import Diagram
from everyline.solver.fold import Expanded, Fold, best_first

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


class _ByOnset:
    """A fold that remembers how many of the given notes are passed."""

    def __init__(self, diagram: Diagram, given: Events) -> None:
        self.diagram, self.given = diagram, given

    def run(self) -> Iterator[Repair]:
        size, events = len(self.given), self.diagram.events
        fold = Fold[int, int].of(
            self.diagram,
            0,
            lambda passed, label: self._step(passed, events[label]),
            close=lambda passed: (size - passed) * _CHANGE,
        )
        return (self._repair(number, line) for _, number, line in fold.best())

    def _step(self, passed: int, event: Event) -> tuple[int, int]:
        """(given notes passed, cost) of one event of a valid line."""
        given, cost = self.given, 0
        while passed < len(given) and given[passed].onset < event.onset:
            cost += _CHANGE
            passed += 1
        if passed == len(given) or given[passed].onset > event.onset:
            return passed, cost + _CHANGE
        own = given[passed]
        if own.pitch == event.pitch:
            return passed + 1, cost + (_LENGTH if own.length != event.length else 0)
        return passed + 1, cost + _CHANGE + _SEMITONE * abs(own.pitch - event.pitch)

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


_Row = tuple[int, list[int]]
"""A part of a row of the edit table: the first number of given notes used, and costs from there on."""


def _least(one: Sequence[int], other: Sequence[int], never: int) -> int:
    return min([a + b for a, b in zip(one, other, strict=True)], default=never)


FIRST_BAND = 3
"""Changes that the first round looks for; each later round looks for twice as many."""


class _ByOrder:
    """Carries the row of the edit table after the events so far: the least cost for each number of given
    notes used.

    Only the cells that a line of few changes can pass are filled (a band around the diagonal); where more
    lines are wanted than the band holds, the work is done again with twice the band.
    """

    def __init__(self, diagram: Diagram, given: Events) -> None:
        self.diagram, self.given = diagram, given
        self.size = len(given)
        self.never = (2 * self.size + len(diagram.labels) + 1) * _CHANGE
        pitches = {event.pitch for event in diagram.events}
        self._swaps = {pitch: [self._change(own.pitch, pitch) for own in given] for pitch in pitches}

    def run(self) -> Iterator[Repair]:
        if not self.diagram.count:
            return
        ahead, behind = self._lengths_to_go(), self._lengths_so_far()
        everything = self.size + ahead[self.diagram.root][1]
        done, band = -1, FIRST_BAND
        while done < everything:
            bands = [self._band(*lengths, band) for lengths in zip(behind, ahead, strict=True)]
            for cost, number, events in self._round(bands):
                changes = cost // _CHANGE
                if changes > band:
                    break
                if changes > done:
                    yield self._repair(number, events)
            done, band = band, band * 2

    def _round(self, bands: list[tuple[int, int]]) -> Iterator[tuple[int, int, Events]]:
        """Lines under a band, exact for those that need no more changes than it has."""
        to_go = self._costs_to_go(bands)
        diagram, never = self.diagram, self.never

        def expand(node: int, row: _Row) -> Expanded[_Row]:
            ways: list[tuple[float, int, _Row]] = []
            for edge, (label, child) in enumerate(
                zip(diagram.labels[node], diagram.children[node], strict=True)
            ):
                after = self._row(row, diagram.events[label].pitch, bands[child])
                ways.append((_least(after[1], to_go[child], never), edge, after))
            low, costs = row
            ending = costs[self.size - low] if 0 <= self.size - low < len(costs) else never
            return ending if diagram.accepts[node] else None, ways

        low, high = bands[diagram.root]
        first = low, [used * _CHANGE for used in range(low, high + 1)]
        return best_first(diagram, _least(first[1], to_go[-1], never), first, expand)

    def _lengths_to_go(self) -> list[tuple[int, int]]:
        """For each node the fewest and the most events still to come."""
        found: list[tuple[int, int]] = []
        for node, children in enumerate(self.diagram.children[: self.diagram.root + 1]):
            least = [found[child][0] + 1 for child in children]
            most = [found[child][1] + 1 for child in children]
            if self.diagram.accepts[node]:
                least.append(0)
                most.append(0)
            found.append((min(least, default=0), max(most, default=0)))
        return found

    def _lengths_so_far(self) -> list[tuple[int, int]]:
        """For each node the fewest and the most events before it."""
        diagram = self.diagram
        fewest, most = [self.size + len(diagram.labels)] * (diagram.root + 1), [0] * (diagram.root + 1)
        fewest[diagram.root] = 0
        for node in range(diagram.root, -1, -1):
            for child in diagram.children[node]:
                fewest[child] = min(fewest[child], fewest[node] + 1)
                most[child] = max(most[child], most[node] + 1)
        return list(zip(fewest, most, strict=True))

    def _band(self, behind: tuple[int, int], ahead: tuple[int, int], most: int) -> tuple[int, int]:
        """First and last number of given notes that can be used at a node in a line of ``most`` changes.

        So many notes used more or fewer than events passed are so many changes, and likewise to the end.
        """
        size = self.size

        def needed(used: int) -> int:
            before = max(0, behind[0] - used, used - behind[1])
            return before + max(0, ahead[0] - (size - used), size - used - ahead[1])

        around = range(max(0, behind[0] - most), min(size, behind[1] + most) + 1)
        inside = [used for used in around if needed(used) <= most]
        return (inside[0], inside[-1]) if inside else (0, -1)

    def _change(self, own: int, pitch: int) -> int:
        return 0 if own == pitch else _CHANGE + _SEMITONE * abs(own - pitch)

    def _part(self, row: _Row, low: int, high: int) -> list[int]:
        """The costs of a row from ``low`` to ``high``; never outside it."""
        start, costs = row
        end = start + len(costs) - 1
        if low >= start and high <= end:
            return costs[low - start : high - start + 1]
        never = self.never
        return [costs[used - start] if start <= used <= end else never for used in range(low, high + 1)]

    def _row(self, row: _Row, pitch: int, band: tuple[int, int]) -> _Row:
        """The next row of the edit table, within a band, for one more note of a valid line."""
        low, high = band
        swap = self._swaps[pitch]
        before = self._part(row, low - 1, high)
        costs: list[int] = []
        last = self.never
        for used in range(low, high + 1):
            cost = min(before[used - low + 1], last) + _CHANGE
            if used:
                cost = min(cost, before[used - low] + swap[used - 1])
            costs.append(cost)
            last = cost
        return low, costs

    def _costs_to_go(self, bands: list[tuple[int, int]]) -> list[list[int]]:
        """For each node, by how many given notes are used within its band: the least cost to go."""
        diagram, size, never = self.diagram, self.size, self.never
        by_label = [[*self._swaps[event.pitch], never] for event in diagram.events]
        found: list[list[int]] = []
        for node, (low, high) in enumerate(bands):
            row = [never] * (high - low + 1)
            if diagram.accepts[node]:
                row = [(size - used) * _CHANGE for used in range(low, high + 1)]
            for label, child in zip(diagram.labels[node], diagram.children[node], strict=True):
                below = self._part((bands[child][0], found[child]), low, high + 1)
                added = [cost + _CHANGE for cost in below[:-1]]
                swap = by_label[label][low : high + 1]
                swapped = [a + b for a, b in zip(below[1:], swap, strict=True)]
                row = list(map(min, row, added, swapped))
            # A given note may be left out before any other step.
            for at in range(high - low - 1, -1, -1):
                if row[at + 1] + _CHANGE < row[at]:
                    row[at] = row[at + 1] + _CHANGE
            found.append(row)
        return found

    def _repair(self, number: int, events: Events) -> Repair:
        table: _Row = (0, [used * _CHANGE for used in range(self.size + 1)])
        rows = [table[1]]
        for event in events:
            table = self._row(table, event.pitch, (0, self.size))
            rows.append(table[1])
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
