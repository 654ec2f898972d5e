"""The planner: from a student's records and wishes to a plan."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from everyline.files.progress import Progress
from everyline.practice.records import Grade, Kind, Student
from everyline.practice.week import Plan, PlannedDay, PlannedLine, PlannedRound, Return, Wishes
from everyline.practice.week_days import Course, DayModel, NoPlan, Step
from everyline.practice.week_order import Task, Turn, rounds_of
from everyline.practice.week_pieces import PIECE, days_in_pieces
from everyline.practice.week_rules import Standing, class_of, next_tempo, standings
from everyline.practice.week_text import day_name
from everyline.practice.week_why import what_to_loosen


def make_plan(student: Student, wishes: Wishes, progress: Progress | None = None) -> Plan:
    """The plan for a student, the same for the same records, wishes and seed.

    Which line comes on which day is solved as a whole, then keys, kinds and order for each day after the
    other. Raises NoPlan with what to loosen, InputError where a round was recorded after the plan begins.
    """
    found = standings(student, wishes)
    try:
        model = DayModel(found, wishes)
        pieces = days_in_pieces(found, wishes) if wishes.weeks > PIECE else None
        if pieces is not None:
            model.begin_with(pieces)
        courses, proofs = model.solve()
    except NoPlan as error:
        raise NoPlan(f"{error}: {what_to_loosen(found, wishes)}") from None
    diary = _Diary(found, wishes)
    by_day: dict[int, list[tuple[int, Step]]] = defaultdict(list)
    for course in courses:
        for step in course.steps:
            by_day[step.day].append((course.line, step))
    days, proven = [], 0
    every = wishes.practice_days()
    for number, (on, minutes) in enumerate(every, 1):
        steps = sorted(by_day[(on - wishes.begin).days], key=lambda each: each[0])
        tasks, best = rounds_of([diary.turn(*each) for each in steps], wishes.room(minutes), wishes.seed)
        proven += best
        days.append(diary.day(on - wishes.begin, minutes, steps, tasks))
        if progress is not None:
            progress(number, len(every))
    return Plan(student.name, wishes, tuple(days), tuple(proofs), proven, _left(found, courses, wishes))


@dataclass
class _Diary:
    """What each line has had up to a day, if all goes cleanly."""

    standings: Sequence[Standing]
    wishes: Wishes

    def __post_init__(self) -> None:
        self.keys = [Counter(each.keys) for each in self.standings]
        self.kinds = [Counter(each.kinds) for each in self.standings]
        self.tempi = [each.tempo for each in self.standings]

    def turn(self, line: int, step: Step) -> Turn:
        """What is known of a line on a day."""
        home = self.standings[line].line.key
        return Turn(line, home, step.share, step.gap is None, self.keys[line], self.kinds[line])

    def day(
        self, after: timedelta, minutes: int, steps: Sequence[tuple[int, Step]], tasks: Sequence[Task]
    ) -> PlannedDay:
        """The day as planned; its rounds are then among what was had."""
        wishes = self.wishes
        rounds = tuple(
            PlannedRound(
                self.standings[task.line].line,
                task.kind,
                task.key,
                None if task.kind is Kind.SLIP else self.tempi[task.line],
            )
            for task in tasks
        )
        for task in tasks:
            if task.kind is Kind.PLAY:
                self.keys[task.line][class_of(task.key)] += 1
            else:
                self.kinds[task.line][task.kind] += 1
        for line, _ in steps:
            self.tempi[line] = next_tempo(self.tempi[line], Grade.CLEAN, wishes)
        return PlannedDay(
            wishes.begin + after,
            tuple(Return(self.standings[line].line, step.gap, step.late) for line, step in steps),
            rounds,
            tuple(
                number for number in range(1, len(rounds)) if wishes.rests(number + 1) > wishes.rests(number)
            ),
            wishes.minutes_of(len(rounds)),
            minutes,
        )


def _left(
    found: Sequence[Standing], courses: Sequence[Course], wishes: Wishes
) -> tuple[tuple[PlannedLine, str], ...]:
    """The lines given that have no day in the plan, and why."""
    last = wishes.practice_days()[-1][0]
    there = {course.line for course in courses if course.steps[0].day <= (last - wishes.begin).days}
    return tuple(
        (standing.line, _why_left(standing, wishes, last))
        for number, standing in enumerate(found)
        if number not in there and standing.line.place is not None
    )


def _why_left(standing: Standing, wishes: Wishes, last: date) -> str:
    if standing.last is None:
        return "still waiting"
    on = standing.last + timedelta(standing.gap.least)
    since = "since" if on < wishes.begin else "from"
    crowded = standing.last + timedelta(standing.gap.most) <= last
    return f"due again {since} {day_name(on)}{', but there is no room for it' if crowded else ''}"
