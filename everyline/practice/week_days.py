"""Which line comes on which day: an exact model for CP-SAT.

Lines are paths through *states*: the day a line was last practised, its gap, and how many keys it still
wants before a new line may be begun. Lines in one state have the same future, so that the model counts how
many lines take each step and need not tell them apart: a flow with whole numbers, which the solver proves
best far sooner than one choice for each line. Afterwards the flow is cut into paths again, lines that came
first going on first.

Constraints: gaps (``week_rules``); no more rounds a day than its minutes hold, in the weeks ahead too, so
that nothing is begun that could not be kept up; a new line only after a day by whose end every line that
was begun has been played in so many keys (a rule of the trade, common practice); so many new lines a week
at most.

Aims, one after another, each under the best value of those before: lines that are late already come as
early as can be; as many new lines as may be are begun; as few days as can be have no line or only one; gaps
are no longer than they need be; new lines begin as early as can be.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from everyline.corpora.errors import EverylineError
from everyline.practice.records import Grade
from everyline.practice.week import WEEK, Proof, Wishes
from everyline.practice.week_rules import LONG, Gap, Standing, due, first_gap
from everyline.solver.interrupt import run
from everyline.solver.varied import load_solver, settle

EFFORT, ALL_EFFORT, LEAST_EFFORT = 1.0, 2.2, 0.1
"""How long an aim, and all of them together, are worked on at most, in the solver's own time: the same amount
of work on any machine; and what the last aims get in any case."""
EMPTY = 3
"""What a day without a line counts beside one with a single line."""
NEVER = 10**6
"""The day of what comes after all days."""


class NoPlan(EverylineError):
    """The constraints leave no plan (exit code 1); the text says which of them to loosen."""


class Share(NamedTuple):
    """What a line gets on a day at least: rounds of playing, each in another key, and of other kinds."""

    plays: int
    others: int


class State(NamedTuple):
    """A line after a day of practice; ``origin`` tells lines apart while keys are wanting, else None."""

    day: int
    gap: Gap
    wanting: int
    origin: int | None


@dataclass(frozen=True, slots=True)
class Step:
    """One line on one day: ``day`` from the plan's first, ``gap`` in days (None: new), ``late`` in days of
    practice."""

    day: int
    gap: int | None
    late: int
    share: Share


@dataclass(frozen=True, slots=True)
class Course:
    """The days of one line; ``line`` is its number among the standings."""

    line: int
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class _Arc:
    """From a state (or a beginning) to another; ``to`` is None where the line is not seen again."""

    var: Any
    start: int
    step: Step | None
    to: State | None


NEW = -1
"""The origin of a line that the plan begins."""


class DayModel:
    """The model of one plan. ``more`` rounds a day are added to what the minutes hold, to ask how many are
    wanting."""

    def __init__(self, standings: Sequence[Standing], wishes: Wishes, more: int = 0) -> None:
        self.cp = load_solver("practice")
        self.model = self.cp.CpModel()
        self.wishes = wishes
        days = wishes.days_to_look_at()
        self.days = [(day - wishes.begin).days for day, _ in days]
        self.room = [wishes.room(minutes) + more for _, minutes in days]
        self.known = [number for number, each in enumerate(standings) if each.last is not None]
        self.waiting = [number for number, each in enumerate(standings) if each.last is None]
        self.standings = standings
        self.into: dict[State, list[_Arc]] = {}
        self.out: dict[State, list[_Arc]] = defaultdict(list)
        self.firsts: dict[int, list[_Arc]] = {}
        self.starts: dict[int, _Arc] = {}
        self.late: list[tuple[int, Any]] = []
        self.stretched: list[tuple[int, Any]] = []
        self._load: dict[int, list[Any]] = defaultdict(list)
        self._visits: dict[int, list[Any]] = defaultdict(list)
        self._few: dict[int, tuple[Any, Any]] = {}
        # Which line wants keys, after which day (-1: when the plan begins) until which.
        self._wanting: list[tuple[int, int, int, Any]] = []
        self._open: list[State] = []
        self._build()

    def _build(self) -> None:
        self._begin_new()
        for number in self.known:
            self._begin_known(number)
        while self._open:
            self._go_on(self._open.pop())
        for state, arcs in self.into.items():
            self.model.add(sum(arc.var for arc in arcs) == sum(arc.var for arc in self.out[state]))
        for day, room in zip(self.days, self.room, strict=True):
            if self._load[day]:
                self.model.add(sum(self._load[day]) <= room)
        self._one_after_another()
        total = self.new_lines
        self.model.add(total >= self.wishes.new)
        self.model.add(total <= len(self.waiting))
        self._few_lines_cost = self._few_lines()
        for week in range(self.wishes.weeks):
            begun = [arc.var for day, arc in self.starts.items() if day // WEEK == week]
            self.model.add(sum(begun) <= self.wishes.new_a_week)

    @property
    def new_lines(self) -> Any:
        """How many lines the plan begins, as an expression."""
        return sum(arc.var for arc in self.starts.values())

    def _begin_new(self) -> None:
        for day in self.days:
            if day >= self.wishes.weeks * WEEK:
                break
            var = self.model.new_bool_var("")
            state = State(day, first_gap(self.wishes.gaps), self.wishes.keys - 1, NEW)
            self.starts[day] = self._arrive(var, NEVER, Step(day, None, 0, Share(1, 1)), state)

    def _begin_known(self, number: int) -> None:
        standing, wishes = self.standings[number], self.wishes
        assert standing.last is not None
        last = (standing.last - wishes.begin).days
        gap, wanting = standing.gap, standing.keys_wanting(wishes)
        days, beyond = due(gap, last, self.days)
        overdue = last + gap.most < self.days[0]
        arcs = []
        on_time = len(self.days) if not days else self.days.index(days[-1])
        if overdue:  # the day after its gap has gone by unused
            on_time = 0
        if overdue or wishes.let_late:
            days, beyond = [day for day in self.days if day >= last + gap.least], True
        for day in days:
            late = max(0, self.days.index(day) - on_time)
            var = self.model.new_bool_var("")
            arcs.append(self._visit(var, last, day, gap, wanting, number, late))
            if wanting:
                self._wanting.append((number, -1, day, var))
            if late:
                self.late.append((late, var))
            elif not overdue:
                self._note_longer(var, day - days[0], gap)
        if beyond:
            var = self.model.new_bool_var("")
            arcs.append(_Arc(var, last, None, None))
            if on_time < len(self.days) and (overdue or last + gap.most <= self.days[-1]):
                self.late.append((len(self.days) - on_time + 1, var))
            if wanting:
                self._wanting.append((number, -1, NEVER, var))
        self.model.add_exactly_one([arc.var for arc in arcs])
        self.firsts[number] = arcs

    def _go_on(self, state: State) -> None:
        most = 1 if state.wanting else len(self.standings)
        days, beyond = due(state.gap, state.day, self.days)
        for day in days:
            var = self.model.new_int_var(0, most, "")
            arc = self._visit(var, state.day, day, state.gap, state.wanting, state.origin, 0)
            self.out[state].append(arc)
            self._note_longer(var, day - days[0], state.gap)
            if state.origin is not None:
                self._wanting.append((state.origin, state.day, day, var))
        if beyond:
            var = self.model.new_int_var(0, most, "")
            self.out[state].append(_Arc(var, state.day, None, None))
            if state.origin is not None:
                self._wanting.append((state.origin, state.day, NEVER, var))

    def _visit(
        self, var: Any, last: int, day: int, gap: Gap, wanting: int, origin: int | None, late: int
    ) -> _Arc:
        """The arc of a line that comes again on ``day``."""
        share = _share(gap, wanting)
        after = gap.after(self.wishes.gaps, day - last, Grade.CLEAN)
        left = max(0, wanting - share.plays)
        state = State(day, after, left, origin if left else None)
        return self._arrive(var, last, Step(day, day - last, late, share), state)

    def _note_longer(self, var: Any, longer: int, gap: Gap) -> None:
        """A gap that is so many days longer than the shortest that the days of practice allow."""
        if longer:
            self.stretched.append((longer * 100 // gap.least, var))

    def _arrive(self, var: Any, start: int, step: Step, state: State) -> _Arc:
        if not state.wanting:
            state = state._replace(origin=None)
        arc = _Arc(var, start, step, state)
        if state not in self.into:
            self.into[state] = []
            self._open.append(state)
        self.into[state].append(arc)
        self._load[step.day].append(sum(step.share) * var)
        self._visits[step.day].append(var)
        return arc

    def _one_after_another(self) -> None:
        """No line is begun while one that was begun before still wants keys."""
        for day, start in self.starts.items():
            wanting = defaultdict(list)
            for origin, last, comes, var in self._wanting:
                if last < day <= comes:
                    wanting[origin].append(var)
            for several in wanting.values():
                self.model.add(sum(several) + start.var <= 1)

    def aims(self) -> list[tuple[str, list[tuple[int, Any]], bool]]:
        """Each aim in words, as a sum of variables with factors, and whether more is better."""
        waits = [(day, arc.var) for day, arc in self.starts.items()] if self.waiting else []
        begun = [(1, arc.var) for arc in self.starts.values()] if self.waiting else []
        aims = [
            ("days of practice late", self.late, False),
            ("new lines begun", begun, True),
            (f"days with only one line, those with none counted {EMPTY} times", self._few_lines_cost, False),
            ("gaps longer than they need be, in percent of each together", self.stretched, False),
            ("days until new lines begin, together", waits, False),
        ]
        return [aim for aim in aims if aim[1]]

    def _few_lines(self) -> list[tuple[int, Any]]:
        """What a day of the plan costs where it has fewer than two lines, so that lines take turns."""
        found = []
        for day in self.days:
            if day < self.wishes.weeks * WEEK:
                none, one = self.model.new_bool_var(""), self.model.new_bool_var("")
                self.model.add(sum(self._visits[day]) + none >= 1)
                self.model.add(sum(self._visits[day]) + 2 * none + one >= 2)
                self._few[day] = none, one
                found += [(EMPTY, none), (1, one)]
        return found

    def feasible(self) -> bool:
        """Whether there is a plan at all; False too where the work allowed does not show one."""
        solver = self._solver(EFFORT)
        return run(solver, self.model) in (self.cp.OPTIMAL, self.cp.FEASIBLE)

    def solve(self, effort: float = ALL_EFFORT) -> tuple[list[Course], list[Proof]]:
        """The days of every line, and what is proven of each aim, all of them worked on for ``effort`` at
        most. Raises NoPlan."""
        proofs = []
        left = effort
        values: list[int] | None = None
        for words, terms, more in self.aims() or [("", [], False)]:
            expression = sum(factor * var for factor, var in terms)
            (self.model.maximize if more else self.model.minimize)(expression)
            solver = self._solver(min(EFFORT, left))
            status = run(solver, self.model)
            left = max(LEAST_EFFORT, left - solver.response_proto.deterministic_time)
            if status == self.cp.INFEASIBLE:
                raise NoPlan("no plan keeps to all that is asked")
            if status in (self.cp.OPTIMAL, self.cp.FEASIBLE):
                values = [solver.value(var) for var in self._variables()]
            elif values is None:
                raise NoPlan("no plan was found within the work allowed")
            self._hint(values)
            if words:
                value = sum(factor * values[var.index] for factor, var in terms)
                bound = value if status == self.cp.OPTIMAL else round(solver.best_objective_bound)
                proofs.append(Proof(words, value, bound))
                self.model.add(expression >= value if more else expression <= value)
        assert values is not None
        return self._courses(values), proofs

    def _variables(self) -> list[Any]:
        return [self.model.get_int_var_from_proto_index(at) for at in range(len(self.model.proto.variables))]

    def begin_with(self, days: Mapping[int, Sequence[int]]) -> None:
        """Let the search begin with a plan: the days of each line, by its number. One that breaks a
        constraint is begun with as far as it goes."""
        values = [0] * len(self._variables())
        starts = list(self.starts.values())
        for number in (*self.known, *self.waiting):
            left = list(days.get(number, ()))
            if not left and number in self.waiting:
                continue
            arcs: Sequence[_Arc] = self.firsts.get(number, starts)
            while arcs:
                day = left.pop(0) if left else None
                wanted = (arc for arc in arcs if (arc.step.day if arc.step else None) == day)
                arc = next(wanted, None)
                if arc is None:
                    break
                values[arc.var.index] += 1
                arcs = self.out[arc.to] if arc.to is not None else ()
        self._hint(values)

    def _hint(self, values: list[int]) -> None:
        self.model.clear_hints()
        for day, (none, one) in self._few.items():  # not more than they need be
            lines = sum(values[var.index] for var in self._visits[day])
            values[none.index], values[one.index] = int(lines == 0), int(lines == 1)
        for var, value in zip(self._variables(), values, strict=True):
            self.model.add_hint(var, value)

    def _solver(self, effort: float) -> Any:
        solver = self.cp.CpSolver()
        settle(solver, effort, self.wishes.seed)
        # Probing takes most of the work allowed and finds little here.
        solver.parameters.cp_model_probing_level = 0
        # The flow is nearly whole as a linear program, which is what proves a plan best.
        solver.parameters.linearization_level = 2
        return solver

    def _courses(self, values: list[int]) -> list[Course]:
        """The flow as one path a line: those that came to a state first leave it first, by the first day."""
        left = {
            arc.var.index: values[arc.var.index]
            for arcs in (self.starts.values(), *self.firsts.values(), *self.out.values())
            for arc in arcs
        }
        steps: dict[int, list[Step]] = defaultdict(list)
        at: dict[State, list[int]] = defaultdict(list)

        def take(line: int, arcs: Sequence[_Arc]) -> None:
            arc = next(arc for arc in arcs if left[arc.var.index])
            left[arc.var.index] -= 1
            if arc.step is not None and arc.to is not None:
                steps[line].append(arc.step)
                at[arc.to].append(line)

        for number, arcs in self.firsts.items():
            take(number, arcs)
        begun = [arc for arc in self.starts.values() if values[arc.var.index]]
        for number, arc in zip(self.waiting, begun, strict=False):
            take(number, [arc])
        for day in self.days:
            for state in sorted((state for state in at if state.day == day), key=_sorting):
                for number in sorted(at[state]):
                    take(number, self.out[state])
        return [Course(number, tuple(found)) for number, found in sorted(steps.items())]


def _sorting(state: State) -> tuple[int, ...]:
    return (
        state.day,
        state.gap.place,
        state.gap.least,
        state.wanting,
        NEW if state.origin is None else state.origin,
    )


def _share(gap: Gap, wanting: int) -> Share:
    """What a line that comes again gets: two rounds, of playing in new keys while keys are wanting, else one
    of playing and one of another kind; after a long gap one of playing."""
    if wanting:
        plays = min(2, wanting)
        return Share(plays, 2 - plays)
    return Share(1, 0 if gap.least >= LONG else 1)
