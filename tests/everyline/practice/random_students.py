"""Students at random, with wishes for a plan: the same for the same seed."""

from __future__ import annotations

import random
from datetime import date, timedelta

from everyline.practice.records import GivenLine, Grade, Kind, Practised, Student
from everyline.practice.week import Wishes
from everyline.practice.week_rules import keys_from

BEGIN = date(2026, 11, 30)
NOTES = "@1 D4 F4 A4 C5:4"


def given(place: int, key: str = "C", title: str = "") -> GivenLine:
    """A line with nothing in it that a plan looks at but its place, key and title."""
    return GivenLine(
        f"line-{place}", place, title, NOTES, "mine", 'changes = "Dm7 | G7"', "", None, None, BEGIN, key, 8
    )


def played(place: int, on: date, grade: Grade = Grade.CLEAN, key: str = "C", **more) -> Practised:
    """A round on a line."""
    kind, tempo = more.get("kind", Kind.PLAY), more.get("tempo", 80)
    return Practised(f"{place}-{on}-{key}-{kind.value}", f"line-{place}", on, key, kind, tempo, grade)


def random_student(seed: int) -> tuple[Student, Wishes]:
    """A student with a history, and wishes of every sort."""
    draw = random.Random(seed)
    begin = BEGIN + timedelta(draw.randrange(14))
    lines, rounds = [], []
    for place in range(1, draw.choice((0, 1, 3, 8, 20)) + 1):
        home = draw.choice(("C", "F", "Bb", "Am", "C#m", "Gb"))
        lines.append(given(place, home, draw.choice(("", "Through the third"))))
        on = begin - timedelta(draw.randrange(1, 80))
        for _ in range(draw.choice((0, 1, 2, 3, 5, 8))):
            if on > begin:
                break
            grade = draw.choice((Grade.CLEAN, Grade.CLEAN, Grade.WITH_SLIPS, Grade.NOT_YET))
            for key in draw.sample(keys_from(home), draw.choice((1, 2))):
                kind = draw.choice((Kind.PLAY, *Kind))
                rounds.append(
                    played(place, on, grade, key, kind=kind, tempo=draw.choice((None, 60, 96, 150)))
                )
            on += timedelta(draw.choice((1, 2, 4, 9, 20)))
    rounds.sort(key=lambda each: each.on)
    days = tuple(sorted(draw.sample(range(7), draw.randrange(1, 7))))
    same = draw.choice((10, 15, 20, 30, 45))
    minutes = tuple(draw.choice((same, same, same + 10)) for _ in days)
    wishes = Wishes(
        begin,
        weeks=draw.choice((1, 1, 2, 3, 5)),
        weekdays=days,
        minutes=minutes,
        round_minutes=draw.choice((2, 3, 4)),
        stretch=draw.choice((9, 15, 25)),
        rest=draw.choice((2, 5)),
        keys=draw.choice((1, 2, 3, 4, 6)),
        gaps=draw.choice(((1, 2, 4, 8, 16, 32), (1, 3, 7, 14, 30), (2, 4), (1,))),
        new_a_week=draw.choice((0, 1, 2, 3)),
        to_come=draw.choice((0, 0, 5, 20)),
        ahead=draw.choice((0, 2, 4)),
        let_late=draw.choice((False, False, True)),
        seed=seed,
    )
    return Student(f"Student {seed}", tuple(lines), tuple(rounds)), wishes


def small_student(seed: int) -> tuple[Student, Wishes]:
    """A student with so few lines and days that all plans can be listed."""
    draw = random.Random(seed)
    begin = BEGIN + timedelta(draw.randrange(7))
    lines, rounds = [], []
    for place in range(1, draw.randrange(4) + 1):
        lines.append(given(place))
        on = begin - timedelta(draw.randrange(1, 9))
        for key in draw.sample(("C", "F", "Bb", "Eb"), draw.randrange(4)):
            if on <= begin:
                rounds.append(played(place, on, draw.choice((Grade.CLEAN, Grade.CLEAN, Grade.NOT_YET)), key))
            on += timedelta(draw.choice((0, 1, 2)))
    rounds.sort(key=lambda each: each.on)
    days = tuple(sorted(draw.sample(range(7), draw.randrange(2, 6))))
    wishes = Wishes(
        begin,
        weekdays=days,
        minutes=(draw.choice((3, 6, 6, 9, 12)),) * len(days),
        keys=draw.choice((1, 2, 3)),
        gaps=draw.choice(((1, 2, 4), (1, 2, 4), (2, 4), (1, 14))),
        new_a_week=draw.choice((1, 2, 3)),
        new=draw.choice((0, 0, 1)),
        to_come=draw.choice((0, 1, 2)),
        ahead=draw.choice((0, 0, 1)),
        let_late=draw.choice((False, False, True)),
        seed=seed,
    )
    return Student(f"Student {seed}", tuple(lines), tuple(rounds)), wishes
