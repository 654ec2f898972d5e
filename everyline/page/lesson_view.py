"""A lesson: lines kept from one or several sets of rules, as sheets, sound, data and a lesson file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from corpora.errors import InputError
from everyline.page.rules_view import one_line_of
from everyline.page.takeaway import files
from rules.annotate import AnnotatedLine

if TYPE_CHECKING:
    from everyline.page.operations import Desk


def lines_of(desk: Desk, lesson: dict[str, Any]) -> list[AnnotatedLine]:
    """The lines of a lesson, in order. Raises InputError for a line that its rules do not have."""
    found = []
    for place, item in enumerate(lesson["items"], 1):
        try:
            space = desk.space(item["rules"])
            found.append(space.line(one_line_of(space, item["number"])))
        except InputError as error:
            raise InputError(f"line {place} of the lesson: {error}") from None
    if not found:
        raise InputError("the lesson has no line yet; keep one at least.")
    return found


def lesson_take(
    desk: Desk,
    lesson: dict[str, Any],
    form: str,
    staves: str,
    options: dict[str, Any],
    sheet: dict[str, Any],
) -> bytes:
    """A lesson as one file of a format."""
    lines = lines_of(desk, lesson)
    title = lesson.get("title") or "A lesson"
    if form != "pdf":
        return files(lines, form, staves, options, title)
    from everyline.page.sheets import sheet as make

    return make(
        lines,
        staves=staves,
        tempo=options["tempo"],
        title=title,
        titles=[item.get("title", "") for item in lesson["items"]],
        remarks=[item.get("remark", "") for item in lesson["items"]],
        remark=lesson.get("remark", ""),
        paper=sheet.get("paper", "a4").capitalize(),
        words=sheet.get("words", False),
    )
