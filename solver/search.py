"""Whether there is any line at all, found without compiling: the search ends with the first line.

Unlike the compiler it follows single readings, not sets of them: to see that some line is valid one reading
of it is enough, and single readings are far fewer.
"""

from __future__ import annotations

from everyline.rules.acceptor import Limit, State
from everyline.rules.anatomy import Anatomy
from everyline.rules.front import NO_PITCH, NO_TONES, NOTHING_OPEN, Front, Moment
from everyline.rules.line import Event, Events
from everyline.rules.ruleset import Rules
from everyline.solver.compiler import compile_rules
from everyline.solver.readings import singles

Place = tuple[int, int, tuple[State, ...]]
"""(slot of the last note, reading, states of the limits)."""

Ways = tuple[tuple[int, int, int], ...]
"""(label, slot of its onset, reading after it)."""


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
        self.anatomy = Anatomy(rules)
        self.looked = 0
        self._labels: dict[Event, int] = {}
        self._events: list[Event] = []
        self._readings: list[Front] = []
        self._ids: dict[Front, int] = {}
        self._moments: dict[int, Moment] = {}
        self._moves: dict[tuple[Moment, int], list[tuple[int, int]]] = {}
        self._ways: dict[tuple[int, int], Ways] = {}
        self._answers: dict[int, dict[tuple[State, int], State | None]] = {}

    def found(self, limits: tuple[Limit, ...]) -> bool:
        """Whether there is a line; depth first, and a place that led nowhere is not entered again."""
        left: list[Place] = []
        seen: set[Place] = set()
        asked = [(limit.step, self._answers.setdefault(id(limit), {})) for limit in limits]
        note, events = self.rules.note, self._events

        def enter(ways: Ways, states: tuple[State, ...]) -> None:
            for label, slot, reading in ways:
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
                    place = (slot, reading, tuple(after))
                    if place not in seen:
                        seen.add(place)
                        left.append(place)

        enter(self._entries(), tuple(limit.start() for limit in limits))
        found = False
        while left and not found:
            slot, reading, states = left.pop()
            if self._readings[reading].done:
                found = all(limit.content(state) for limit, state in zip(limits, states, strict=True))
                continue
            known = self._ways.get((slot, reading))
            if known is None:
                known = self._ways[slot, reading] = self._after(slot, self._readings[reading], reading)
            enter(known, states)
        self.looked += len(seen)
        return found

    def _id(self, front: Front) -> int:
        found = self._ids.get(front)
        if found is None:
            found = self._ids[front] = len(self._readings)
            self._readings.append(front)
        return found

    def _label(self, slot: int, pitch: int, length: int) -> int:
        return self._event(Event(slot * self.rules.slot_ticks, pitch, length))

    def _event(self, event: Event) -> int:
        found = self._labels.get(event)
        if found is None:
            found = self._labels[event] = len(self._events)
            self._events.append(event)
        return found

    def _entries(self) -> Ways:
        length = self.rules.slot_ticks
        return tuple(
            (self._label(slot, pitch, length), slot, self._id(single))
            for slot in self.anatomy.entry_slots()
            for pitch, opened in self.anatomy.entries(slot).items()
            for single in singles(opened)
        )

    def _after(self, slot: int, front: Front, reading: int) -> Ways:
        if front.tails:
            return tuple(self._play(tail) for tail in front.tails)
        slot += 1
        moment = self._moments.get(slot)
        if moment is None:
            moment = self._moments[slot] = self.anatomy.moment(slot)
        known = self._moves.get((moment, reading))
        if known is None:
            after = self.anatomy.moves(moment, front)
            known = [(pitch, self._id(one)) for pitch, opened in after.items() for one in singles(opened)]
            self._moves[moment, reading] = known
            self.looked += len(known)
        length = self.anatomy.final_length if moment.resolves else self.rules.slot_ticks
        body = tuple((self._label(slot, pitch, length), slot, one) for pitch, one in known)
        return body + tuple(self._play(tail) for tail in self.anatomy.ending_starts(moment, front))

    def _play(self, tail: Events) -> tuple[int, int, int]:
        """The first event of what is left of a stock ending."""
        left = frozenset((tail[1:],)) if tail[1:] else frozenset()
        after = Front(NO_PITCH, NO_TONES, NOTHING_OPEN, left, not left)
        return self._event(tail[0]), tail[0].onset // self.rules.slot_ticks, self._id(after)
