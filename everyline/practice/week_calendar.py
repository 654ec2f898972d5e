"""A plan as iCalendar (RFC 5545), one event a day, through the library of that name."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from typing import Any
from uuid import UUID, uuid5

from everyline.corpora.errors import EverylineError
from everyline.practice.week import Plan, PlannedDay
from everyline.practice.week_text import CAUTION, reasons

NAMES = UUID("5c0f3a52-6d1e-4f0b-9a38-0d6c1f2b7e44")
"""The name space of our events; made once."""


class NoCalendar(EverylineError):
    """The library for calendars is not installed."""


def plan_calendar(plan: Plan, at: time | None = None) -> bytes:
    """The calendar file. ``at`` is the time of day, wherever the calendar is looked at; without it events
    last all day and block nothing.

    An event is named by student and day, so that a later plan read into the same calendar takes the place of
    this one. The stamp is the plan's first day: the same plan gives the same bytes.
    """
    try:
        import icalendar
    except ImportError as error:
        raise NoCalendar(
            "icalendar is not installed; calendars need it: pip install 'everyline[practice]'."
        ) from error
    calendar = icalendar.Calendar()
    calendar.add("prodid", "-//Everyline//Practice plan//EN")
    calendar.add("version", "2.0")
    for day in plan.days:
        if day.rounds:
            calendar.add_component(_event(icalendar, plan, day, at))
    content: bytes = calendar.to_ical()
    return content


def _event(icalendar: Any, plan: Plan, day: PlannedDay, at: time | None) -> Any:
    event = icalendar.Event()
    event.add("uid", f"{uuid5(NAMES, f'{plan.student}/{day.on}')}@everyline")
    event.add("dtstamp", datetime.combine(plan.wishes.begin, time(), UTC))
    if at is None:
        event.add("dtstart", day.on)
        event.add("dtend", day.on + timedelta(1))
        event.add("transp", "TRANSPARENT")
    else:
        start = datetime.combine(day.on, at)
        event.add("dtstart", start)
        event.add("dtend", start + timedelta(minutes=day.taken))
    event.add("summary", f"Practice, {day.taken} minutes: {plan.student}")
    event.add("description", _description(plan, day))
    return event


def _description(plan: Plan, day: PlannedDay) -> str:
    why = reasons(day)
    rows = []
    for number, each in enumerate(day.rounds, 1):
        tempo = "" if each.tempo is None else f" at {each.tempo}"
        reason = why.pop(each.line, "")
        rows.append(
            f"{number}. {each.line.name}: {each.kind.value} in {each.key}{tempo}{reason and f' ({reason})'}"
        )
        if number in day.rests:
            rows.append(f"Rest, {plan.wishes.rest} minutes.")
    return "\n".join([*rows, CAUTION])
