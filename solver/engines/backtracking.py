"""The engine on the backtracking solver of python-constraint: note after note, and back where nothing fits.

One variable a note, whose values are pitches. The n-th constraint reads the first n notes: it holds while
some reading of them is open and no limit has refused. The solver is made to take the notes in order, so a
wrong beginning is given up at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import Any, NamedTuple

from constraint import Constraint, OptimizedBacktrackingSolver, Problem

from everyline.rules.acceptor import State
from everyline.solver.contract import Allowance, Clock
from everyline.solver.engines.general import GeneralEngine
from everyline.solver.engines.skeleton import Onward, Skeleton

_REMEMBERED = 1 << 13
"""Beginnings of lines whose reading is remembered; the solver goes back to recent ones only."""


class BacktrackingEngine(GeneralEngine):
    """Tries notes in order and gives up a beginning that no rule allows."""

    name = "backtracking"

    def pitches(self, skeleton: Skeleton, clock: Clock) -> Iterator[tuple[int, ...]]:
        """The pitches of every line of a skeleton; see ``GeneralEngine.pitches``."""
        beginning = Beginning(skeleton)
        domains = beginning.domains()
        if not all(domains):
            return
        problem = Problem(_InOrder())
        for place, domain in enumerate(domains):
            problem.addVariable(place, sorted(domain))
            problem.addConstraint(_Prefix(beginning, clock), list(range(place + 1)))
        for solution in problem.getSolutionIter():
            clock.left()
            yield tuple(solution[place] for place in range(len(domains)))


# The package says nothing of types.
class _Prefix(Constraint):  # type: ignore[misc]
    """The first notes of a line, as many as it is given variables, begin a valid one.

    Variables are assigned in order. When all but the last are, the values of the last that do not fit are
    hidden; so nothing is tried in vain.
    """

    def __init__(self, beginning: Beginning, clock: Clock) -> None:
        self._beginning = beginning
        self._clock = clock

    def __call__(
        self,
        variables: Sequence[int],
        domains: dict[int, Any],
        assignments: dict[int, int],
        forwardcheck: object = False,
        _unassigned: object = None,
    ) -> bool:
        """The library's protocol: whether the constraint can still hold."""
        known = len(assignments)
        if known < len(variables) - 1:
            return True
        self._clock.left()
        pitches = tuple([assignments[place] for place in variables[:known]])
        if known >= len(variables):
            return self._beginning.state(pitches) is not None
        domain = domains[variables[known]]
        fitting = self._beginning.onward(pitches)
        for pitch in [pitch for pitch in domain if pitch not in fitting]:
            domain.hideValue(pitch)
        return bool(domain)


# The package says nothing of types.
class _InOrder(OptimizedBacktrackingSolver):  # type: ignore[misc]
    """Takes the variables in the order of the notes."""

    def getSortedVariables(self, domains: dict[int, Any], vconstraints: object) -> list[int]:  # noqa: N802
        """The library's hook for the order."""
        return sorted(domains)


class _Reached(NamedTuple):
    """What the first notes of a line come to: their readings, and the state of each limit."""

    readings: frozenset[int]
    limits: tuple[State, ...]


class Beginning:
    """Reads the beginnings of the lines of one skeleton."""

    def __init__(self, skeleton: Skeleton) -> None:
        self.skeleton = skeleton
        self.rules = skeleton.rules
        self.onward = lru_cache(maxsize=_REMEMBERED)(self._onward)
        self._start = _Reached(frozenset(), tuple(limit.start() for limit in skeleton.rules.limits))

    def domains(self) -> list[set[int]]:
        """For each note the pitches that it may have in some line or other."""
        skeleton = self.skeleton
        found = [{pitch for _, pitch, _ in rows} for rows in skeleton.rows()]
        if not found:
            return [set()]
        tails = [tail for tail in map(skeleton.tail, found[-1]) if tail]
        return found + [{tail[place] for tail in tails} for place in range(len(skeleton.shape) - len(found))]

    def state(self, pitches: tuple[int, ...]) -> _Reached | None:
        """What these first notes come to, or None where no valid line begins with them."""
        return self.onward(pitches[:-1]).get(pitches[-1]) if pitches else self._start

    def _onward(self, pitches: tuple[int, ...]) -> dict[int, _Reached]:
        """Every pitch that may come next after these notes, with what the notes then come to."""
        before = self.state(pitches)
        if before is None or len(pitches) == len(self.skeleton.shape):
            return {}
        found = {}
        for pitch, readings in self._read(before.readings, pitches).items():
            limits = self._limits(before.limits, len(pitches), pitch)
            if limits is not None:
                found[pitch] = _Reached(readings, limits)
        return found

    def _read(self, readings: frozenset[int], pitches: tuple[int, ...]) -> Onward:
        """The readings after one more note, for each pitch that it may have."""
        skeleton = self.skeleton
        body, place = len(skeleton.steps), len(pitches)
        if place >= body:
            tail = skeleton.tail(pitches[body - 1])
            return {} if tail is None else {tail[place - body]: readings}
        found: dict[int, frozenset[int]] = {}
        for way in [skeleton.after(each, place) for each in readings] if place else [skeleton.begin()]:
            for pitch, after in way.items():
                found[pitch] = found.get(pitch, frozenset()) | after
        if place < body - 1:
            return found
        last = {pitch: frozenset(filter(skeleton.finishes, each)) for pitch, each in found.items()}
        return {pitch: each for pitch, each in last.items() if each}

    def _limits(self, states: tuple[State, ...], place: int, pitch: int) -> tuple[State, ...] | None:
        """The states of the limits after one more note, or None where one refuses."""
        onset, length = self.skeleton.shape[place]
        note = self.rules.note((onset, pitch, length))
        last = place == len(self.skeleton.shape) - 1
        found: list[State] = []
        for limit, state in zip(self.rules.limits, states, strict=True):
            after = limit.step(state, note)
            if after is None or (last and not limit.content(after)):
                return None
            found.append(after)
        return tuple(found)


def build(allowance: Allowance) -> BacktrackingEngine:
    """The engine, held to an allowance."""
    return BacktrackingEngine(allowance)
