"""When the notes of a line's body begin and how long they last: the one place that knows.

A ``Rhythm`` is a graph. A node stands for the note that has just begun, as far as the notes to come depend on
it; its *steps* say when the next note may begin and how long it lasts, its *stops* where a stock ending may
begin instead. A note on every slot is one such graph, a body made of cells another, and nothing else in the
program asks which of the two it is.

From a node one can also ask ahead how many notes may follow without a rest before one lands on a beat or in
the next chord: figures and passing notes need that many.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.progression import Progression
from everyline.rules.ruleset import Cell, Passing, Rules

OVER = 0
"""The node of a note after which nothing follows: the resolution without a stock ending."""


class Step(NamedTuple):
    """A note that may come next: onset and length in ticks, whether a rest comes before it, whether it is
    the first onset in its chord, and the node it leads to."""

    onset: int
    length: int
    rest: bool
    fresh: bool
    node: int


class Stop(NamedTuple):
    """A tick on which a stock ending may begin, and whether no note of its chord has sounded before."""

    tick: int
    fresh: bool


class Node(NamedTuple):
    """What may follow a note: steps in the order of (onset, length), stops in the order of ticks."""

    steps: tuple[Step, ...] = ()
    stops: tuple[Stop, ...] = ()


class Ahead(NamedTuple):
    """How many more notes may follow one after another without a rest before one that lands.

    ``inside`` counts those before a landing on a beat of the same chord, ``across`` before one on a beat that
    is the first onset of the next chord; ``filled`` and ``filled_across`` are the same for passing notes,
    whose move may land off the beat.
    """

    inside: frozenset[int] = frozenset()
    across: frozenset[int] = frozenset()
    filled: frozenset[int] = frozenset()
    filled_across: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Rhythm:
    """All rhythms of a body under some rules. ``entries`` are the notes on which a line may start."""

    entries: tuple[Step, ...]
    nodes: tuple[Node, ...]
    longest: int
    """How many notes ahead anyone asks."""
    passing_on_beat: bool

    def ahead(self, node: int) -> Ahead:
        """What may follow a node's note without a rest."""
        return self._ahead[node]

    @cached_property
    def _ahead(self) -> list[Ahead]:
        """For every node; steps lead to nodes with smaller numbers."""
        found: list[Ahead] = []
        for node in self.nodes:
            sets: tuple[set[int], ...] = (set(), set(), set(), set())
            for step in node.steps:
                if step.rest:
                    continue
                on_beat = step.onset % TICKS_PER_BEAT == 0
                if step.fresh:
                    sets[3].add(0)
                    if on_beat:
                        sets[1].add(0)
                    continue
                sets[2].add(0)
                if on_beat:
                    sets[0].add(0)
                beyond = found[step.node]
                for place in (0, 1, 2, 3):
                    if place < 2 or self.passing_on_beat or not on_beat:
                        sets[place].update(n + 1 for n in beyond[place] if n + 1 < self.longest)
            found.append(Ahead(*map(frozenset, sets)))
        return found


def rhythm_of(rules: Rules) -> Rhythm:
    """The rhythm of the lines under some rules."""
    starts = frozenset(ending.start for ending in rules.endings)
    plan = _Cells(rules, starts) if rules.cells else _Slots(rules, starts)
    figures = max((len(figure.steps) for figure in rules.approach.figures), default=0)
    passing = MOST_PASSING if rules.passing.kinds else 0
    return _built(plan, max(figures, passing), rules.passing)


MOST_PASSING = 11
"""No two chord tones are further apart than an octave, so no move is filled with more notes."""

Place = tuple[int, int, int]
Places = frozenset[Place]


class _Plan(ABC):
    """A way to lay out notes: entries, and what follows a set of places in the plan."""

    def __init__(self, rules: Rules, starts: frozenset[int]) -> None:
        self.rules = rules
        self.progression: Progression = rules.progression
        self.resolution = rules.resolution_tick
        self.starts = starts

    def chord(self, tick: int) -> int:
        """Index of the chord at a tick."""
        return self.progression.chord_index(tick // self.rules.slot_ticks)

    @abstractmethod
    def entries(self) -> Iterator[tuple[int, int, Place]]:
        """(onset, length, place) of every first note."""

    @abstractmethod
    def after(self, place: Place) -> Iterator[tuple[int, int, Place | None]]:
        """(onset, length, place) of every next note; at the resolution the place is None."""

    @abstractmethod
    def stops(self, place: Place) -> Iterator[int]:
        """Every tick on which an ending may begin after a place."""


class _Slots(_Plan):
    """A note on every slot. A place is (slot, 0, 0)."""

    def entries(self) -> Iterator[tuple[int, int, Place]]:
        ticks = self.rules.slot_ticks
        for slot in self.rules.entry.slots:
            if slot < self.progression.resolution:
                yield slot * ticks, ticks, (slot, 0, 0)

    def after(self, place: Place) -> Iterator[tuple[int, int, Place | None]]:
        slot, ticks = place[0] + 1, self.rules.slot_ticks
        if slot < self.progression.resolution:
            yield slot * ticks, ticks, (slot, 0, 0)
        elif self.rules.plain:
            yield self.resolution, TICKS_PER_BEAT, None

    def stops(self, place: Place) -> Iterator[int]:
        yield (place[0] + 1) * self.rules.slot_ticks


class _Cells(_Plan):
    """A body made of cells. A place is (tick on which a cell begins, the cell, its part that sounds)."""

    def _fits(self, cell: Cell, tick: int) -> bool:
        """Whether a cell that begins on a tick lies inside one bar and one chord, as it is written."""
        last = tick + cell.ticks - 1
        bar = self.progression.beats_per_bar * TICKS_PER_BEAT
        return tick // bar == last // bar and self.chord(tick) == self.chord(last) and last < self.resolution

    def entries(self) -> Iterator[tuple[int, int, Place]]:
        for slot in self.rules.entry.slots:
            onset = slot * self.rules.slot_ticks
            for number, cell in enumerate(self.rules.cells):
                for index, part in enumerate(cell.parts):
                    tick = onset - part.offset
                    if not part.rest and tick % TICKS_PER_BEAT == 0 and self._fits(cell, tick):
                        yield onset, part.length, (tick, number, index)

    def _parts(self, place: Place) -> Iterator[tuple[int, int, Place | None]]:
        """(tick, length, place; length 0 for a rest or an end) up to the next note that may sound."""
        begun, number, index = place
        cell = self.rules.cells[number]
        for later in range(index + 1, len(cell.parts)):
            part = cell.parts[later]
            yield begun + part.offset, 0 if part.rest else part.length, (begun, number, later)
            if not part.rest:
                return
        end = begun + cell.ticks
        yield end, 0, None
        if end == self.resolution:
            if self.rules.plain:
                yield end, TICKS_PER_BEAT, None
            return
        for each, follower in enumerate(self.rules.cells):
            if self._fits(follower, end):
                yield from self._parts_of(end, each, follower)

    @staticmethod
    def _parts_of(tick: int, number: int, cell: Cell) -> Iterator[tuple[int, int, Place]]:
        for index, part in enumerate(cell.parts):
            yield tick + part.offset, 0 if part.rest else part.length, (tick, number, index)
            if not part.rest:
                return

    def after(self, place: Place) -> Iterator[tuple[int, int, Place | None]]:
        return (each for each in self._parts(place) if each[1])

    def stops(self, place: Place) -> Iterator[int]:
        return (tick for tick, _, _ in self._parts(place))


def _built(plan: _Plan, longest: int, passing: Passing) -> Rhythm:
    """The graph of a plan; nodes with the same future are one."""
    entries = _gathered(plan.entries())
    ways = _followed(plan, entries)
    nodes: list[Node] = [Node()]
    unique: dict[Node, int] = {nodes[OVER]: OVER}
    numbers: dict[_Sounding, int] = {}
    for here in sorted(ways, key=lambda each: each.onset, reverse=True):
        chord, end = plan.chord(here.onset), here.onset + here.length
        steps = [
            Step(
                each.onset,
                each.length,
                each.onset > end,
                plan.chord(each.onset) != chord,
                numbers[each] if each.places else OVER,
            )
            for each in ways[here]
        ]
        ticks = plan.starts.intersection(tick for place in here.places for tick in plan.stops(place))
        node = Node(tuple(steps), tuple(Stop(tick, plan.chord(tick) != chord) for tick in sorted(ticks)))
        numbers[here] = unique.setdefault(node, len(nodes))
        if numbers[here] == len(nodes):
            nodes.append(node)
    first = [Step(each.onset, each.length, False, False, numbers[each]) for each in entries]
    return Rhythm(tuple(first), tuple(nodes), longest, passing.place == "any")


class _Sounding(NamedTuple):
    """A note, and every place in the plan that may be meant by it; none where nothing follows."""

    onset: int
    length: int
    places: Places


def _gathered(notes: Iterable[tuple[int, int, Place | None]]) -> list[_Sounding]:
    """Notes in order; those of the same onset and length are one."""
    found: dict[tuple[int, int], set[Place]] = {}
    for onset, length, place in notes:
        found.setdefault((onset, length), set()).update(() if place is None else (place,))
    return [_Sounding(*note, frozenset(places)) for note, places in sorted(found.items())]


def _followed(plan: _Plan, entries: list[_Sounding]) -> dict[_Sounding, list[_Sounding]]:
    """What may follow each note that can be reached."""
    ways: dict[_Sounding, list[_Sounding]] = {}
    left = list(entries)
    while left:
        here = left.pop()
        if here not in ways and here.places:
            ways[here] = _gathered(each for place in here.places for each in plan.after(place))
            left += ways[here]
    return ways


def most_notes(rules: Rules) -> Iterable[int]:
    """For each chord, how many notes can begin in it at most; a pickup belongs to the first."""
    progression = rules.progression
    ends = (*progression.starts[1:], progression.slots)
    for chord, (start, end) in enumerate(zip(progression.starts, ends, strict=True)):
        slots = end - (start if chord else min(0, *rules.entry.slots, 0))
        if not rules.cells:
            yield slots
            continue
        dense = max(sum(not part.rest for part in cell.parts) / cell.ticks for cell in rules.cells)
        widest = max(len(cell.parts) for cell in rules.cells)
        yield min(slots, int(slots * rules.slot_ticks * dense) + widest)
