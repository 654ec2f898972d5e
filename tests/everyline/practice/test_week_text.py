"""A plan as text and as data."""

import json

import pytest

from everyline.practice.records import Student
from everyline.practice.week import Plan, Proof, Wishes
from everyline.practice.week_plan import make_plan
from everyline.practice.week_text import plan_row, plan_text
from tests.everyline.practice.random_students import BEGIN, given, played


@pytest.fixture(scope="module")
def plan() -> Plan:
    lines = (given(1, "F", "Through the third"), given(2), given(3))
    return make_plan(Student("Ida", lines), Wishes(BEGIN, minutes=(20,) * 5, stretch=9, new_a_week=1))


def test_the_text_of_a_week(plan: Plan) -> None:
    rows = plan_text(plan).splitlines()
    assert rows[:9] == [
        "Practice plan for Ida",
        "",
        "Week 1",
        "  Monday 30 November: 17 of 20 minutes",
        "    [ ] Line 1, Through the third  hear and find  F     60  new",
        "    [ ] Line 1, Through the third  play           F     60",
        rows[6],
        "        rest, 5 minutes",
        rows[8],
    ]
    assert rows.count("  Wednesday 2 December: free") == 1
    assert "  Line 2: still waiting" in rows
    assert "New lines begun: 1, proven best." in rows
    assert rows[-1].endswith("a teacher or doctor knows better than a plan how much is good for you.")


def test_every_round_of_the_plan_has_a_box(plan: Plan) -> None:
    assert plan_text(plan).count("[ ]") == sum(len(day.rounds) for day in plan.days)


def test_a_plan_that_is_not_proven_best_tells_the_bound() -> None:
    assert Proof("new lines begun", 17, 20).words == "new lines begun: 17, best bound 20"


def test_the_data_of_a_plan(plan: Plan) -> None:
    row = json.loads(json.dumps(plan_row(plan)))
    assert row["student"] == "Ida"
    assert [day["date"] for day in row["days"]] == [day.on.isoformat() for day in plan.days]
    assert row["days"][0]["rounds"][0] == {
        "id": "line-1",
        "place": 1,
        "title": "Through the third",
        "kind": "hear and find",
        "key": "F",
        "tempo": 60,
    }
    assert row["days"][0]["rests_after"] == [3]
    assert row["proofs"][0] == {"aim": "new lines begun", "value": 1, "bound": 1, "proven": True}


def test_a_line_without_room_is_named_with_the_reason() -> None:
    lines = tuple(given(place) for place in range(1, 8))
    student = Student("Ida", lines, tuple(played(each.place, BEGIN) for each in lines))
    late = make_plan(student, Wishes(BEGIN, minutes=(6,) * 5, let_late=True, ahead=0))
    assert {why for _, why in late.left} == {"due again from Tuesday 1 December, but there is no room for it"}
    assert len(late.left) >= 3  # four days with room for one line each
