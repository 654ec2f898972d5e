"""The rounds of one day: keys, kinds of exercise and order, each chosen exactly by CP-SAT.

Lines and keys take turns. Frequent change between tasks made more effort in practice and better retention
in many fields (contextual interference); with ten clarinettists, three minutes a piece in turn was rated
better than twelve in one go wherever raters differed (Carter and Grahn 2016, Frontiers in Psychology
7:1251). It is not settled: Czyz and others 2024 (Scientific Reports 14:15974) found almost no effect in
applied settings.

First what is done: further rounds fill the minutes; no line takes more than four; as few rounds as can be
share a key; of the kinds, those come that the line had least; further rounds go to the lines with fewest.
Then the order: no line twice in a row, unless it is the only one; as seldom as can be one key or one kind
twice in a row. A new line is heard, then played, before anything else is done with it.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from everyline.practice.records import Kind
from everyline.practice.week_days import Share
from everyline.practice.week_rules import class_of, keys_from
from everyline.solver.interrupt import run
from everyline.solver.varied import load_solver, settle

EFFORT = 0.2
"""How long one question is worked on at most, in the solver's own time."""
MOST_ROUNDS = 4
"""Rounds that a line has in a day at most."""
OTHERS = tuple(kind for kind in Kind if kind is not Kind.PLAY)
SHARED_KEY, HAD, FARTHER, EVEN = 100, 10, 2, 1
"""What a round costs: in a key that the day has already; of a kind that the line had, for each time; in a
key farther on in the cycle than need be, for each step; and the square of the further rounds of one line."""


class Task(NamedTuple):
    """A round before it has a place in the day; ``line`` is a number among the standings."""

    line: int
    kind: Kind
    key: str


@dataclass
class Turn:
    """What is known of a line on a day: how often it was played in each key and had each kind before."""

    line: int
    home: str
    share: Share
    new: bool
    keys: Counter[int]
    kinds: Counter[Kind]

    def tasks(self) -> list[Task]:
        """What the line may have today: playing in keys that it was played in least, in the cycle of fourths
        from home; other kinds in the last keys that it has been played in. A new line stays at home."""
        if self.new:
            return [Task(self.line, kind, self.home) for kind in Kind]
        cycle = keys_from(self.home)
        plays = sorted(cycle, key=lambda key: (self.keys[class_of(key)], cycle.index(key)))
        least = self.keys[class_of(plays[0])]
        seldom = sum(self.keys[class_of(key)] == least for key in plays)
        choice = plays[: max(self.share.plays, min(seldom, self.share.plays + 2))]
        known = [key for key in cycle if self.keys[class_of(key)]][-3:] or [self.home]
        return [
            *(Task(self.line, Kind.PLAY, key) for key in choice),
            *(Task(self.line, kind, key) for kind in OTHERS for key in known),
        ]


def rounds_of(turns: Sequence[Turn], room: int, seed: int) -> tuple[list[Task], bool]:
    """The rounds of a day in their order, and whether both choices are proven best."""
    tasks, best = _chosen(turns, room, seed)
    ordered, first = _ordered(tasks, {turn.line for turn in turns if turn.new}, seed)
    return ordered, best and first


def _chosen(turns: Sequence[Turn], room: int, seed: int) -> tuple[list[Task], bool]:
    """What is done on the day."""
    cp = load_solver("practice")
    model = cp.CpModel()
    rounds = min(room, MOST_ROUNDS * len(turns))
    costs: list[Any] = []
    chosen: dict[Task, Any] = {}
    by_key: dict[int, list[Any]] = defaultdict(list)
    for turn in turns:
        own = {task: model.new_bool_var("") for task in turn.tasks()}
        chosen |= own
        plays = [var for task, var in own.items() if task.kind is Kind.PLAY]
        model.add(sum(plays) == turn.share.plays)
        most = MOST_ROUNDS if len(turns) == 1 else min(MOST_ROUNDS, (rounds + 1) // 2)
        model.add_linear_constraint(sum(own.values()), sum(turn.share), most)
        extra = model.new_int_var(0, MOST_ROUNDS**2, "")
        count = sum(own.values())
        for more in range(1, MOST_ROUNDS):  # each further round costs more than the one before
            model.add(extra >= (2 * more - 1) * (count - sum(turn.share)) - more * (more - 1))
        costs.append(EVEN * extra)
        for kind in OTHERS:
            several = [var for task, var in own.items() if task.kind is kind]
            model.add_at_most_one(several)
            costs.extend(HAD * turn.kinds[kind] * var for var in several)
        if turn.new:
            model.add(own[Task(turn.line, Kind.HEAR, turn.home)] == 1)
        costs.extend(FARTHER * step * var for step, var in enumerate(plays))
        for task, var in own.items():
            by_key[class_of(task.key)].append(var)
    model.add(sum(chosen.values()) == rounds)
    for several in by_key.values():
        shared = model.new_int_var(0, rounds, "")
        model.add(shared >= sum(several) - 1)
        costs.append(SHARED_KEY * shared)
    model.minimize(sum(costs))
    solver, best = _solved(cp, model, seed)
    return [task for task, var in chosen.items() if solver.value(var)], best


def _ordered(tasks: Sequence[Task], new: set[int], seed: int) -> tuple[list[Task], bool]:
    """The same tasks in the order of the day."""
    cp = load_solver("practice")
    model = cp.CpModel()
    places = range(len(tasks))
    at = {(task, place): model.new_bool_var("") for task in tasks for place in places}
    for task in tasks:
        model.add_exactly_one([at[task, place] for place in places])
    for place in places:
        model.add_exactly_one([at[task, place] for task in tasks])
    lines = {task.line for task in tasks}
    costs: list[Any] = []
    groups: list[tuple[bool, list[Task]]] = []
    for line in sorted(lines) if len(lines) > 1 else ():
        groups.append((True, [task for task in tasks if task.line == line]))
    for key in sorted({class_of(task.key) for task in tasks}):
        groups.append((False, [task for task in tasks if class_of(task.key) == key]))
    for kind in Kind:
        groups.append((False, [task for task in tasks if task.kind is kind]))
    for strict, members in groups:
        for place in places[1:] if len(members) > 1 else ():
            both = sum(at[task, place - 1] + at[task, place] for task in members)
            if strict:
                model.add(both <= 1)
            else:
                costs.append(model.new_bool_var(""))
                model.add(both <= 1 + costs[-1])
    for line in sorted(new):
        where = {
            task.kind: sum(place * at[task, place] for place in places) for task in tasks if task.line == line
        }
        for kind, place in where.items():
            if kind is not Kind.HEAR:
                model.add(where[Kind.HEAR if kind is Kind.PLAY else Kind.PLAY] + 1 <= place)
    model.minimize(sum(costs))
    solver, best = _solved(cp, model, seed)
    return [next(task for task in tasks if solver.value(at[task, place])) for place in places], best


def _solved(cp: Any, model: Any, seed: int) -> tuple[Any, bool]:
    solver = cp.CpSolver()
    settle(solver, EFFORT, seed)
    status = run(solver, model)
    assert status in (cp.OPTIMAL, cp.FEASIBLE), "a day's rounds can always be put in order"
    return solver, status == cp.OPTIMAL
