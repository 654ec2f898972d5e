"""The engine on the CP-SAT solver of OR-Tools: tables and automata, all solutions, one analysis each.

The solver is asked for every solution of a model in which roles, aims and pitches are variables (see
``tables``). A line with two analyses is found twice and counted once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import pairwise
from typing import TypeVar

from ortools.sat.python import cp_model

from everyline.corpora.errors import Stopped
from everyline.rules.line import Note
from everyline.solver.contract import DEFAULT, Allowance, Clock
from everyline.solver.engines.automata import Layers, Step, TooManySteps, tabulate
from everyline.solver.engines.general import GeneralEngine
from everyline.solver.engines.skeleton import Skeleton
from everyline.solver.engines.tables import APPROACHES, BEGINS, TONES, Kind, Pairs, Tables
from everyline.solver.interrupt import run

_S = TypeVar("_S")


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
    """The constraint model of one skeleton. Raises _NoLine where some note has nothing to choose from."""

    def __init__(self, skeleton: Skeleton) -> None:
        self.skeleton = skeleton
        self.rules = skeleton.rules
        self.tables = Tables(skeleton)
        if not all(self.tables.choices):
            raise _NoLine
        self.model = cp_model.CpModel()
        self._body()
        self._ending()
        self._runs()
        self._distance()
        self._counts()
        self._targets()
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
        """One note a slot: what it may be, and what it may be after the note before."""
        choices = self.tables.choices
        self.roles = [self._variable("role", i, (c.role for c in each)) for i, each in enumerate(choices)]
        self.kinds = [self._variable("kind", i, (c.kind for c in each)) for i, each in enumerate(choices)]
        self.aims = [self._variable("aim", i, (c.aim for c in each)) for i, each in enumerate(choices)]
        self.pitches = [self._variable("pitch", i, (c.pitch for c in each)) for i, each in enumerate(choices)]
        self.begins = [self._flag("begins", i, BEGINS) for i in range(len(choices))]
        self.approaches = [self._flag("approach", i, APPROACHES) for i in range(len(choices))]
        for place, each in enumerate(choices):
            note = (self.roles[place], self.kinds[place], self.aims[place], self.pitches[place])
            self.model.add_allowed_assignments(note, sorted(each))
            if place:
                self._next(place)

    def _flag(self, name: str, place: int, kinds: tuple[Kind, ...]) -> cp_model.IntVar:
        """A variable that is 1 where the note is of one of these kinds, else 0."""
        flag = self.model.new_bool_var(f"{name} {place}")
        table = [(kind, int(kind in kinds)) for kind in Kind]
        self.model.add_allowed_assignments((self.kinds[place], flag), table)
        return flag

    def _next(self, place: int) -> None:
        moves, follows = self.tables.moves[place], self.tables.follows(place)
        if not moves or not follows:
            raise _NoLine
        self.model.add_allowed_assignments((self.roles[place - 1], self.roles[place]), sorted(follows))
        note = (self.pitches[place - 1], self.kinds[place], self.aims[place], self.pitches[place])
        self.model.add_allowed_assignments(note, sorted(moves))
        same_aim = self.model.add(self.aims[place] == self.aims[place - 1])
        same_aim.only_enforce_if(self.approaches[place - 1])

    def _ending(self) -> None:
        """The notes of a stock ending follow from the last note before it."""
        self.tail: list[cp_model.IntVar] = []
        self.rows: Pairs = []
        if self.skeleton.ending is None:
            return
        for last in self.skeleton.tones(self.skeleton.body[-1]):
            pitches = self.skeleton.ending_pitches(last)
            if pitches is not None:
                self.rows.append((last, *pitches))
        if not self.rows:
            raise _NoLine
        columns = list(zip(*self.rows, strict=True))[1:]
        self.tail = [self._variable("ending", place, column) for place, column in enumerate(columns)]
        self.model.add_allowed_assignments((self.pitches[-1], *self.tail), self.rows)

    # -- what is counted along the way -----------------------------------------------------------------------

    def _runs(self) -> None:
        """A run turns at most ``turns`` times; every anchor, and every figure, begins a new one.

        A state is (direction, turns so far).
        """
        turns = min(self.rules.arpeggio.turns, len(self.kinds))  # no run turns on every note

        def after(state: tuple[int, int], kind: Kind) -> tuple[int, int] | None:
            if kind not in (Kind.UP, Kind.DOWN):
                return 0, 0
            way = 1 if kind is Kind.UP else -1
            spent = state[1] + (state[0] == -way)
            return (way, spent) if spent <= turns else None

        states = [(0, 0)] + [(way, spent) for way in (1, -1) for spent in range(turns + 1)]
        self._over_kinds("run", states, after)

    def _distance(self) -> None:
        """A new figure waits for ``after`` chord tones, the last target being the first of them.

        A state is the number of chord tones since that target, counted no further than asked; at first
        nothing is owed.
        """
        least = min(self.rules.approach.after, len(self.kinds) + 1)  # more than there are notes is never met

        def after(state: int, kind: Kind) -> int | None:
            if kind in BEGINS:
                return state if state >= least else None
            if kind is Kind.TARGET:
                return min(1, least)
            return min(state + 1, least) if kind in TONES else state

        self._over_kinds("since", [least, *range(least)], after)

    def _over_kinds(self, name: str, states: list[_S], after: Callable[[_S, Kind], _S | None]) -> None:
        """An automaton over the kinds of the body's notes: it starts in the first state, may end in any."""
        steps: list[Step] = []
        for place, state in enumerate(states):
            for kind in Kind:
                moved = after(state, kind)
                if moved is not None:
                    steps.append((place, int(kind), states.index(moved)))
        self._automaton(name, self.kinds, (tuple(steps),) * len(self.kinds))

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

    def _counts(self) -> None:
        """Each chord has its number of figures."""
        for chord, least, most in self.skeleton.counted():
            starting = [
                flag
                for slot, flag in zip(self.skeleton.body, self.begins, strict=True)
                if self.skeleton.chord(slot) == chord
            ]
            if least > len(starting):
                raise _NoLine
            if starting:
                self.model.add_linear_constraint(sum(starting), least, min(most, len(starting)))

    def _targets(self) -> None:
        """Each must-target is met by some figure of this one analysis."""
        for number, wanted in enumerate(self.rules.must_targets):
            landings = []
            for place, slot in enumerate(self.skeleton.body):
                chord = self.skeleton.chord(slot)
                root = self.rules.progression.chords[chord].root_class
                targets = {c.pitch for c in self.tables.choices[place] if c.kind == Kind.TARGET}
                hits = {p for p in targets if wanted.meets(chord, (p - root) % 12, slot)}
                if hits:
                    landings.append(self._landing(number, place, hits))
            if not landings:
                raise _NoLine
            self.model.add_bool_or(landings)

    def _landing(self, number: int, place: int, hits: set[int]) -> cp_model.IntVar:
        """A variable that is 1 where a figure lands on one of these pitches, else 0."""
        flag = self.model.new_bool_var(f"must-target {number} {place}")
        table = {
            (c.kind, c.pitch, int(c.kind == Kind.TARGET and c.pitch in hits))
            for c in self.tables.choices[place]
        }
        self.model.add_allowed_assignments((self.kinds[place], self.pitches[place], flag), sorted(table))
        return flag

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
        pairs = [{(m.before, m.pitch) for m in moves} for moves in self.tables.moves[1:]]
        pairs += [set(zip(a, b, strict=True)) for a, b in _neighbours(self.rows)]
        sounding = [{c.pitch for c in each} for each in self.tables.choices]
        sounding += [set(column) for column in list(zip(*self.rows, strict=True))[1:]]
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


def _neighbours(rows: Pairs) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
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
