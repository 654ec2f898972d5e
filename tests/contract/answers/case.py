"""One random rule file with all of its lines, and what the plain reference says of each."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from everyline import Space
from everyline.rules.line import Event, Events
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from tests.reference import solve
from tests.reference.random_rules import random_rules
from tests.reference.result import Line, Result
from tests.spaces import CORPUS

MOST_STATES = 2000
"""How much is looked at before a rule file is too big."""


@dataclass(frozen=True)
class Case:
    """A rule file, its lines by the reference, and the space that the program makes of it."""

    seed: int
    tables: dict[str, Any]
    result: Result
    space: Space

    @property
    def rules(self) -> Rules:
        """The rules as the program has them."""
        return self.space.rules

    @property
    def lines(self) -> list[Line]:
        """The reference's lines, in order: (onset, length, pitch) of each note."""
        return self.result.lines

    @cached_property
    def events(self) -> list[Events]:
        """The same lines as the program writes them."""
        return [as_events(line) for line in self.lines]

    @cached_property
    def numbers(self) -> dict[Events, int]:
        """The number of each line."""
        return {events: number for number, events in enumerate(self.events, 1)}


def as_events(line: Line) -> Events:
    """A line of the reference as events."""
    return tuple(Event(onset, pitch, length) for onset, length, pitch in line)


def as_line(events: Events) -> Line:
    """Events as a line of the reference."""
    return tuple((event.onset, event.length, event.pitch) for event in events)


def random_case(seed: int, most: int) -> Case:
    """The rule file that a seed makes; ``most`` bounds its lines before the limits."""
    tables = random_rules(seed, most, extended=True, most_states=MOST_STATES)
    return Case(seed, tables, solve(tables), Space(parse_rules(tables, CORPUS)))
