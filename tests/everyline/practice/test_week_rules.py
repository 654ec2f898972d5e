"""Gaps, tempi and where a student stands, by hand."""

from datetime import date, timedelta

import pytest
from hypothesis import given as examples
from hypothesis import strategies as st

from everyline.corpora.errors import InputError
from everyline.practice.records import Grade, Kind, Student
from everyline.practice.week import Wishes
from everyline.practice.week_rules import Gap, class_of, due, first_gap, keys_from, next_tempo, standings
from tests.everyline.practice.random_students import BEGIN, given, played

GAPS = (1, 2, 4, 8, 16, 32)
WISHES = Wishes(BEGIN)
GROWING = st.lists(st.integers(1, 60), min_size=1, max_size=6, unique=True).map(sorted)


@pytest.mark.parametrize(
    ("gap", "days", "grade", "after"),
    [
        (Gap(0, 1), 1, Grade.CLEAN, Gap(1, 2)),
        (Gap(0, 1), 3, Grade.CLEAN, Gap(1, 2)),  # over a weekend: the gap counts as its most, 1 day
        (Gap(1, 2), 3, Grade.CLEAN, Gap(2, 4)),
        (Gap(2, 4), 6, Grade.CLEAN, Gap(3, 8)),
        (Gap(2, 4), 40, Grade.CLEAN, Gap(3, 8)),  # an absence is no gap
        (Gap(5, 32), 40, Grade.CLEAN, Gap(5, 32)),
        (Gap(3, 8), 9, Grade.WITH_SLIPS, Gap(3, 8)),
        (Gap(3, 8), 9, Grade.NOT_YET, Gap(0, 1)),
    ],
)
def test_the_next_gap(gap: Gap, days: int, grade: Grade, after: Gap) -> None:
    assert gap.after(GAPS, days, grade) == after


def test_a_gap_is_longer_than_the_last_one_even_where_those_asked_for_are_not() -> None:
    assert Gap(0, 8).after((8, 9, 30), 12, Grade.CLEAN) == Gap(1, 13)


@examples(GROWING, st.lists(st.integers(0, 90), max_size=12))
def test_clean_gaps_grow_until_the_longest(gaps: list[int], more: list[int]) -> None:
    gap = first_gap(gaps)
    for extra in more:
        days = gap.least + extra % (gap.most - gap.least + 1)
        later = gap.after(gaps, days, Grade.CLEAN)
        assert later.least > days or later.least == gaps[-1] or later.least >= gaps[-1]
        assert later.least <= max(gaps)
        gap = later


@pytest.mark.parametrize(
    ("gap", "last", "days", "found"),
    [
        (Gap(2, 4), 0, [1, 2, 3, 4, 7, 8], ([4], False)),
        (Gap(2, 4), 0, [1, 2, 3, 4, 5], ([4, 5], True)),  # day 6 would do too
        (Gap(0, 1), 4, [0, 1, 2, 3, 4, 7, 8], ([7], False)),  # over a weekend
        (Gap(0, 1), 8, [0, 1, 7, 8], ([], True)),
        (Gap(3, 8), -20, [0, 1, 2], ([0], False)),
    ],
)
def test_the_days_on_which_a_line_is_due(gap: Gap, last: int, days: list[int], found: tuple) -> None:
    assert due(gap, last, days) == found


@pytest.mark.parametrize(
    ("tempo", "grade", "after"),
    [
        (60, Grade.CLEAN, 66),
        (138, Grade.CLEAN, 140),
        (150, Grade.CLEAN, 150),
        (90, Grade.WITH_SLIPS, 90),
        (90, Grade.NOT_YET, 84),
        (62, Grade.NOT_YET, 60),
        (50, Grade.NOT_YET, 50),
        (50, Grade.CLEAN, 56),
    ],
)
def test_the_tempo_ladder(tempo: int, grade: Grade, after: int) -> None:
    assert next_tempo(tempo, grade, WISHES) == after


def test_keys_go_round_the_cycle_of_fourths_from_home() -> None:
    assert keys_from("F")[:3] == ("F", "Bb", "Eb")
    assert keys_from("Dm")[:3] == ("Dm", "Gm", "Cm")
    assert keys_from("C#")[0] == "C#"
    for home in ("C", "Gb", "F#", "Am", "C#m"):
        assert sorted(map(class_of, keys_from(home))) == list(range(12))


def test_where_a_student_stands() -> None:
    rounds = (
        played(1, BEGIN - timedelta(9), key="Db", tempo=80),
        played(1, BEGIN - timedelta(8), key="C#", tempo=None),
        played(1, BEGIN - timedelta(8), Grade.WITH_SLIPS, key="F#", tempo=92),
        played(1, BEGIN - timedelta(8), kind=Kind.SLIP, tempo=None),
    )
    one, two, three = standings(Student("Ida", (given(1), given(2)), rounds), Wishes(BEGIN, to_come=1))
    assert (one.last, one.gap, one.tempo) == (BEGIN - timedelta(8), Gap(0, 1), 92)
    assert one.keys == {1: 1 + 1, 6: 1}
    assert one.kinds == {Kind.SLIP: 1}
    assert one.keys_wanting(WISHES) == 1
    assert (two.last, two.line.place, three.line.place) == (None, 2, None)


def test_a_round_after_the_plan_begins_is_refused() -> None:
    student = Student("Ida", (given(1),), (played(1, BEGIN + timedelta(2)),))
    with pytest.raises(InputError, match="begins on 2026-11-30, but a round was recorded on 2026-12-02"):
        standings(student, WISHES)


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"weeks": 0}, "weeks: 0 is out of reach; choose 1 to 52"),
        ({"weekdays": tuple(range(7)), "minutes": (20,) * 7}, "one day is free"),
        ({"minutes": (20, 30)}, "one number for all"),
        ({"minutes": (2,) * 5}, "minutes a day: 2"),
        ({"gaps": (1, 1)}, "days that grow"),
        ({"gaps": ()}, "gaps of no days"),
        ({"keys": 13}, "1 to 12"),
        ({"tempo": 150}, "20 to 140"),
        ({"stretch": 2}, "before a rest: 2"),
        ({"to_come_key": "H"}, "H"),
    ],
)
def test_wishes_that_no_plan_can_keep_to(wrong: dict, said: str) -> None:
    with pytest.raises(InputError, match=said):
        Wishes(BEGIN, **wrong)


@examples(st.integers(1, 30), st.integers(30, 60), st.integers(1, 60), st.integers(0, 240))
def test_the_minutes_of_a_day(round_minutes: int, stretch: int, rest: int, minutes: int) -> None:
    wishes = Wishes(BEGIN, minutes=(240,) * 5, round_minutes=round_minutes, stretch=stretch, rest=rest)
    rounds = wishes.room(minutes)
    assert wishes.minutes_of(rounds) <= minutes < wishes.minutes_of(rounds + 1)
    # By hand: a rest as soon as one more round would be too long a stretch.
    clock = playing = 0
    for _ in range(rounds):
        if playing + round_minutes > stretch:
            clock, playing = clock + rest, 0
        clock, playing = clock + round_minutes, playing + round_minutes
    assert clock == wishes.minutes_of(rounds)


def test_the_days_of_a_plan() -> None:
    wishes = Wishes(date(2026, 12, 2), weeks=1, weekdays=(0, 4), minutes=(20, 30), ahead=1)
    assert wishes.practice_days() == [(date(2026, 12, 4), 30), (date(2026, 12, 7), 20)]
    assert len(wishes.days_to_look_at()) == 4
