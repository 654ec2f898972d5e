"""The calendar of a plan: read back by the library that wrote it, and held against RFC 5545 by hand."""

import re
from datetime import date, datetime, time, timedelta

import icalendar
import pytest

from everyline.practice.records import Student
from everyline.practice.week import Plan, Wishes
from everyline.practice.week_calendar import plan_calendar
from everyline.practice.week_plan import make_plan
from tests.everyline.practice.random_students import BEGIN, given

TITLE = "Über die Terz; hinauf, hinab — und noch einmal\\ganz ruhig, ohne Hast ♭♯"


def a_plan(begin: date = BEGIN) -> Plan:
    return make_plan(Student("Ida", (given(1, "Bb", TITLE), given(2))), Wishes(begin))


@pytest.fixture(scope="module")
def plan() -> Plan:
    return a_plan()


def events(content: bytes) -> list:
    return icalendar.Calendar.from_ical(content).walk("VEVENT")


def test_there_is_one_event_for_each_day_with_rounds(plan: Plan) -> None:
    found = events(plan_calendar(plan))
    assert [event["dtstart"].dt for event in found] == [day.on for day in plan.days if day.rounds]
    for event in found:
        assert event["dtend"].dt == event["dtstart"].dt + timedelta(
            1
        )  # RFC 5545, 3.6.1: the end is not in it


def test_what_the_events_say(plan: Plan) -> None:
    first = events(plan_calendar(plan))[0]
    assert str(first["summary"]) == "Practice, 12 minutes: Ida"
    rows = str(first["description"]).split("\n")
    assert rows[0] == f"1. Line 1, {TITLE}: hear and find in Bb at 60 (new)"
    assert len(rows) == len(plan.days[0].rounds) + 1
    assert "doctor" in rows[-1]


def test_a_time_of_day(plan: Plan) -> None:
    first = events(plan_calendar(plan, time(17, 30)))[0]
    assert first["dtstart"].dt == datetime(2026, 11, 30, 17, 30)
    assert first["dtend"].dt - first["dtstart"].dt == timedelta(minutes=plan.days[0].taken)


@pytest.mark.parametrize("at", [None, time(7)])
def test_the_rules_of_rfc_5545(plan: Plan, at: time | None) -> None:
    content = plan_calendar(plan, at)
    # 3.1: lines end with CR LF and have 75 octets at most.
    assert content.endswith(b"\r\n")
    lines = content.split(b"\r\n")[:-1]
    assert not any(b"\n" in line or b"\r" in line for line in lines)
    assert max(map(len, lines)) <= 75
    for line in lines:
        line.decode()  # 3.1.4: UTF-8, and no character is cut in two
    unfolded = re.sub(r"\r\n[ \t]", "", content.decode()).split("\r\n")[:-1]
    assert all(re.match(r"[A-Z-]+[;:]", line) for line in unfolded)
    # 3.4, 3.6: one calendar, with PRODID and VERSION once each, before any component.
    assert (unfolded[0], unfolded[-1]) == ("BEGIN:VCALENDAR", "END:VCALENDAR")
    head = unfolded[1 : unfolded.index("BEGIN:VEVENT")]
    assert sorted(line.split(":")[0] for line in head) == ["PRODID", "VERSION"]
    assert "VERSION:2.0" in head
    # 3.6.1: each event has one UID, one DTSTAMP, one DTSTART.
    bodies = "\n".join(unfolded).split("BEGIN:VEVENT")[1:]
    names = []
    for body in bodies:
        rows = body.strip().split("\n")
        for name in ("UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION"):
            assert sum(re.match(f"{name}[;:]", row) is not None for row in rows) == 1
        stamp = next(row for row in rows if row.startswith("DTSTAMP"))
        assert re.fullmatch(r"DTSTAMP:\d{8}T\d{6}Z", stamp)  # 3.8.7.2: in UTC
        start = next(row for row in rows if row.startswith("DTSTART"))
        whole = at is None
        assert re.fullmatch(r"DTSTART;VALUE=DATE:\d{8}" if whole else r"DTSTART:\d{8}T\d{6}", start)
        # 3.3.11: commas, semicolons and backslashes are escaped.
        summary = next(row for row in rows if row.startswith("SUMMARY"))
        assert re.fullmatch(r"SUMMARY:(?:[^,;\\]|\\[,;\\nN])*", summary)
        names.append(next(row for row in rows if row.startswith("UID")))
    assert len(set(names)) == len(names)


def test_a_later_plan_names_the_days_alike(plan: Plan) -> None:
    later = {event["dtstart"].dt: event["uid"] for event in events(plan_calendar(a_plan(date(2026, 12, 2))))}
    now = {event["dtstart"].dt: event["uid"] for event in events(plan_calendar(plan))}
    both = later.keys() & now.keys()
    assert len(both) >= 2
    assert all(later[day] == now[day] for day in both)


def test_students_have_events_of_their_own(plan: Plan) -> None:
    other = make_plan(Student("Tom", (given(1),)), plan.wishes)
    mine = {str(event["uid"]) for event in events(plan_calendar(plan))}
    assert not mine & {str(event["uid"]) for event in events(plan_calendar(other))}
    assert "Ida" not in "".join(mine)


def test_the_same_plan_gives_the_same_bytes(plan: Plan) -> None:
    assert plan_calendar(plan) == plan_calendar(a_plan())
