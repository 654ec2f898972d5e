"""A second statement of every rule of a plan, written from docs/plans.md alone: no solver, nothing of the
planner's.

`faults(plan, student)` replays the plan day by day beside the records and names everything that breaks a
rule.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import date, timedelta
from itertools import pairwise

from everyline.practice.records import Grade, Kind, Student
from everyline.practice.week import Plan, PlannedDay, Wishes

PITCHES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def tonic(key: str) -> int:
    """The pitch class of a key's tonic."""
    signs = key.removesuffix("m")
    return (PITCHES[signs[0]] + signs.count("#") - signs[1:].count("b")) % 12


class Line:
    """What has happened to one line so far."""

    def __init__(self, name: str, home: str, wishes: Wishes) -> None:
        self.name, self.home, self.wishes = name, home, wishes
        self.last: date | None = None
        self.step = 0
        self.least = wishes.gaps[0]
        self.keys: Counter[int] = Counter()
        self.tempo = wishes.tempo

    @property
    def most(self) -> int:
        return self.least + self.least // 2

    def day(self, on: date, grade: Grade, tempi: list[int], keys: list[str]) -> None:
        gaps, wishes = self.wishes.gaps, self.wishes
        if self.last is not None:
            gap = min((on - self.last).days, self.most)
            if grade is Grade.CLEAN:
                self.step = min(self.step + 1, len(gaps) - 1)
                self.least = max(gaps[self.step], min(gap + 1, gaps[-1]))
            elif grade is Grade.WITH_SLIPS:
                self.least = gaps[self.step]
            else:
                self.step, self.least = 0, gaps[0]
        self.last = on
        self.keys.update(map(tonic, keys))
        tempo = tempi[-1] if tempi else self.tempo
        if grade is Grade.CLEAN and tempo < wishes.goal:
            tempo = min(wishes.goal, tempo + wishes.step)
        elif grade is Grade.NOT_YET and tempo > wishes.tempo:
            tempo = max(wishes.tempo, tempo - wishes.step)
        self.tempo = tempo


def faults(plan: Plan, student: Student) -> list[str]:
    """Every breach of a rule, in words; an empty list is a plan that meets all constraints."""
    wishes = plan.wishes
    lines = replayed(student, wishes)
    found = _calendar(plan)
    waiting = [name for name, line in lines.items() if line.last is None]
    known = {name for name, line in lines.items() if line.last is not None}
    todo = _windows_at_start(lines, plan)
    begun: dict[str, date] = {}
    for day in plan.days:
        found += _one_day(day, wishes)
        for each in day.lines:
            name = each.line.id or each.line.title
            line = lines.get(name) or lines.setdefault(name, Line(name, each.line.key, wishes))
            if line.last is None:
                found += _new_line(name, day, lines, begun, waiting)
                if each.gap is not None:
                    found.append(f"{day.on}: {name} is new and has a gap")
                begun[name] = day.on
            else:
                found += _returns(each, line, day, plan, first=name in known and name in todo)
            todo.pop(name, None)
            rounds = [each for each in day.rounds if (each.line.id or each.line.title) == name]
            found += _rounds(rounds, line, day, new=line.last is None)
            keys = [each.key for each in rounds if each.kind is Kind.PLAY]
            line.day(day.on, Grade.CLEAN, [], keys)
            latest = _latest(line, plan)
            if latest is not None:
                todo[name] = latest
        found += [
            f"{name} had to come by {latest} and did not"
            for name, latest in todo.items()
            if latest <= day.on and not (name in known and wishes.let_late)
        ]
        todo = {name: latest for name, latest in todo.items() if latest > day.on}
    weekly = Counter((on - wishes.begin).days // 7 for on in begun.values())
    found += [
        f"week {week + 1} begins {count} lines" for week, count in weekly.items() if count > wishes.new_a_week
    ]
    if len(begun) < wishes.new:
        found.append(f"{len(begun)} new lines of {wishes.new}")
    return found


def replayed(student: Student, wishes: Wishes) -> dict[str, Line]:
    lines = {each.id: Line(each.id, each.key, wishes) for each in student.lines}
    worst = [Grade.NOT_YET, Grade.WITH_SLIPS, Grade.CLEAN]
    for line in lines.values():
        days = defaultdict(list)
        for each in student.rounds:
            if each.line == line.name:
                days[each.on].append(each)
        for on in sorted(days):
            grade = next(grade for grade in worst if any(each.grade is grade for each in days[on]))
            tempi = [each.tempo for each in days[on] if each.tempo is not None]
            line.day(on, grade, tempi, [each.key for each in days[on] if each.kind is Kind.PLAY])
    return lines


def _calendar(plan: Plan) -> list[str]:
    wishes = plan.wishes
    every = [wishes.begin + timedelta(number) for number in range(7 * wishes.weeks)]
    wanted = [day for day in every if day.weekday() in wishes.weekdays]
    return [] if [day.on for day in plan.days] == wanted else ["the plan has other days than those asked for"]


def practice_days(wishes: Wishes) -> list[date]:
    every = (wishes.begin + timedelta(number) for number in range(7 * (wishes.weeks + wishes.ahead)))
    return [day for day in every if day.weekday() in wishes.weekdays]


def _latest(line: Line, plan: Plan) -> date | None:
    """The last day on which a line may come again; None where that is after the plan."""
    assert line.last is not None
    days = practice_days(plan.wishes)
    inside = [day for day in days if line.least <= (day - line.last).days <= line.most]
    after = [day for day in days if (day - line.last).days > line.most]
    if inside:
        latest = inside[-1]
    elif after:
        latest = after[0]
    else:
        return None
    beyond = line.last + timedelta(line.most) > days[-1]
    return None if beyond or latest > plan.days[-1].on else latest


def _windows_at_start(lines: dict[str, Line], plan: Plan) -> dict[str, date]:
    """Until when each line that was practised before has to come; not those that are late already."""
    found = {}
    for name, line in lines.items():
        if line.last is None or line.last + timedelta(line.most) < plan.days[0].on:
            continue
        latest = _latest(line, plan)
        if latest is not None:
            found[name] = latest
    return found


def _one_day(day: PlannedDay, wishes: Wishes) -> list[str]:
    found = []
    minutes = dict(zip(wishes.weekdays, wishes.minutes, strict=True)).get(day.on.weekday(), 0)
    playing = 0
    rests = 0
    for number in range(1, len(day.rounds) + 1):
        playing += wishes.round_minutes
        if playing > wishes.stretch:
            found.append(f"{day.on}: {playing} minutes without a rest")
        if number in day.rests:
            playing, rests = 0, rests + 1
    taken = len(day.rounds) * wishes.round_minutes + rests * wishes.rest
    if (taken, minutes) != (day.taken, day.minutes) or taken > minutes:
        found.append(f"{day.on}: {taken} minutes of {minutes}, not {day.taken} of {day.minutes}")
    names = [each.line for each in day.rounds]
    if len(set(names)) > 1 and any(one == other for one, other in pairwise(names)):
        found.append(f"{day.on}: one line twice in a row")
    if any(count > 4 for count in Counter(names).values()):
        found.append(f"{day.on}: more than four rounds of a line")
    if {each.line for each in day.lines} != set(names) or len(day.lines) != len(set(names)):
        found.append(f"{day.on}: the lines of the day are not those of its rounds")
    if len(set(day.rounds)) != len(day.rounds):
        found.append(f"{day.on}: one round twice")
    return found


def _new_line(
    name: str, day: PlannedDay, lines: dict[str, Line], begun: dict[str, date], waiting: list[str]
) -> list[str]:
    found = []
    wishes = lines[name].wishes
    for other in lines.values():
        if other.last is not None and len(other.keys) < wishes.keys:
            found.append(f"{day.on}: {name} is begun, {other.name} has {len(other.keys)} keys")
    if any(on == day.on for on in begun.values()):
        found.append(f"{day.on}: two lines are begun")
    if name in waiting and waiting.index(name) != len(begun):
        found.append(f"{day.on}: {name} is begun out of turn")
    return found


def _returns(each, line: Line, day: PlannedDay, plan: Plan, first: bool) -> list[str]:
    assert line.last is not None
    gap = (day.on - line.last).days
    found = []
    if each.gap != gap:
        found.append(f"{day.on}: {line.name} has a gap of {gap}, not {each.gap}")
    if gap < line.least:
        found.append(f"{day.on}: {line.name} comes after {gap} days, {line.least} at least")
    return found


def _rounds(rounds, line: Line, day: PlannedDay, new: bool) -> list[str]:
    found = []
    plays = [each for each in rounds if each.kind is Kind.PLAY]
    others = [each.kind for each in rounds if each.kind is not Kind.PLAY]
    if not plays:
        found.append(f"{day.on}: {line.name} is not played")
    if len(set(others)) != len(others):
        found.append(f"{day.on}: {line.name} has one kind twice")
    if new and [each.kind for each in rounds[:2]] != [Kind.HEAR, Kind.PLAY]:
        found.append(f"{day.on}: {line.name} is new and is not heard, then played")
    if new and {each.key for each in rounds} != {line.home}:
        found.append(f"{day.on}: {line.name} is new and leaves home")
    least = min(line.keys[number] for number in range(12))
    had = Counter(line.keys)
    for each in plays if not new else ():
        if had[tonic(each.key)] > min(had[number] for number in range(12)):
            found.append(
                f"{day.on}: {line.name} is played in {each.key} again, others have had less ({least})"
            )
        had[tonic(each.key)] += 1
    for each in rounds:
        wanted = None if each.kind is Kind.SLIP else line.tempo
        if each.tempo != wanted:
            found.append(f"{day.on}: {line.name} at {each.tempo}, not {wanted}")
    return found
