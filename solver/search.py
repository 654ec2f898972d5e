"""Whether there is any line at all, found without compiling: the search ends with the first line.

Unlike the compiler it follows single readings, not sets of them: to see that some line is valid one reading
of it is enough, and single readings are far fewer.
"""

from __future__ import annotations

from everyline.rules.acceptor import Limit, State
from everyline.rules.front import NO_PITCH, NO_TONES, NOTHING_OPEN, Front
from everyline.rules.line import Event, Events
from everyline.rules.rhythm import OVER
from everyline.rules.ruleset import Rules
from everyline.solver.compiler import compile_rules

Place = tuple[int, int, tuple[State, ...]]
"""(node of the rhythm, reading, states of the limits)."""

Ways = tuple[tuple[int, int, int], ...]
"""(label, node of the rhythm, reading after it)."""


def has_line(rules: Rules) -> bool:
    """Whether there is a line under these rules."""
    if rules.filters:
        return compile_rules(rules).count > 0  # whole-line rules look at whole lines
    return Search(rules).found(rules.limits)


class Search:
    """Looks for one line under the rules' anatomy and any limits; ``looked`` counts the places entered and
    the moves worked out, as a measure of the work done.

    What the anatomy allows is worked out once, however often it is asked with other limits.
    """

    def __init__(self, rules: Rules) -> None:
        self.rules = rules
        self.readings = rules.readings
        self.anatomy = self.readings.anatomy
        self.looked = 0
        self._labels: dict[Event, int] = {}
        self._events: list[Event] = []
        self._ways: dict[tuple[int, int], Ways] = {}
        self._answers: dict[int, dict[tuple[State, int], State | None]] = {}

    def found(self, limits: tuple[Limit, ...]) -> bool:
        """Whether there is a line; depth first, and a place that led nowhere is not entered again."""
        left: list[Place] = []
        seen: set[Place] = set()
        asked = [(limit.step, self._answers.setdefault(id(limit), {})) for limit in limits]
        note, events = self.rules.note, self._events

        def enter(ways: Ways, states: tuple[State, ...]) -> None:
            for label, node, reading in ways:
                after: list[State] = []
                for (step, known), state in zip(asked, states, strict=True):
                    key = (state, label)
                    if key not in known:
                        known[key] = step(state, note(events[label]))
                    moved = known[key]
                    if moved is None:
                        break
                    after.append(moved)
                else:
                    place = (node, reading, tuple(after))
                    if place not in seen:
                        seen.add(place)
                        left.append(place)

        enter(self._entries(), tuple(limit.start() for limit in limits))
        found = False
        while left and not found:
            node, reading, states = left.pop()
            if self.readings.fronts[reading].done:
                found = all(limit.content(state) for limit, state in zip(limits, states, strict=True))
                continue
            known = self._ways.get((node, reading))
            if known is None:
                known = self._ways[node, reading] = self._after(node, reading)
            enter(known, states)
        self.looked += len(seen)
        return found

    def _event(self, event: Event) -> int:
        found = self._labels.get(event)
        if found is None:
            found = self._labels[event] = len(self._events)
            self._events.append(event)
        return found

    def _entries(self) -> Ways:
        return tuple(
            (self._event(Event(step.onset, pitch, step.length)), step.node, each.reading)
            for step in self.anatomy.rhythm.entries
            for pitch, taken in self.readings.begin(step).items()
            for each in taken
        )

    def _after(self, node: int, reading: int) -> Ways:
        front = self.readings.fronts[reading]
        if front.tails:
            return tuple(self._play(tail) for tail in front.tails)
        place = self.anatomy.rhythm.nodes[node]
        found = []
        for step in place.steps:
            for pitch, taken in self.readings.after(self.anatomy.moment(step), reading).items():
                label = self._event(Event(step.onset, pitch, step.length))
                found += [(label, step.node, each.reading) for each in taken]
        self.looked += len(found)
        tails = [tail for stop in place.stops for tail in self.anatomy.ending_starts(stop, front)]
        return (*found, *map(self._play, tails))

    def _play(self, tail: Events) -> tuple[int, int, int]:
        """The first event of what is left of a stock ending."""
        left = frozenset((tail[1:],)) if tail[1:] else frozenset()
        after = Front(NO_PITCH, NO_TONES, NOTHING_OPEN, left, not left)
        return self._event(tail[0]), OVER, self.readings.number(after)
