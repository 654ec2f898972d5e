"""The students' file behind the page: which it is, what is done with it, and the plans made today.

The file is opened anew for each request, in a thread of its own: a request that nobody waits for any more is
done to its end all the same, so that a round that was sent is recorded.
"""

from __future__ import annotations

import asyncio
import json
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any, TypeVar

from everyline.corpora.errors import InputError
from everyline.practice.database import students_file
from everyline.practice.records import Practised, Student
from everyline.practice.store import Store
from everyline.practice.week import SPREAD, PlannedLine, Wishes
from everyline.practice.week_rules import class_of, standings, tempo_now

T = TypeVar("T")

MOST_PLANS = 200
USUAL_DAYS = SPREAD[5]


@dataclass
class Practice:
    """``path`` is the students' file, the usual one where it is None; ``off`` says why there is none."""

    path: Path | None = None
    off: str = ""
    lock: asyncio.Lock = field(default_factory=asyncio.Lock)
    _plans: OrderedDict[str, dict[str, Any]] = field(default_factory=OrderedDict)

    @property
    def file(self) -> Path:
        """Where the students' file is."""
        return self.path or students_file()

    async def run(self, act: Callable[[Store], T], create: bool = False) -> T:
        """Do something with the open file; with ``create`` make it where there is none. Raises InputError."""
        if self.off:
            raise InputError(self.off)

        def opened() -> T:
            with Store(self.path, create) as store:
                return act(store)

        return await asyncio.to_thread(opened)

    def plan(self, student: str, wishes: Wishes) -> dict[str, Any] | None:
        """The plan made for a student's day before, where there is one."""
        return self._plans.get(_name(student, wishes))

    def keep(self, student: str, wishes: Wishes, plan: dict[str, Any]) -> dict[str, Any]:
        """Keep a plan for its day; where two windows asked at once, both have the first."""
        kept = self._plans.setdefault(_name(student, wishes), plan)
        while len(self._plans) > MOST_PLANS:
            self._plans.popitem(last=False)
        return kept

    def forget(self, student: str, wishes: Wishes) -> None:
        """Have the plan made again when it is asked for."""
        self._plans.pop(_name(student, wishes), None)


def _name(student: str, wishes: Wishes) -> str:
    return f"{student}\n{wishes}"


def day_of(text: str | None) -> date:
    """The day of practice that a request names: today, or yesterday for whoever practises past midnight.
    Raises InputError."""
    today = date.today()
    if text is None:
        return today
    try:
        day = date.fromisoformat(text)
    except ValueError:
        day = None
    if day is None or day not in (today, today - timedelta(1)):
        raise InputError(f"day = {json.dumps(text)}; a round is recorded on its day: {today}.")
    return day


def wishes_of(settings: dict[str, Any], day: date) -> Wishes:
    """What a week from a day on is to keep to, out of the page's settings. Raises InputError."""
    usual = Wishes(begin=day)
    days = tuple(sorted(set(settings.get("weekdays", USUAL_DAYS))))
    minutes = settings.get("minutes", usual.minutes[0])
    numbers = {name: settings[name] for name in SETTINGS if name in settings}
    return Wishes(begin=day, weekdays=days, minutes=(minutes,) * len(days), **numbers)


SETTINGS = ("round_minutes", "stretch", "rest", "keys", "new_a_week", "tempo", "step", "goal")
"""Settings that are fields of ``Wishes`` under the same names."""


def before(student: Student, day: date) -> Student:
    """A student as the plan of a day knows them, so that it is the same however far the day has gone."""
    return replace(student, rounds=tuple(each for each in student.rounds if each.on != day))


def todays(student: Student, day: date) -> list[Practised]:
    """The rounds of a day, as they were recorded."""
    return [each for each in student.rounds if each.on == day]


def has_been(student: Student, practised: Practised) -> bool:
    """Whether the same exercise of the same line in the same key is among the rounds of its day already."""
    return any(
        each.line == practised.line
        and each.kind is practised.kind
        and class_of(each.key) == class_of(practised.key)
        for each in todays(student, practised.on)
    )


def standing(student: Student, day: date, wishes: Wishes) -> dict[str, Any]:
    """The day so far: its rounds, and every line with the tempo of its next round."""
    done = todays(student, day)
    begun = {each.line.id: each.tempo for each in standings(before(student, day), wishes)}
    return {
        "day": day.isoformat(),
        "done": [
            {
                "id": each.id,
                "line": each.line,
                "kind": each.kind.value,
                "key": each.key,
                "tempo": each.tempo,
                "grade": each.grade.value,
            }
            for each in done
        ],
        "lines": [
            {
                "line": line.id,
                "name": PlannedLine(line.title, line.key, line.id, line.place).name,
                "key": line.key,
                "tempo": tempo_now(begun[line.id], (each for each in done if each.line == line.id), wishes),
            }
            for line in student.lines
        ],
    }
