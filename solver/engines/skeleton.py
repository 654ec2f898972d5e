"""What is settled before any pitch is: when the notes sound, and with which ending.

The lines of one space fall into *skeletons*, one for each way through the rhythm and each ending. Within a
skeleton a line is a sequence of pitches, and finding lines is a constraint problem with one variable a note.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from everyline.rules.endings import PlacedEnding
from everyline.rules.line import Event, Events
from everyline.rules.readings import Readings
from everyline.rules.rhythm import OVER, Step, Stop
from everyline.rules.ruleset import Rules

Row = tuple[int, int, int]
"""(reading before a note, its pitch, reading after it)."""

Onward = dict[int, frozenset[int]]
"""For each pitch that may come next, the readings after it."""


@dataclass(frozen=True)
class Skeleton:
    """All lines that share a rhythm and an ending.

    ``steps`` are the notes before the ending; without a stock ending the resolution is the last of them.
    ``stop`` is where a stock ending begins.
    """

    rules: Rules
    steps: tuple[Step, ...]
    stop: Stop | None = None
    ending: PlacedEnding | None = None

    @property
    def readings(self) -> Readings:
        """The readings of lines under the rules."""
        return self.rules.readings

    @cached_property
    def shape(self) -> tuple[tuple[int, int], ...]:
        """(onset, length) in ticks for every note, those of the ending included."""
        tail = self.ending.notes if self.ending else ()
        return (
            *((step.onset, step.length) for step in self.steps),
            *((note.onset, note.length) for note in tail),
        )

    def events(self, pitches: Sequence[int]) -> Events:
        """The line with these pitches, one for each note."""
        return tuple(
            Event(onset, pitch, length) for (onset, length), pitch in zip(self.shape, pitches, strict=True)
        )

    def begin(self) -> Onward:
        """The readings of the first note, for each pitch that it may have."""
        found = self.readings.begin(self.steps[0])
        return {pitch: frozenset(each.reading for each in taken) for pitch, taken in found.items()}

    def after(self, reading: int, place: int) -> Onward:
        """The readings after one more note of the body, at ``place`` from 0."""
        moment = self.readings.anatomy.moment(self.steps[place])
        found = self.readings.after(moment, reading)
        return {pitch: frozenset(each.reading for each in taken) for pitch, taken in found.items()}

    def finishes(self, reading: int) -> bool:
        """Whether a reading of the body's last note may be followed by the ending, or is the end."""
        front = self.readings.fronts[reading]
        if self.stop is None or self.ending is None:
            return front.done
        return self.ending in self.readings.anatomy.endings_led_into(self.stop, front)

    def rows(self) -> list[list[Row]]:
        """The readings of the body as an automaton: for each note the rows (reading before, pitch, reading
        after), those of the last note into readings that finish. Empty where there is no line."""
        layers = [[(0, pitch, each) for pitch, after in self.begin().items() for each in after]]
        for place in range(1, len(self.steps)):
            reached = {reading for _, _, reading in layers[-1]}
            layers.append(
                [
                    (reading, pitch, each)
                    for reading in sorted(reached)
                    for pitch, after in self.after(reading, place).items()
                    for each in after
                ]
            )
        layers[-1] = [
            row
            for row in layers[-1]
            if self.finishes(row[2]) and (self.ending is None or self.tail(row[1]) is not None)
        ]
        for place in range(len(layers) - 1, 0, -1):
            alive = {row[0] for row in layers[place]}
            layers[place - 1] = [row for row in layers[place - 1] if row[2] in alive]
        return layers if layers[0] else []

    def tail(self, previous: int) -> tuple[int, ...] | None:
        """The stock ending's pitches after a note, or None where it leaves the range."""
        if self.ending is None:
            return ()
        pitches = tuple(event.pitch for event in self.ending.after(previous))
        return pitches if self.rules.pitches.issuperset(pitches) else None


def skeletons(rules: Rules) -> Iterator[Skeleton]:
    """Every skeleton under these rules."""
    anatomy = rules.readings.anatomy
    paths: list[tuple[Step, ...]] = [(step,) for step in reversed(anatomy.rhythm.entries)]
    while paths:
        path = paths.pop()
        node = anatomy.rhythm.nodes[path[-1].node]
        if path[-1].node == OVER and path[-1].onset == rules.resolution_tick:
            yield Skeleton(rules, path)
        for stop in node.stops:
            for ending in anatomy.endings_at(stop):
                yield Skeleton(rules, path, stop, ending)
        paths += [(*path, step) for step in reversed(node.steps)]
