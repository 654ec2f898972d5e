"""Lines that are smooth and unlike each other.

The distance between two lines is the number of onsets, out of all the onsets that either has, at which they
do not have the same pitch. ``varied`` chooses one line after another by maximal marginal relevance
(J. Carbonell and J. Goldstein, SIGIR 1998): each time the line with the best sum of smoothness and least
distance to the lines already chosen. ``most_varied`` chooses all of them at once, with a proof.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING, Any

from everyline.corpora.counted import plural
from everyline.corpora.errors import EverylineError, InputError
from everyline.rules.line import Events
from everyline.solver.interrupt import run
from everyline.solver.smooth import Ranked

if TYPE_CHECKING:
    import numpy

POOL = 1000
"""How many of the smoothest lines a choice is made from, unless more lines are asked for."""

BALANCE = 50
"""Percent that distance counts for in a choice; smoothness has the rest."""

EXACT_POOL = 300
"""The largest pool for a choice with a proof."""

OPTIMAL, BEST_FOUND = "optimal", "best found"


class NoSolver(EverylineError):
    """The constraint solver is not installed."""


class TooRough(InputError):
    """No choice keeps to the roughness allowed."""


def distance(one: Events, other: Events) -> int:
    """The number of onsets, out of all that either line has, at which they do not have the same pitch."""
    pitches = {event.onset: event.pitch for event in one}
    others = {event.onset: event.pitch for event in other}
    return sum(pitches.get(onset) != others.get(onset) for onset in pitches.keys() | others.keys())


def least_distance(lines: Sequence[Events]) -> int:
    """The distance of the two most similar lines; 0 for fewer than two."""
    return min((distance(a, b) for a, b in combinations(lines, 2)), default=0)


def varied(pool: Sequence[Ranked], balance: int = BALANCE) -> Iterator[Ranked]:
    """The lines of a pool, the smoothest first, then always the one with the best sum of smoothness and least
    distance to those before it. Ties go to the smoother line, then to the lower number.

    ``balance`` is the percent that distance counts for: 0 is the order of smoothness. Smoothness runs over
    the roughnesses of the pool, distance up to the most onsets that two lines can have; both in whole
    numbers, so that the choice is the same on every machine. Raises InputError.
    """
    import numpy

    if not 0 <= balance <= 100:
        raise InputError(f"balance {balance}: it is a percentage, 0 to 100.")
    if not pool:
        return
    pool = sorted(pool, key=lambda line: (line.roughness, line.number))
    pitches = _pitches(pool)
    rough = numpy.array([line.roughness for line in pool], dtype=numpy.int64)
    span = max(1, int(rough[-1] - rough[0]))
    furthest = pitches.shape[1]
    smooth = (100 - balance) * (rough[-1] - rough) * furthest
    left = numpy.ones(len(pool), dtype=bool)
    nearest = numpy.full(len(pool), furthest, dtype=numpy.int64)
    for _ in pool:
        value = smooth + balance * nearest * span
        # argmax takes the first of equals, which is the smoother line, then the lower number.
        chosen = int(numpy.argmax(numpy.where(left, value, -1)))
        left[chosen] = False
        numpy.minimum(nearest, (pitches != pitches[chosen]).sum(axis=1), out=nearest)
        yield pool[chosen]


def _pitches(pool: Sequence[Ranked]) -> numpy.ndarray[Any, Any]:
    """One row for each line, one column for each onset that any has; -1 where a line has none."""
    import numpy

    onsets = sorted({event.onset for line in pool for event in line.events})
    column = {onset: place for place, onset in enumerate(onsets)}
    table = numpy.full((len(pool), len(onsets)), -1, dtype=numpy.int16)
    for row, line in enumerate(pool):
        for event in line.events:
            table[row, column[event.onset]] = event.pitch
    return table


@dataclass(frozen=True, slots=True)
class VariedLines:
    """Lines chosen at once: the least distance between two of them, and how far it is proven.

    ``bound`` is a least distance that no choice can exceed; ``status`` is OPTIMAL where it is reached,
    BEST_FOUND where the search was cut short. ``roughness`` is the sum over the lines.
    """

    lines: tuple[Ranked, ...]
    least: int
    bound: int
    roughness: int
    status: str


def most_varied(
    pool: Sequence[Ranked], choose: int, budget: int | None = None, effort: float = 30.0
) -> VariedLines:
    """``choose`` lines of a pool with the greatest least distance whose roughnesses sum up to ``budget`` at
    most; among those, with the least roughness.

    Without a budget, what ``varied`` would choose sets it. Each distance in turn is asked for by a model of
    its own, one that forbids every pair nearer than that (CP-SAT, one thread). ``effort`` bounds each search
    in the solver's own deterministic time, about seconds, so the answer is the same on every machine.
    Raises InputError, TooRough where no choice keeps to the budget, and NoSolver.
    """
    if len(pool) > EXACT_POOL:
        raise InputError(f"a pool of {len(pool)} lines is too large for a proof; {EXACT_POOL} is the most.")
    if not 1 <= choose <= len(pool):
        raise InputError(
            f"{plural(choose, 'line')} out of {len(pool)} cannot be chosen; 1 to {len(pool)} can."
        )
    pool = sorted(pool, key=lambda line: (line.roughness, line.number))
    greedy = [line for line, _ in zip(varied(pool), range(choose), strict=False)]
    if budget is None:
        budget = sum(line.roughness for line in greedy)
    least_sum = sum(line.roughness for line in pool[:choose])
    if least_sum > budget:
        raise TooRough(
            f"a roughness of {budget} is too little for {plural(choose, 'line')}; the smoothest together "
            f"have {least_sum}."
        )
    fits = sum(line.roughness for line in greedy) <= budget
    best = _choice(greedy if fits else pool[:choose])
    if choose == 1:
        return replace(_choice(pool[:1]), status=OPTIMAL)
    distances = (_pitches(pool)[:, None, :] != _pitches(pool)[None, :, :]).sum(axis=2)
    bound = int(distances.max())
    proven = True
    # Halving between what is reached and what may be possible.
    while best.least < bound:
        wanted = (best.least + bound + 1) // 2
        found, certain = _at_distance(pool, distances, choose, budget, wanted, effort)
        if found is not None:
            best = _choice([pool[place] for place in found])
        elif certain:
            bound = wanted - 1
        else:
            proven = False
            break
    found, _ = _at_distance(pool, distances, choose, budget, best.least, effort, smoothest=True)
    if found is not None:
        best = _choice([pool[place] for place in found])
    return replace(best, bound=bound, status=OPTIMAL if proven else BEST_FOUND)


def _choice(lines: Sequence[Ranked]) -> VariedLines:
    chosen = tuple(sorted(lines, key=lambda line: (line.roughness, line.number)))
    least = least_distance([line.events for line in chosen])
    return VariedLines(chosen, least, least, sum(line.roughness for line in chosen), BEST_FOUND)


def _at_distance(
    pool: Sequence[Ranked],
    distances: Any,
    choose: int,
    budget: int,
    wanted: int,
    effort: float,
    smoothest: bool = False,
) -> tuple[list[int] | None, bool]:
    """(places of lines that are ``wanted`` apart or None, whether that answer is proven)."""
    cp_model = load_solver()
    model = cp_model.CpModel()
    takes = [model.new_bool_var(f"take {line.number}") for line in pool]
    model.add(sum(takes) == choose)
    total = sum(line.roughness * take for line, take in zip(pool, takes, strict=True))
    model.add(total <= budget)
    for clique in _cliques(distances < wanted):
        model.add_at_most_one(takes[place] for place in clique)
    if smoothest:
        model.minimize(total)
    solver = cp_model.CpSolver()
    settle(solver, effort)
    status = run(solver, model)
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return [place for place, take in enumerate(takes) if solver.value(take)], True
    return None, bool(status == cp_model.INFEASIBLE)


def _cliques(near: Any) -> Iterator[list[int]]:
    """Sets of lines that are all too near to each other, which together hold every pair that is."""
    size = len(near)
    covered = [[False] * size for _ in range(size)]
    for one in range(size):
        for other in range(one + 1, size):
            if not near[one][other] or covered[one][other]:
                continue
            clique = [one, other]
            for third in range(size):
                if third not in (one, other) and all(near[third][member] for member in clique):
                    clique.append(third)
            for a, b in combinations(sorted(clique), 2):
                covered[a][b] = True
            yield clique


def load_solver(extra: str = "engines") -> Any:
    """The constraint solver's module. Raises NoSolver, naming the extra to install, where it is missing."""
    try:
        from ortools.sat.python import cp_model
    except ImportError:
        raise NoSolver(
            "this needs the constraint solver, which is not installed; get it with: "
            f'pip install "everyline[{extra}]".'
        ) from None
    return cp_model


def settle(solver: Any, effort: float, seed: int = 1) -> None:
    """Make a search repeatable: one thread, a fixed seed, and a bound in the solver's own time."""
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.max_deterministic_time = effort
