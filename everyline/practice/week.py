"""A plan of practice for a week or more: what is asked for, and what comes out, as immutable values."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.practice.records import FASTEST, SLOWEST, Kind
from everyline.rules.spelling import parse_key

WEEK = 7
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
SPREAD = {1: (0,), 2: (0, 3), 3: (0, 2, 4), 4: (0, 1, 3, 4), 5: (0, 1, 2, 3, 4), 6: (0, 1, 2, 3, 4, 5)}
"""Weekdays (Monday is 0) that so many days of practice fall on where none are named; one day in seven is
always free."""
MOST_WEEKS, MOST_MINUTES, MOST_TO_COME = 52, 240, 200


@dataclass(frozen=True, slots=True)
class Wishes:
    """What a plan is to keep to; every number is a constraint, none a hint.

    ``begin`` is its first day and ``weeks`` its length; ``weekdays`` (Monday is 0) are practised on, each for
    ``minutes`` at most. A round lasts ``round_minutes``; after ``stretch`` minutes of rounds, where more
    follow, there are ``rest`` minutes without playing, counted among the day's. ``keys`` are the keys that a
    line has been played in before a new one is begun, ``gaps`` the days from one day with a line to the next
    (at least; the last one repeats). At most ``new_a_week`` lines are begun in a week, at least ``new`` in
    all. ``to_come`` lines, at home in ``to_come_key``, may be begun besides those waiting. ``tempo``,
    ``step`` and ``goal`` are beats a minute. Nothing that the plan begins may fall due without room within
    ``ahead`` weeks after it. ``let_late``: lines may come later than their gap allows, as little as can be.
    """

    begin: date
    weeks: int = 1
    weekdays: tuple[int, ...] = SPREAD[5]
    minutes: tuple[int, ...] = (20,) * 5
    round_minutes: int = 3
    stretch: int = 25
    rest: int = 5
    keys: int = 3
    gaps: tuple[int, ...] = (1, 2, 4, 8, 16, 32)
    new_a_week: int = 2
    new: int = 0
    to_come: int = 0
    to_come_key: str = "C"
    tempo: int = 60
    step: int = 6
    goal: int = 140
    ahead: int = 4
    let_late: bool = False
    seed: int = 1

    def __post_init__(self) -> None:
        """Raises InputError for what no plan can keep to."""
        for name, value, least, most in (
            ("weeks", self.weeks, 1, MOST_WEEKS),
            ("minutes in a round", self.round_minutes, 1, 30),
            ("minutes of playing before a rest", self.stretch, self.round_minutes, 60),
            ("minutes of rest", self.rest, 1, 60),
            ("keys before a new line", self.keys, 1, 12),
            ("new lines a week", self.new_a_week, 0, 7),
            ("new lines in all", self.new, 0, MOST_TO_COME),
            ("lines to come", self.to_come, 0, MOST_TO_COME),
            ("the goal", self.goal, SLOWEST, FASTEST),
            ("the first tempo", self.tempo, SLOWEST, self.goal),
            ("the step of the tempo", self.step, 1, 60),
            ("weeks ahead", self.ahead, 0, 26),
            ("seed", self.seed, 0, 2**31 - 1),
        ):
            _within(name, value, least, most)
        if not 1 <= len(self.weekdays) <= max(SPREAD) or tuple(sorted(set(self.weekdays))) != self.weekdays:
            raise InputError(
                f"{plural(len(self.weekdays), 'day')} of practice a week: choose 1 to 6 different ones, so "
                "that one day is free."
            )
        if len(self.minutes) != len(self.weekdays):
            raise InputError(
                f"minutes for {plural(len(self.minutes), 'day')} and {plural(len(self.weekdays), 'day')} of "
                "practice: give one number for all, or one for each."
            )
        for minutes in self.minutes:
            _within("minutes a day", minutes, self.round_minutes, MOST_MINUTES)
        if not self.gaps or any(later <= gap for gap, later in zip((0, *self.gaps), self.gaps, strict=False)):
            raise InputError(
                f"gaps of {', '.join(map(str, self.gaps)) or 'no'} days: write days that grow, as 1,2,4,8 do."
            )
        _within("the longest gap", self.gaps[-1], 1, 365)
        parse_key(self.to_come_key)

    def practice_days(self) -> list[tuple[date, int]]:
        """The days of the plan with their minutes."""
        return self._days(self.weeks)

    def days_to_look_at(self) -> list[tuple[date, int]]:
        """The days of the plan and of the weeks ahead, with their minutes."""
        return self._days(self.weeks + self.ahead)

    def _days(self, weeks: int) -> list[tuple[date, int]]:
        minutes = dict(zip(self.weekdays, self.minutes, strict=True))
        every = (self.begin + timedelta(days) for days in range(weeks * WEEK))
        return [(day, minutes[day.weekday()]) for day in every if day.weekday() in minutes]

    def rests(self, rounds: int) -> int:
        """How many rests so many rounds of one day have between them."""
        return max(0, (rounds - 1) // (self.stretch // self.round_minutes))

    def minutes_of(self, rounds: int) -> int:
        """How long so many rounds of one day take with their rests."""
        return rounds * self.round_minutes + self.rests(rounds) * self.rest

    def room(self, minutes: int) -> int:
        """How many rounds a day of so many minutes holds."""
        return max(rounds for rounds in range(minutes + 1) if self.minutes_of(rounds) <= minutes)


def _within(name: str, value: int, least: int, most: int) -> None:
    if not least <= value <= most:
        raise InputError(f"{name}: {value} is out of reach; choose {least} to {most}.")


@dataclass(frozen=True, slots=True)
class PlannedLine:
    """A line of the plan: ``id`` and ``place`` are those of a GivenLine, "" and None for one still to come;
    ``key`` is its home."""

    title: str
    key: str
    id: str = ""
    place: int | None = None

    @property
    def name(self) -> str:
        """What the plan calls it: its number in the student's folder and its title."""
        return self.title if self.place is None else f"Line {self.place}{self.title and f', {self.title}'}"


@dataclass(frozen=True, slots=True)
class PlannedRound:
    """One line in one key and one kind of exercise; ``tempo`` in beats a minute, None where nothing is
    played in time."""

    line: PlannedLine
    kind: Kind
    key: str
    tempo: int | None


@dataclass(frozen=True, slots=True)
class Return:
    """A line on a day: ``gap`` is the days since it was last practised, None for a new line; ``late`` the
    days of practice by which it comes after its gap allows."""

    line: PlannedLine
    gap: int | None
    late: int = 0

    @property
    def reason(self) -> str:
        """Why the line is on that day."""
        if self.gap is None:
            return "new"
        late = f", late by {plural(self.late, 'day')} of practice" if self.late else ""
        return f"due again, {plural(self.gap, 'day')}{late}"


@dataclass(frozen=True, slots=True)
class PlannedDay:
    """A day of practice: its lines, its rounds in order, the minutes that they take with rests, and those
    that there are. ``rests`` are the numbers of the rounds that a rest comes after."""

    on: date
    lines: tuple[Return, ...]
    rounds: tuple[PlannedRound, ...]
    rests: tuple[int, ...]
    taken: int
    minutes: int


@dataclass(frozen=True, slots=True)
class Proof:
    """An aim of the plan: the value reached, and the bound that no plan passes."""

    aim: str
    value: int
    bound: int

    @property
    def best(self) -> bool:
        """Whether the value is proven best."""
        return self.value == self.bound

    @property
    def words(self) -> str:
        """The aim with its value, and how good that is."""
        return f"{self.aim}: {self.value}, {'proven best' if self.best else f'best bound {self.bound}'}"


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan, for whom, what it keeps to, and what is proven about it.

    ``proofs`` are the aims of which line comes on which day, first before second; ``days_proven`` counts
    the days whose keys, kinds and order are proven best for that day. ``left`` names lines that the plan has
    no round for, with the reason.
    """

    student: str
    wishes: Wishes
    days: tuple[PlannedDay, ...]
    proofs: tuple[Proof, ...]
    days_proven: int
    left: tuple[tuple[PlannedLine, str], ...] = ()

    def weeks(self) -> Iterator[tuple[int, tuple[PlannedDay, ...]]]:
        """The number of each week, from 1, with its days."""
        for number in range(self.wishes.weeks):
            first = self.wishes.begin + timedelta(number * WEEK)
            yield (
                number + 1,
                tuple(day for day in self.days if first <= day.on < first + timedelta(WEEK)),
            )
