"""A plan as text for a terminal, and as rows of data."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

from everyline.corpora.counted import plural
from everyline.practice.week import WEEKDAYS, Plan, PlannedDay, PlannedLine, PlannedRound

MONTHS = ("January February March April May June July August September October November December").split()
CAUTION = (
    "Rest often and stop if anything hurts; a teacher or doctor knows better than a plan how much is good "
    "for you."
)


def day_name(day: date) -> str:
    """``Monday 30 November``."""
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}"


def minutes_of(day: PlannedDay) -> str:
    """``18 of 20 minutes``; ``free`` where there is nothing to do."""
    return f"{day.taken} of {plural(day.minutes, 'minute')}" if day.rounds else "free"


def reasons(day: PlannedDay) -> dict[PlannedLine, str]:
    """Why each line of a day is there."""
    return {each.line: each.reason for each in day.lines}


def proof_lines(plan: Plan) -> Iterator[str]:
    """What is proven about a plan, a sentence each."""
    for proof in plan.proofs:
        yield proof.words[0].upper() + proof.words[1:] + "."
    days = len(plan.days)
    kept = "every day" if plan.days_proven == days else f"{plan.days_proven} of {plural(days, 'day')}"
    yield f"Keys, kinds and order are proven best for {kept}, with the lines that it has."


def plan_text(plan: Plan) -> str:
    """The plan week by week, a line a round, with a box to tick."""
    names = [each.line.name for day in plan.days for each in day.rounds] or [""]
    widest = min(36, max(map(len, names)))
    rows = [f"Practice plan for {plan.student}"]
    for number, days in plan.weeks():
        rows.append("")
        rows.append(f"Week {number}")
        for day in days:
            rows.append(f"  {day_name(day.on)}: {minutes_of(day)}")
            rows.extend(_day(day, widest, plan.wishes.rest))
    if plan.left:
        rows.append("")
        rows.append("Not in this plan:")
        rows.extend(f"  {line.name}: {why}" for line, why in plan.left)
    rows.append("")
    rows.extend(proof_lines(plan))
    rows.append(CAUTION)
    return "\n".join(rows) + "\n"


def _day(day: PlannedDay, widest: int, rest: int) -> Iterator[str]:
    why = reasons(day)
    for number, each in enumerate(day.rounds, 1):
        tempo = "" if each.tempo is None else str(each.tempo)
        reason = why.pop(each.line, "")
        what = f"{each.kind.value:<13}  {each.key:<3}  {tempo:>3}  {reason}"
        yield f"    [ ] {_short(each.line.name, widest):<{widest}}  {what}".rstrip()
        if number in day.rests:
            yield f"        rest, {plural(rest, 'minute')}"


def _short(name: str, widest: int) -> str:
    return name if len(name) <= widest else name[: widest - 3] + "..."


def plan_row(plan: Plan) -> dict[str, Any]:
    """The whole plan as data: dates as text (ISO 8601), tempi in beats a minute, gaps in days."""
    wishes = plan.wishes
    return {
        "student": plan.student,
        "begin": wishes.begin.isoformat(),
        "weeks": wishes.weeks,
        "seed": wishes.seed,
        "days": [_day_row(day) for day in plan.days],
        "left": [{**_line_row(line), "why": why} for line, why in plan.left],
        "proofs": [
            {"aim": each.aim, "value": each.value, "bound": each.bound, "proven": each.best}
            for each in plan.proofs
        ],
        "days_proven": plan.days_proven,
    }


def _day_row(day: PlannedDay) -> dict[str, Any]:
    return {
        "date": day.on.isoformat(),
        "minutes": day.minutes,
        "taken": day.taken,
        "lines": [
            {**_line_row(each.line), "gap": each.gap, "late": each.late, "reason": each.reason}
            for each in day.lines
        ],
        "rounds": [_round_row(each) for each in day.rounds],
        "rests_after": list(day.rests),
    }


def _line_row(line: PlannedLine) -> dict[str, Any]:
    return {"id": line.id, "place": line.place, "title": line.title}


def _round_row(each: PlannedRound) -> dict[str, Any]:
    return {**_line_row(each.line), "kind": each.kind.value, "key": each.key, "tempo": each.tempo}
