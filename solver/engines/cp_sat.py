"""The engine on the CP-SAT solver of OR-Tools: tables and automata, all solutions, one analysis each.

The solver is asked for every solution of a model in which pitches and readings are variables. A line with two
analyses is found twice and counted once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise

from ortools.sat.python import cp_model

from everyline.corpora.errors import Stopped
from everyline.rules.line import Note
from everyline.solver.contract import DEFAULT, Allowance, Clock
from everyline.solver.engines.automata import Layers, TooManySteps, tabulate
from everyline.solver.engines.general import GeneralEngine
from everyline.solver.engines.skeleton import Skeleton
from everyline.solver.interrupt import run

Rows = list[tuple[int, ...]]


class _NoLine(Exception):
    """A skeleton has no line; found before the solver is asked."""


class CpSatEngine(GeneralEngine):
    """States each rule as a constraint of its own, and lets CP-SAT list all solutions."""

    name = "cp-sat"

    def pitches(self, skeleton: Skeleton, clock: Clock) -> Iterator[tuple[int, ...]]:
        """The pitches of every line of a skeleton; see ``GeneralEngine.pitches``."""
        try:
            model = Model(skeleton)
        except _NoLine:
            return iter(())
        found = Collector(model.line)
        model.solve(clock, found)
        return iter(found.lines)


class Model:
    """The constraint model of one skeleton. Raises _NoLine where some note has nothing to choose from.

    A variable for each note's pitch, and one for the reading after it: how the rules take the line so far.
    """

    def __init__(self, skeleton: Skeleton) -> None:
        self.skeleton = skeleton
        self.rules = skeleton.rules
        self.model = cp_model.CpModel()
        self.tail: list[cp_model.IntVar] = []
        self.rows: Rows = []
        self.followers: list[set[tuple[int, int]]] = []
        self._body()
        if skeleton.ending is not None:
            self._ending()
        self._limits()

    @property
    def line(self) -> list[cp_model.IntVar]:
        """The pitches of the line, those of a stock ending included."""
        return [*self.pitches, *self.tail]

    def _variable(self, name: str, place: int, values: Iterable[int]) -> cp_model.IntVar:
        domain = cp_model.Domain.from_values(sorted(set(values)))
        return self.model.new_int_var_from_domain(domain, f"{name} {place}")

    # -- anatomy ---------------------------------------------------------------------------------------------

    def _body(self) -> None:
        """Each note of the body follows from the reading before it by one of the moves."""
        self.pitches: list[cp_model.IntVar] = []
        self.sounding: list[set[int]] = []
        before: cp_model.IntVar | None = None
        rows = [(0, pitch, each) for pitch, after in self.skeleton.begin().items() for each in after]
        reached: dict[int, set[int]] = {}
        for place in range(len(self.skeleton.steps)):
            if place:
                ways = {reading: self.skeleton.after(reading, place) for reading in reached}
                rows = [
                    (reading, pitch, each)
                    for reading, way in ways.items()
                    for pitch, after in way.items()
                    for each in after
                ]
                pairs = ((last, pitch) for reading, pitch, _ in rows for last in reached[reading])
                self.followers.append(set(pairs))
            if place == len(self.skeleton.steps) - 1:
                rows = [row for row in rows if self.skeleton.finishes(row[2])]
            if not rows:
                raise _NoLine
            reached = {}
            for _, pitch, reading in rows:
                reached.setdefault(reading, set()).add(pitch)
            self.sounding.append({pitch for _, pitch, _ in rows})
            pitch_now = self._variable("pitch", place, self.sounding[-1])
            reading_now = self._variable("reading", place, reached)
            read = [pitch_now, reading_now] if before is None else [before, pitch_now, reading_now]
            self.model.add_allowed_assignments(read, [row[1:] if before is None else row for row in rows])
            self.pitches.append(pitch_now)
            before = reading_now

    def _ending(self) -> None:
        """The notes of a stock ending follow from the last note before it."""
        for last in sorted(self.sounding[-1]):
            tail = self.skeleton.tail(last)
            if tail is not None:
                self.rows.append((last, *tail))
        if not self.rows:
            raise _NoLine
        columns = list(zip(*self.rows, strict=True))[1:]
        self.tail = [self._variable("ending", place, column) for place, column in enumerate(columns)]
        self.model.add_allowed_assignments((self.pitches[-1], *self.tail), self.rows)

    def _automaton(self, name: str, read: list[cp_model.IntVar], layers: Layers) -> None:
        """Let an automaton read some variables, from state 0 on.

        Its states are variables of the model, settled by what is read. The solver has a constraint for
        automata too, but that hides its states and then lists one solution again and again (seen with
        OR-Tools 9.15: 2298 solutions for 3 lines).
        """
        before: cp_model.IntVar | None = None
        for place, (variable, steps) in enumerate(zip(read, layers, strict=True)):
            rows = steps if place else [step for step in steps if step[0] == 0]
            if not rows:
                raise _NoLine
            state = self._variable(name, place, (after for _, _, after in rows))
            if before is None:
                self.model.add_allowed_assignments((variable, state), [row[1:] for row in rows])
            else:
                self.model.add_allowed_assignments((before, variable, state), rows)
            before = state

    # -- limits ----------------------------------------------------------------------------------------------

    def _limits(self) -> None:
        """Each limit is an automaton that reads all pitches, those of a stock ending included."""
        if not self.rules.limits:
            return
        alphabet, followers = self._alphabet()
        for limit in self.rules.limits:
            try:
                layers = tabulate(limit, alphabet, followers)
            except TooManySteps:
                raise Stopped(
                    f"the limit {limit.kind} has too many states here to be written out for the engine "
                    f'{CpSatEngine.name}; use the engine "{DEFAULT}" or "backtracking".'
                ) from None
            self._automaton(limit.kind, self.line, layers)

    def _alphabet(self) -> tuple[list[dict[int, Note]], list[dict[int, list[int]]]]:
        """For each note of the line the notes that it may be, and the pitches that may come next."""
        pairs = [*self.followers, *(set(zip(a, b, strict=True)) for a, b in _neighbours(self.rows))]
        sounding = [*self.sounding, *(set(column) for column in list(zip(*self.rows, strict=True))[1:])]
        alphabet = []
        for (onset, length), pitches in zip(self.skeleton.shape, sounding, strict=True):
            alphabet.append({p: self.rules.note((onset, p, length)) for p in pitches})
        followers: list[dict[int, list[int]]] = []
        for each in pairs:
            after: dict[int, list[int]] = {}
            for before, pitch in each:
                after.setdefault(before, []).append(pitch)
            followers.append(after)
        return alphabet, followers

    # -- solving ---------------------------------------------------------------------------------------------

    def solve(self, clock: Clock, found: Collector) -> None:
        """Collect every line, or lines until the collector has enough. Raises Stopped when the time is up."""
        solver = cp_model.CpSolver()
        solver.parameters.enumerate_all_solutions = True
        solver.parameters.num_workers = 1
        left = clock.left()
        if left is not None:
            solver.parameters.max_time_in_seconds = left
        status = run(solver, self.model, found)
        if found.enough or status in (cp_model.OPTIMAL, cp_model.INFEASIBLE):
            return
        if status == cp_model.MODEL_INVALID:
            raise AssertionError(self.model.validate())
        raise clock.stopped()


def _neighbours(rows: Rows) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Each two neighbouring columns of a table."""
    return list(pairwise(zip(*rows, strict=True)))


class Collector(cp_model.CpSolverSolutionCallback):
    """Keeps the pitches of every solution; where ``enough`` is set, the search ends."""

    def __init__(self, variables: list[cp_model.IntVar]) -> None:
        super().__init__()
        self._variables = variables
        self.lines: set[tuple[int, ...]] = set()
        self.enough = False

    def on_solution_callback(self) -> None:
        """Called by the solver at each solution."""
        self.lines.add(tuple(self.value(variable) for variable in self._variables))
        if self.enough:
            self.stop_search()


def build(allowance: Allowance) -> CpSatEngine:
    """The engine, held to an allowance."""
    return CpSatEngine(allowance)
