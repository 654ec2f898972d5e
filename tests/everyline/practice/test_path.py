"""The graded path: the rule that docs/practice.md states, on made-up students."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import partial
from itertools import takewhile
from operator import ne

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.practice.path import in_the_hands, instrument_option, onward, standing, suits
from everyline.practice.records import GivenLine, Grade, Kind, Practised, Student
from everyline.spaces.space import load
from tests.practice_made_up import made_up_line
from tests.spaces import CORPUS

CLEAN, SLIPS, NOT_YET = Grade.CLEAN, Grade.WITH_SLIPS, Grade.NOT_YET
GRADED = [entry for entry in CORPUS.rulefiles.values() if entry.level is not None]


def lines_from(name: str, number: int, first: int = 1) -> tuple[GivenLine, ...]:
    return tuple(
        replace(made_up_line(place), place=place, rules_name=name) for place in range(first, first + number)
    )


def rounds(line: GivenLine, *days: tuple[Grade, ...]) -> tuple[Practised, ...]:
    """One round for each grade, day by day."""
    return tuple(
        Practised(
            f"{line.id} {day} {place}",
            line.id,
            date(2026, 11, 1) + timedelta(days=3 * day),
            "C",
            Kind.PLAY,
            None,
            grade,
        )
        for day, grades in enumerate(days)
        for place, grade in enumerate(grades)
    )


@pytest.mark.parametrize(
    ("days", "held"),
    [
        ([], False),
        ([(CLEAN, CLEAN, CLEAN)], False),
        ([(CLEAN,), (CLEAN,)], True),
        ([(NOT_YET, CLEAN), (SLIPS, CLEAN)], True),
        ([(CLEAN,), (CLEAN, SLIPS)], False),
        ([(CLEAN,), (CLEAN,), (NOT_YET,)], False),
        ([(NOT_YET,), (CLEAN,), (CLEAN,)], True),
        ([(CLEAN,), (SLIPS,), (CLEAN,)], False),
    ],
)
def test_a_line_is_in_the_hands_when_the_last_two_days_ended_clean(days, held: bool) -> None:
    (line,) = lines_from("first-enclosure", 1)
    assert in_the_hands(Student("Ada", (line,), rounds(line, *days)), line) is held


@given(st.lists(st.lists(st.sampled_from(list(Grade)), min_size=1, max_size=3), max_size=6))
def test_the_same_in_the_plainest_way(days: list[list[Grade]]) -> None:
    (line,) = lines_from("first-enclosure", 1)
    student = Student("Ada", (line,), rounds(line, *map(tuple, days)))
    ends = [day[-1] for day in days]
    assert in_the_hands(student, line) is (ends[-2:] == [CLEAN, CLEAN])


def ready(number: int, last: tuple[Grade, ...] = ()) -> Student:
    """A student with so many lines of a rule file in the hands, and one more that went as ``last`` says."""
    lines = lines_from("first-enclosure", number + 1)
    played = [each for line in lines[:number] for each in rounds(line, (CLEAN,), (CLEAN,))]
    return Student("Ada", lines, (*played, *rounds(lines[-1], *([last] if last else []))))


def test_who_has_four_lines_in_the_hands_may_go_on() -> None:
    assert not standing(Student("Ada"), CORPUS).is_ready
    for number in range(3):
        assert not standing(ready(number), CORPUS).is_ready
    found = standing(ready(3), CORPUS)
    assert not found.is_ready and found.words == (
        "3 of 4 lines of first-enclosure are in the hands (clean on the last 2 days); 4 are asked for."
    )
    assert standing(ready(4), CORPUS).is_ready and standing(ready(9), CORPUS).is_ready


def test_who_has_a_line_that_did_not_go_yet_stays() -> None:
    found = standing(ready(4, (CLEAN, NOT_YET)), CORPUS)
    assert not found.is_ready and '"not yet" was the last word on line 5.' in found.words
    assert standing(ready(4, (NOT_YET, SLIPS)), CORPUS).is_ready


def test_the_present_rule_file_is_the_graded_one_given_last() -> None:
    lines = (
        *lines_from("first-enclosure", 2),
        *lines_from("three-triads", 2, 3),
        *lines_from("/home/own.toml", 2, 5),
    )
    present = standing(Student("Ada", lines), CORPUS).present
    assert present is not None and present.name == "three-triads"
    assert "No line comes from a graded rule file" in standing(Student("Ada", lines[4:]), CORPUS).words


def test_the_next_is_the_first_after_it_that_is_new_and_suits() -> None:
    for instrument in ("", "guitar"):
        for place, present in enumerate(GRADED):
            lines = (*lines_from(present.name, 1), *lines_from(GRADED[(place + 2) % len(GRADED)].name, 1, 2))
            student = Student("Ada", lines, (), instrument)
            found = next(onward(student, present, CORPUS), None)
            had = {line.rules_name for line in lines}
            passed = takewhile(partial(ne, found), GRADED[place + 1 :])
            assert all(entry.name in had or not suits(student, entry) for entry in passed)
            assert found is None or (found.name not in had and suits(student, found))


def test_what_places_the_hand_is_for_its_own_instrument() -> None:
    by_name = CORPUS.rulefiles
    guitar, alto, none = (Student("Ada", instrument=name) for name in ("guitar", "alto-saxophone", ""))
    assert suits(guitar, by_name["fifth-position"])
    assert not suits(alto, by_name["fifth-position"]) and not suits(none, by_name["fifth-position"])
    for name in ("first-enclosure", "broken-chords"):
        assert all(suits(each, by_name[name]) for each in (guitar, alto, none))
    assert instrument_option(alto, by_name["broken-chords"]) == " --instrument alto-saxophone"
    assert instrument_option(none, by_name["broken-chords"]) == ""
    assert instrument_option(guitar, by_name["half-notes-on-the-guide-tones"]) == ""


def test_placing_a_hand_is_what_the_rules_make_of_it() -> None:
    """Against the rules as they are read: a position or chosen strings on a fingerboard."""
    nobody = Student("Ada")
    for entry in GRADED:
        rules = load(entry.path).rules
        position = rules.position
        placed = position is not None and (position.fret is not None or len(position.strings) < 4)
        assert suits(nobody, entry) or placed, entry.name
