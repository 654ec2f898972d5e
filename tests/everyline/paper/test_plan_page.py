"""A plan on paper: its pages and what they say."""

from io import BytesIO

import pytest
from pypdf import PdfReader

from everyline.corpora.errors import InputError
from everyline.paper.plan_page import plan_pdf
from everyline.practice.records import Kind, Student
from everyline.practice.week import Plan, PlannedDay, PlannedLine, PlannedRound, Return, Wishes
from everyline.practice.week_plan import make_plan
from tests.everyline.practice.random_students import BEGIN, given


def pages(content: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(content)).pages]


@pytest.fixture(scope="module")
def plan() -> Plan:
    lines = (given(1, "Bb", "Through the third"), given(2, "C#m"), given(3))
    return make_plan(
        Student("Ida", lines), Wishes(BEGIN, weeks=2, minutes=(30,) * 5, stretch=9, new_a_week=1)
    )


def test_a_page_a_week(plan: Plan) -> None:
    first, second = pages(plan_pdf(plan))
    assert "Ida, week 1" in first
    assert "Monday 30 November to Friday 4 December 2026" in first
    assert "Ida, week 2" in second
    assert "1 / 2" in first
    for page in (first, second):
        assert "Rest often, stop if anything hurts" in page
        assert "about pain or ringing ears a doctor" in page


def test_each_round_is_there_with_line_kind_key_and_tempo(plan: Plan) -> None:
    text = " ".join(pages(plan_pdf(plan)))
    assert "Line 1, Through the third new" in text
    assert "hear and find B♭ 60" in text
    for kind in ("play", "complete", "continue", "find the slip", "hear and find"):
        rounds = sum(each.kind.value == kind for day in plan.days for each in day.rounds)
        assert text.count(f"{kind} ") >= rounds > 0
    rests = sum(len(day.rests) for day in plan.days)
    assert text.count("Rest, 5 minutes") == rests > 0


def test_what_is_proven_and_what_is_left_stand_at_the_end(plan: Plan) -> None:
    first, second = pages(plan_pdf(plan))
    assert "New lines begun: 2, proven best." in second
    assert "Not in this plan: Line 3, still waiting." in second
    assert "proven" not in first


def test_a_full_week_still_fits_on_one_page() -> None:
    """Six days of an hour, twenty rounds and three rests each, with long titles."""
    line = PlannedLine("A title that is far too long for half a page", "C", "1", 1)
    rounds = tuple(PlannedRound(line, kind, "Db", 120) for kind in Kind) * 4
    wishes = Wishes(BEGIN, weekdays=tuple(range(6)), minutes=(75,) * 6, stretch=15)
    days = tuple(
        PlannedDay(on, (Return(line, 1),), rounds, (5, 10, 15), 75, minutes)
        for on, minutes in wishes.practice_days()
    )
    left = tuple((PlannedLine("", "C", str(place), place), "still waiting") for place in range(2, 30))
    (page,) = pages(plan_pdf(Plan("Ida", wishes, days, (), 6, left)))
    assert "Saturday 5 December" in page
    assert "Not in this plan: Line 2, still waiting; Line 3" in page
    assert "and 22 lines more." in page


def test_the_same_plan_gives_the_same_bytes(plan: Plan) -> None:
    assert plan_pdf(plan) == plan_pdf(plan)


def test_paper(plan: Plan) -> None:
    letter = PdfReader(BytesIO(plan_pdf(plan, "Letter"))).pages[0].mediabox
    assert [round(float(side)) for side in (letter.width, letter.height)] == [612, 792]
    with pytest.raises(InputError, match='paper "A7"'):
        plan_pdf(plan, "A7")
