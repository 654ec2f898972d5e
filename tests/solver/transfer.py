"""Counting lines a second way: transfer matrices in whole numbers, over sets of readings.

The ways in which a note may follow another are tables (``solver.engines.tables``), which share nothing with
the anatomy that the diagram is compiled from. A product of the matrices that they make would count readings,
and a line may have several, so rows and columns stand for *sets* of readings: all readings of the notes so
far. Then each line goes one way, and the entries of the product are numbers of lines. Nothing is merged or
pruned.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from everyline.rules.line import Event
from everyline.rules.ruleset import Rules
from everyline.solver.engines.skeleton import Skeleton, skeletons
from everyline.solver.engines.tables import APPROACHES, BEGINS, Choice, Kind, Tables

Reading = tuple[int, int, Choice | int, int]
"""(skeleton, place of the last note, that note's role or an ending's pitch, figures begun in its chord)."""


@dataclass
class Way:
    """One skeleton with its tables."""

    number: int
    skeleton: Skeleton
    tables: Tables

    @cached_property
    def bounds(self) -> dict[int, tuple[int, int]]:
        return {chord: (least, most) for chord, least, most in self.skeleton.counted()}

    @cached_property
    def after(self) -> list[dict[tuple[int, int], list[Choice]]]:
        """For each place, the choices that may follow (role, pitch), as far as pairs go."""
        found: list[dict[tuple[int, int], list[Choice]]] = [{}]
        for place in range(1, len(self.skeleton.body)):
            moves, follows = self.tables.moves[place], set(self.tables.follows(place))
            here: dict[tuple[int, int], list[Choice]] = {}
            for before in self.tables.choices[place - 1]:
                here[before.role, before.pitch] = [
                    choice
                    for choice in self.tables.choices[place]
                    if (before.pitch, choice.kind, choice.aim, choice.pitch) in moves
                    and (before.role, choice.role) in follows
                ]
            found.append(here)
        return found

    def event(self, place: int, pitch: int) -> Event:
        onset, length = self.skeleton.shape[place]
        return Event(onset, pitch, length)

    def begin(self) -> Iterator[tuple[Event, Reading]]:
        for choice in self.tables.choices[0]:
            yield self.event(0, choice.pitch), (self.number, 0, choice, int(choice.kind in BEGINS))

    def fits(self, chord: int, figures: int) -> bool:
        least, most = self.bounds.get(chord, (0, figures))
        return least <= figures <= most

    def next(self, reading: Reading) -> Iterator[tuple[Event, Reading]]:
        """How a reading may go on."""
        _, place, last, figures = reading
        body = self.skeleton.body
        if place + 1 == len(self.skeleton.shape):
            return
        if isinstance(last, int):
            pitches = self.skeleton.ending_pitches(last)
            assert pitches is not None
            yield self.event(place + 1, pitches[place + 1 - len(body)]), (self.number, place + 1, last, 0)
            return
        if place + 1 == len(body):
            if self.skeleton.ending is not None and last.kind not in APPROACHES:
                pitches = self.skeleton.ending_pitches(last.pitch)
                chord = self.skeleton.chord(body[-1])
                if pitches is not None and self.fits(chord, figures) and self._rest(chord):
                    yield self.event(place + 1, pitches[0]), (self.number, place + 1, last.pitch, 0)
            return
        chord, following = self.skeleton.chord(body[place]), self.skeleton.chord(body[place + 1])
        if following != chord:
            if not self.fits(chord, figures):
                return
            figures = 0
        for choice in self.after[place + 1].get((last.role, last.pitch), ()):
            if last.kind in APPROACHES and choice.aim != last.aim:
                continue
            if (last.kind, choice.kind) in ((Kind.UP, Kind.DOWN), (Kind.DOWN, Kind.UP)):
                continue
            begun = figures + (choice.kind in BEGINS)
            yield self.event(place + 1, choice.pitch), (self.number, place + 1, choice, begun)

    def _rest(self, chord: int) -> bool:
        """Whether chords that the ending takes up whole need no figure."""
        return all(self.fits(other, 0) for other in self.bounds if other > chord)

    def is_done(self, reading: Reading) -> bool:
        return reading[1] == len(self.skeleton.shape) - 1 and (
            isinstance(reading[2], int) or reading[2].kind not in APPROACHES
        )


def count(rules: Rules) -> int:
    """The number of lines, for rules without limits and with the default turns and after."""
    assert not rules.limits and not rules.must_targets and not rules.filters
    assert rules.arpeggio.turns == 0 and rules.approach.after == 1
    ways = [Way(n, skeleton, Tables(skeleton)) for n, skeleton in enumerate(skeletons(rules))]
    entries: dict[Event, set[Reading]] = {}
    for way in ways:
        for event, reading in way.begin():
            entries.setdefault(event, set()).add(reading)
    vectors: dict[int, dict[tuple[Event, frozenset[Reading]], int]] = {}
    onsets: list[int] = []
    lines = 0

    def add(event: Event, readings: frozenset[Reading], many: int) -> None:
        if event.onset not in vectors:
            vectors[event.onset] = {}
            heapq.heappush(onsets, event.onset)
        vector = vectors[event.onset]
        vector[event, readings] = vector.get((event, readings), 0) + many

    for event, readings in entries.items():
        add(event, frozenset(readings), 1)
    while onsets:
        for (_, readings), many in vectors.pop(heapq.heappop(onsets)).items():
            lines += many * any(ways[reading[0]].is_done(reading) for reading in readings)
            row: dict[Event, set[Reading]] = {}
            for reading in readings:
                for event, after in ways[reading[0]].next(reading):
                    row.setdefault(event, set()).add(after)
            for event, together in row.items():
                add(event, frozenset(together), many)
    return lines
