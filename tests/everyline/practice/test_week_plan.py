"""Plans against a plain checker that knows no solver, and against all plans where there are few."""

from dataclasses import replace
from datetime import timedelta

import pytest

from everyline.practice.records import Kind, Student
from everyline.practice.week import Plan, PlannedDay, Wishes
from everyline.practice.week_days import NoPlan
from everyline.practice.week_plan import make_plan
from tests.everyline.practice.all_plans import best_of_all
from tests.everyline.practice.plain_plan import faults
from tests.everyline.practice.random_students import BEGIN, given, played, random_student, small_student
from tests.sweeps import sweep


def a_student() -> Student:
    """Two lines under way, two that wait."""
    lines = tuple(given(place, key) for place, key in enumerate(("Bb", "F", "C", "Am"), 1))
    days = ((1, "Bb", 9), (1, "F", 5), (1, "Eb", 3), (2, "F", 3), (2, "Bb", 2), (2, "C", 2))
    rounds = tuple(played(place, BEGIN - timedelta(ago), key=key) for place, key, ago in days)
    return Student("Ida", lines, tuple(sorted(rounds, key=lambda each: each.on)))


@pytest.fixture(scope="module")
def plan() -> Plan:
    return make_plan(a_student(), Wishes(BEGIN, weeks=2, to_come=3, stretch=9))


def check(seed: int) -> None:
    student, wishes = random_student(seed)
    try:
        found = make_plan(student, wishes)
    except NoPlan as error:
        assert "there is one with" in str(error)
        return
    assert faults(found, student) == []
    for proof in found.proofs:
        assert proof.best or proof.value != proof.bound


@pytest.mark.parametrize("seed", range(12))
def test_plans_of_random_students_meet_every_constraint(seed: int) -> None:
    check(seed)


@pytest.mark.slow
def test_plans_of_two_hundred_random_students() -> None:
    for seed in range(100, 100 + sweep(small=4, full=200)):
        check(seed)


@pytest.mark.slow
def test_twelve_weeks_of_five_days_of_twenty_minutes() -> None:
    weeks = sweep(small=4, full=12)
    student, wishes = a_student(), Wishes(BEGIN, weeks=weeks, to_come=30)
    found = make_plan(student, wishes)
    assert faults(found, student) == []
    assert len(found.days) == 5 * weeks
    begun = next(proof for proof in found.proofs if proof.aim == "new lines begun")
    assert begun.value <= begun.bound <= 2 * weeks


@pytest.mark.parametrize("seed", range(sweep(small=10, full=40)))
def test_the_plan_is_as_good_as_the_best_of_all(seed: int) -> None:
    student, wishes = small_student(seed)
    best = best_of_all(student, wishes)
    if best is None:
        with pytest.raises(NoPlan):
            make_plan(student, wishes)
        return
    found = {proof.aim.split(",")[0]: proof for proof in make_plan(student, wishes).proofs}
    assert all(proof.best for proof in found.values())
    assert {aim: found[aim].value if aim in found else 0 for aim in best} == best


def test_the_same_seed_gives_the_same_plan(plan: Plan) -> None:
    assert make_plan(a_student(), plan.wishes) == plan


def test_another_seed_keeps_to_the_same_values(plan: Plan) -> None:
    other = make_plan(a_student(), replace(plan.wishes, seed=2))
    assert [proof.value for proof in other.proofs] == [proof.value for proof in plan.proofs]
    assert faults(other, a_student()) == []


def test_a_day_by_hand() -> None:
    """A line that is new: heard and played at home, the next day in two further keys of the cycle."""
    found = make_plan(Student("Ida", (given(1, "F"),)), Wishes(BEGIN, minutes=(6,) * 5))
    first, second = found.days[:2]
    assert [(each.kind, each.key, each.tempo) for each in first.rounds] == [
        (Kind.HEAR, "F", 60),
        (Kind.PLAY, "F", 60),
    ]
    assert [(each.kind, each.tempo) for each in second.rounds] == [(Kind.PLAY, 66), (Kind.PLAY, 66)]
    assert {each.key for each in second.rounds} == {"Bb", "Eb"}
    assert [day.lines[0].gap for day in found.days if day.lines] == [None, 1, 2]


def test_a_student_without_lines_has_free_days() -> None:
    found = make_plan(Student("Ida"), Wishes(BEGIN))
    assert [day.rounds for day in found.days] == [()] * 5


SPOILED = {
    "a minute too many": lambda day: replace(day, taken=day.taken + 1),
    "a round lost": lambda day: replace(day, rounds=day.rounds[1:]),
    "two rounds swapped": lambda day: replace(day, rounds=(day.rounds[1], day.rounds[0], *day.rounds[2:])),
    "a round twice": lambda day: replace(day, rounds=(*day.rounds, day.rounds[0])),
    "no rest": lambda day: replace(day, rests=(), taken=3 * len(day.rounds)),
    "another tempo": lambda day: replace(day, rounds=(replace(day.rounds[0], tempo=61), *day.rounds[1:])),
    "another gap": lambda day: replace(day, lines=(replace(day.lines[0], gap=77), *day.lines[1:])),
    "nothing done": lambda day: replace(day, rounds=(), lines=(), rests=(), taken=0),
    "another day": lambda day: replace(day, on=day.on + timedelta(1)),
    "only one kind": lambda day: replace(
        day, rounds=tuple(replace(each, kind=Kind.COMPLETE) for each in day.rounds)
    ),
    "one key alone": lambda day: replace(day, rounds=tuple(replace(each, key="Db") for each in day.rounds)),
}


@pytest.mark.parametrize("what", SPOILED)
def test_the_checker_sees_what_is_spoiled(plan: Plan, what: str) -> None:
    found = False
    for number, day in enumerate(plan.days):
        if len(day.rounds) < 4:
            continue
        spoiled: PlannedDay = SPOILED[what](day)
        days = (*plan.days[:number], spoiled, *plan.days[number + 1 :])
        found |= faults(replace(plan, days=days), a_student()) != []
    assert found, what


def test_the_checker_sees_a_line_begun_too_early(plan: Plan) -> None:
    stricter = replace(plan, wishes=replace(plan.wishes, keys=9))
    assert any("is begun" in fault for fault in faults(stricter, a_student()))
    slower = replace(plan, wishes=replace(plan.wishes, new_a_week=1))
    assert any("begins 2 lines" in fault for fault in faults(slower, a_student()))


def many_due(count: int = 12) -> Student:
    """Lines that are all due again tomorrow."""
    rounds = tuple(played(place, BEGIN, key=key) for place in range(1, count + 1) for key in ("C", "F", "Bb"))
    return Student("Ida", tuple(given(place) for place in range(1, count + 1)), rounds)


def test_why_there_is_no_plan_for_too_many_lines() -> None:
    """Twelve lines come on Tuesday, with two rounds each: 24 rounds of 3 minutes in stretches of 8, so two
    rests of 5 between them, are 82 minutes."""
    with pytest.raises(NoPlan) as error:
        make_plan(many_due(), Wishes(BEGIN))
    assert str(error.value) == (
        "no plan keeps to all that is asked: there is one with 62 minutes a day more or lines that may be "
        "late (--let-late)"
    )
    longer = Wishes(BEGIN, minutes=(82,) * 5)
    assert faults(make_plan(many_due(), longer), many_due()) == []


def test_lines_may_come_late_where_that_is_asked_for() -> None:
    late = make_plan(many_due(), Wishes(BEGIN, let_late=True))
    assert faults(late, many_due()) == []
    assert late.proofs[0].aim == "days of practice late"
    assert late.proofs[0].value > 0
    assert any(each.late for day in late.days for each in day.lines)


@pytest.mark.parametrize(
    ("wishes", "ways"),
    [
        ({"new": 2, "keys": 12, "to_come": 5}, ["keys before a new line", "1 new line at least"]),
        ({"new": 3, "to_come": 5}, ["up to 3 new lines a week", "2 new lines at least"]),
        ({"new": 2, "to_come": 1}, ["1 new line at least"]),
        ({"new": 1, "to_come": 1, "minutes": (3,) * 5}, ["3 minutes a day more", "no new line asked for"]),
        (
            {"new": 2, "to_come": 5, "weekdays": (0, 1), "minutes": (20, 20)},
            ["practice on Wednesday too", "1 key before a new line", "1 new line at least"],
        ),
    ],
)
def test_why_there_is_no_plan_with_so_many_new_lines(wishes: dict, ways: list[str]) -> None:
    asked = Wishes(BEGIN, **wishes)
    with pytest.raises(NoPlan) as error:
        make_plan(Student("Ida"), asked)
    for way in ways:
        assert way in str(error.value)
