"""A first plan for many weeks, a piece of two weeks after the other; the whole plan is then searched from
there.

Each piece is a plan of its own, with its weeks ahead, from where the piece before leaves the student. What
the pieces give is good and quick to find but proves nothing about the whole: that is left to the model of
the whole.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from everyline.practice.records import Grade
from everyline.practice.week import WEEK, Wishes
from everyline.practice.week_days import Course, DayModel, NoPlan
from everyline.practice.week_rules import Standing, first_gap

PIECE = 2
"""Weeks in a piece."""
EFFORT = 0.25
"""How long all aims of a piece are worked on at most, in the solver's own time."""


def days_in_pieces(standings: Sequence[Standing], wishes: Wishes) -> dict[int, list[int]] | None:
    """The days of each line (from the plan's first, the weeks ahead with them) by its number, or None where
    a piece has no plan."""
    found: dict[int, list[int]] = {}
    now = list(standings)
    for first in range(0, wishes.weeks, PIECE):
        weeks = min(PIECE, wishes.weeks - first)
        piece = replace(wishes, begin=wishes.begin + timedelta(first * WEEK), weeks=weeks, new=0)
        try:
            courses, _ = DayModel(now, piece).solve(EFFORT)
        except NoPlan:
            return None
        last = first + weeks == wishes.weeks
        for course in courses:
            days = [step.day for step in course.steps if last or step.day < weeks * WEEK]
            found.setdefault(course.line, []).extend(day + first * WEEK for day in days)
            now[course.line] = _after(now[course.line], course, weeks, piece)
    return found


def _after(standing: Standing, course: Course, weeks: int, wishes: Wishes) -> Standing:
    """Where a line stands after its days in a piece. Its keys are counted, not named."""
    gap, keys, last = standing.gap, len(standing.keys), standing.last
    for step in course.steps:
        if step.day >= weeks * WEEK:
            break
        on = wishes.begin + timedelta(step.day)
        if last is None:
            gap = first_gap(wishes.gaps)
        else:
            gap = gap.after(wishes.gaps, (on - last).days, Grade.CLEAN)
        keys += min(step.share.plays, max(0, wishes.keys - keys))
        last = on
    return replace(standing, last=last, gap=gap, keys=Counter(range(keys)))
