"""Every plan of a small student, listed one by one, and the best values of the aims among them.

Written from docs/plans.md, without solver or flow: each line's possible days, all combinations of them,
each judged by counting.
"""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from datetime import date
from itertools import product
from typing import NamedTuple

from everyline.practice.records import Grade, Student
from everyline.practice.week import Wishes
from tests.everyline.practice.plain_plan import Line, practice_days, replayed


class Visit(NamedTuple):
    on: date
    rounds: int
    longer: int  # than the shortest gap that the days allow, in percent of the least
    late: int
    wanting: int  # keys, after that day


Course = tuple[bool, int, tuple[Visit, ...], int]
"""Whether it is new, the keys wanting at first, its visits, and what never coming costs."""


def best_of_all(student: Student, wishes: Wishes) -> dict[str, int] | None:
    """The best value of each aim under the best of those before, or None where no plan keeps to all."""
    lines = list(replayed(student, wishes).values())
    lines += [Line(f"New line {number + 1}", wishes.to_come_key, wishes) for number in range(wishes.to_come)]
    days = practice_days(wishes)
    best = None
    for courses in product(*(list(possible(line, days)) for line in lines)):
        values = judged(courses, wishes, days)
        if values is not None and (best is None or values < best):
            best = values
    if best is None:
        return None
    return {
        "days of practice late": best[0],
        "new lines begun": -best[1],
        "days with only one line": best[2],
        "gaps longer than they need be": best[3],
        "days until new lines begin": best[4],
    }


def possible(line: Line, days: list[date]) -> Iterator[Course]:
    """All courses that a line may take."""
    wishes = line.wishes
    wanting = max(0, wishes.keys - len(line.keys))
    if line.last is None:
        yield True, 0, (), 0
        for on in days:
            if (on - wishes.begin).days < 7 * wishes.weeks:
                begun = deepcopy(line)
                begun.day(on, Grade.CLEAN, [], [line.home])
                first = Visit(on, 2, 0, 0, wishes.keys - 1)
                for rest in goes_on(begun, days, wishes.keys - 1):
                    yield True, 0, (first, *rest), 0
        return
    allowed, beyond = allowed_days(line, days)
    overdue = (days[0] - line.last).days > line.most
    last = -1 if overdue or not allowed else days.index(allowed[-1])
    shortest = allowed[0] if allowed else None
    on_time = 0 if overdue else last if allowed else len(days)
    if overdue or wishes.let_late:
        allowed = [day for day in days if (day - line.last).days >= line.least]
    never = 0
    if overdue or (wishes.let_late and not beyond):
        never = len(days) - on_time + 1
    if overdue or beyond or wishes.let_late:
        yield False, wanting, (), never
    for on in allowed:
        late = max(0, days.index(on) - on_time)
        longer = 0 if overdue or late or shortest is None else (on - shortest).days * 100 // line.least
        for visits in visited(line, on, days, wanting, longer, late):
            yield False, wanting, visits, 0


def visited(line: Line, on: date, days: list[date], wanting: int, longer: int, late: int):
    plays = min(2, wanting) or 1
    rounds = 1 if line.least >= 14 and not wanting else 2
    later = deepcopy(line)
    later.day(on, Grade.CLEAN, [], [])
    left = max(0, wanting - plays)
    for rest in goes_on(later, days, left):
        yield (Visit(on, rounds, longer, late, left), *rest)


def goes_on(line: Line, days: list[date], wanting: int) -> Iterator[tuple[Visit, ...]]:
    allowed, beyond = allowed_days(line, days)
    if beyond:
        yield ()
    for on in allowed:
        longer = (on - allowed[0]).days * 100 // line.least
        yield from visited(line, on, days, wanting, longer, 0)


def allowed_days(line: Line, days: list[date]) -> tuple[list[date], bool]:
    assert line.last is not None
    inside = [day for day in days if line.least <= (day - line.last).days <= line.most]
    if inside:
        return inside, (days[-1] - line.last).days < line.most
    after = [day for day in days if (day - line.last).days > line.most][:1]
    return after, not after


def judged(courses: tuple[Course, ...], wishes: Wishes, days: list[date]) -> tuple[int, ...] | None:
    """The aims, less is better, or None where a constraint is broken."""
    visits = [visit for _, _, several, _ in courses for visit in several]
    minutes = dict(zip(wishes.weekdays, wishes.minutes, strict=True))
    for day in days:
        rounds = sum(visit.rounds for visit in visits if visit.on == day)
        if wishes.minutes_of(rounds) > minutes[day.weekday()]:
            return None
    begun = [several[0].on if several else None for new, _, several, _ in courses if new]
    starts = [day for day in begun if day is not None]
    if begun[: len(starts)] != sorted(set(starts)):  # in turn, never two on a day
        return None
    for day in starts:
        if sum((other - wishes.begin).days // 7 == (day - wishes.begin).days // 7 for other in starts) > (
            wishes.new_a_week
        ):
            return None
        for _, wanting, several, _ in courses:
            before = [visit.wanting for visit in several if visit.on < day]
            if (before[-1] if before else wanting) > 0:
                return None
    if len(starts) < wishes.new:
        return None
    few = 0
    for day in days:
        if (day - wishes.begin).days < 7 * wishes.weeks:
            few += {0: 3, 1: 1}.get(sum(visit.on == day for visit in visits), 0)
    late = sum(visit.late for visit in visits) + sum(never for *_, never in courses)
    longer = sum(visit.longer for visit in visits)
    return late, -len(starts), few, longer, sum((day - wishes.begin).days for day in starts)
