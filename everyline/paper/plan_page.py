"""A practice plan on paper: a page a week, with a box to tick for each round and three for how it went."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from everyline.corpora.counted import plural
from everyline.corpora.errors import EverylineError, InputError, did_you_mean
from everyline.paper.fonts import FOLDER
from everyline.paper.heading import CAUTION
from everyline.paper.outlines import need
from everyline.paper.printing import TEMPLATE
from everyline.paper.sheet import PAPERS
from everyline.paper.signs import readable
from everyline.practice.records import Grade
from everyline.practice.week import Plan, PlannedDay
from everyline.practice.week_text import day_name, minutes_of, proof_lines, reasons

PLAN_TEMPLATE = TEMPLATE.with_name("plan.typ")
SIDE = 16
"""Millimetres left and right of the text."""
LARGEST, SMALLEST = (10.0, 8.0), 6.0
"""Sizes of type in points: in one column and in two."""
NARROWEST, WIDEST = 0.3, 0.75
"""Space between two rows, in heights of the type."""
AROUND = 78
"""Millimetres of a page's height that are not for the days: margins, title, remarks, what is proven."""
POINT, BOX, HEAD = 0.353, 1.05, 1.25
"""Millimetres in a point; the height of a row without the space after it, in heights of the type; that of a
day's head, in rows."""
NAMED = 6
"""Lines without a day in the plan that are named."""


def plan_pdf(plan: Plan, paper: str = "A4") -> bytes:
    """The plan as the bytes of a PDF file: a page a week, as long as a week's rounds fit on it in two columns
    of the smallest type. Raises InputError for a paper that is not known."""
    if paper not in PAPERS:
        raise InputError(f'paper "{paper}" is none of: {", ".join(PAPERS)}.{did_you_mean(paper, PAPERS)}')
    width, height = PAPERS[paper]
    title = f"Practice plan for {plan.student}"
    data = {
        "title": title,
        "language": "en",
        "page": {"width": width, "height": height, "side": SIDE},
        "footer": CAUTION,
        "how": "Tick a round when it is done, then on the right how it went: "
        f"{', '.join(grade.value for grade in Grade)}. Tempi are in beats a minute and suppose that all "
        "goes cleanly; stay where there were slips, go a step down where it does not go yet.",
        "weeks": [_week(plan, number, days, height) for number, days in plan.weeks()],
        "left": _left(plan),
        "proofs": " ".join(proof_lines(plan)),
    }
    files = {"main.typ": PLAN_TEMPLATE.read_bytes(), "data.json": json.dumps(data).encode()}
    try:
        pdf: bytes = need("typst").compile(files, format="pdf", font_paths=[str(FOLDER)], timestamp=0)
    except Exception as error:  # typst has no narrower class for what it raises
        raise EverylineError(f"the page could not be set: {error}") from error
    return pdf


def _week(plan: Plan, number: int, days: tuple[PlannedDay, ...], height: float) -> dict[str, Any]:
    """A week in one column, or in two where one does not hold it, as large as there is room for."""
    columns, room = [list(days)], (height - AROUND) / POINT
    if room / _rows(days) < LARGEST[0] * (BOX + NARROWEST) and len(days) > 1:
        cuts = range(1, len(days))
        cut = min(cuts, key=lambda cut: max(_rows(days[:cut]), _rows(days[cut:])))
        columns = [list(days[:cut]), list(days[cut:])]
    each = room / max(map(_rows, columns))
    size = max(SMALLEST, min(LARGEST[len(columns) - 1], each / (BOX + NARROWEST)))
    dates = f"{day_name(days[0].on)} to {day_name(days[-1].on)} {days[-1].on.year}"
    return {
        "title": f"{plan.student}, week {number}" if plan.wishes.weeks > 1 else f"{plan.student}, the week",
        "dates": dates,
        "size": size,
        "gap": max(NARROWEST, min(WIDEST, each / size - BOX)),
        "columns": [[_day(plan, day) for day in column] for column in columns],
    }


def _rows(days: Sequence[PlannedDay]) -> float:
    """How many rows the days take, with the head of each."""
    return sum(HEAD + len(day.rounds) + len(day.rests) for day in days)


def _left(plan: Plan) -> str:
    """The lines without a day in the plan, the first few by name."""
    if not plan.left:
        return ""
    named = "; ".join(f"{line.name}, {why}" for line, why in plan.left[:NAMED])
    more = f"; and {plural(len(plan.left) - NAMED, 'line')} more" if len(plan.left) > NAMED else ""
    return f"Not in this plan: {named}{more}."


def _day(plan: Plan, day: PlannedDay) -> dict[str, Any]:
    why = reasons(day)
    rows = []
    for number, each in enumerate(day.rounds, 1):
        reason = why.pop(each.line, "")
        rows.append(
            {
                "rest": "",
                "line": each.line.name,
                "why": reason,
                "kind": each.kind.value,
                "key": readable(each.key),
                "tempo": "" if each.tempo is None else str(each.tempo),
            }
        )
        if number in day.rests:
            rows.append({"rest": f"Rest, {plan.wishes.rest} minutes"})
    return {"name": day_name(day.on), "minutes": minutes_of(day), "rows": rows}
