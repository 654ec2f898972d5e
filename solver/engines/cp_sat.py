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
        layers = self.skeleton.rows()
        if not layers:
            raise _NoLine
        self.sounding = [{pitch for _, pitch, _ in rows} for rows in layers]
        self.pitches = [self._variable("pitch", place, each) for place, each in enumerate(self.sounding)]
        before: cp_model.IntVar | None = None
        for place, (pitch, rows) in enumerate(zip(self.pitches, layers, strict=True)):
            reading = self._variable("reading", place, (row[2] for row in rows))
            if before is None:
                self.model.add_allowed_assignments((pitch, reading), [row[1:] for row in rows])
            else:
                self.model.add_allowed_assignments((before, pitch, reading), rows)
            before = reading
        for first, second in pairwise(layers):
            last: dict[int, set[int]] = {}
            for _, sounded, reading_now in first:
                last.setdefault(reading_now, set()).add(sounded)
            self.followers.append({(each, row[1]) for row in second for each in last[row[0]]})

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
