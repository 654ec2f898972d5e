"""Faults and what they cost, and how near the last notes of a line come to a stock ending."""

from __future__ import annotations

from typing import NamedTuple

from everyline.rules.acceptor import Breach
from everyline.rules.endings import PlacedEnding
from everyline.rules.fault_ending_words import EndingWords
from everyline.rules.line import Events
from everyline.rules.ruleset import Rules

SLIP, STRANGE, ASTRAY = 2, 3, 5
"""What faults cost: a known move not quite right, a note that nothing explains, an end that no ending has."""


class Fault(NamedTuple):
    """A breach and what it costs."""

    breach: Breach
    cost: int


def slip(rule: str, message: str, place: int | None) -> Fault:
    """A known move that is not quite right."""
    return Fault(Breach(rule, message, place), SLIP)


def rhythm_faults(rules: Rules, events: Events, words: EndingWords) -> list[tuple[Fault, ...]]:
    """For each note, what is wrong with its onset or length as a note of the body.

    With cells only the first note that no cell allows is at fault: what the later ones are part of is not
    known then.
    """
    if not rules.cells:
        said = [words.grid(place) for place in range(len(events))]
        return [() if each is None else (slip("rhythm", each, at),) for at, each in enumerate(said)]
    kept = len(list(rules.readings.steps(events)))
    said = [words.cells(place) if place == kept else None for place in range(len(events))]
    return [() if each is None else (slip("rhythm", each, at),) for at, each in enumerate(said)]


class NearEnding(NamedTuple):
    """A stock ending that a line's last notes are, or nearly are; ``lead_in`` is what is wrong with the way
    into it, ``faults`` everything else."""

    name: str
    faults: tuple[Fault, ...]
    lead_in: tuple[Fault, ...]


class EndingFaults:
    """Compares the last notes of one line with the endings in use."""

    def __init__(self, rules: Rules, events: Events, words: EndingWords) -> None:
        self.rules = rules
        self.events = events
        self.notes = rules.notes(events)
        self.words = words
        self._steps = list(rules.readings.steps(events))

    def at(self, place: int) -> tuple[NearEnding, ...]:
        """The stock endings that the notes from ``place`` on are, or nearly are."""
        rest, found = self.events[place:], []
        for ending in self.rules.endings:
            if len(ending.notes) != len(rest):
                continue
            expected = ending.after(self.events[place - 1].pitch)
            shift = 0
            if rest[0].pitch % 12 == expected[0].pitch % 12:
                # Led into from far away, the ending may be in another octave: the way into it is wrong then.
                shift = rest[0].pitch - expected[0].pitch
                expected = tuple(each._replace(pitch=each.pitch + shift) for each in expected)
            faults = self._compare(ending, expected, place)
            if faults is not None:
                found.append(NearEnding(ending.name, faults, self._lead_in(ending, place, shift)))
        return tuple(found)

    def _lead_in(self, ending: PlacedEnding, place: int, shift: int) -> tuple[Fault, ...]:
        leap = abs(self.notes[place].pitch - self.notes[place - 1].pitch)
        if not 0 < leap <= self.rules.lead_in:
            return (slip("lead-in", self.words.lead_in(ending, place), place),)
        if shift:
            return (slip("ending", self.words.ending_octave(ending, place, shift), place),)
        return ()

    def _compare(self, ending: PlacedEnding, expected: Events, place: int) -> tuple[Fault, ...] | None:
        """What is wrong with an ending, or None where too little of it is right."""
        rest, words = self.events[place:], self.words
        pairs = list(enumerate(zip(rest, expected, strict=True), place))
        off = [(at, want) for at, (have, want) in pairs if have.pitch != want.pitch]
        if all(have.onset == want.onset for have, want in zip(rest, expected, strict=True)):
            if 2 * len(off) > len(rest) - 1:
                return None
            wrong = [slip("ending", words.ending_note(ending, at, want.pitch), at) for at, want in off]
            wrong += [
                slip("ending", words.ending_length(ending, at, want.length), at)
                for at, (have, want) in pairs
                if have.length != want.length
            ]
            if self.notes[place - 1].end > rest[0].onset:
                overlap = self.words.grid(place)
                wrong += [] if overlap is None else [slip("rhythm", overlap, place)]
            elif not self._may_begin(place):
                wrong.append(slip("rhythm", words.ending_gap(ending, place), place))
            return tuple(wrong)
        if off or len(rest) < 3:
            return None
        return (Fault(Breach("ending", words.ending_place(ending, place), place), STRANGE),)

    def _may_begin(self, place: int) -> bool:
        """Whether the rhythm of the notes before ``place`` lets an ending begin there; where those notes
        break the rhythm themselves, that is said of them."""
        if place > len(self._steps):
            return True
        node = self.rules.readings.anatomy.rhythm.nodes[self._steps[place - 1].node]
        return any(stop.tick == self.events[place].onset for stop in node.stops)
