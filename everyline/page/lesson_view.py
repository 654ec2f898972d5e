"""A lesson: lines kept from one or several sets of rules, as sheets, sound, data and a lesson file."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from corpora.errors import InputError
from corpora.loader import parse_toml
from everyline.page.rules_view import one_line_of
from everyline.page.schemas import check, many, table
from everyline.page.schemas import text as text_schema
from everyline.page.takeaway import files
from everyline.page.toml import to_toml
from rules.annotate import AnnotatedLine

if TYPE_CHECKING:
    from everyline.page.operations import Desk


_LINE = table(
    {"number": text_schema(400, pattern="^[0-9]{1,400}$", example="17"), "rules": text_schema(100_000)},
    {"title": text_schema(200), "remark": text_schema(2000)},
)


def lines_of(desk: Desk, lesson: dict[str, Any]) -> list[AnnotatedLine]:
    """The lines of a lesson, in order. Raises InputError for a line that its rules do not have."""
    found: list[AnnotatedLine] = []
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


# -- the lesson file -----------------------------------------------------------------------------------------


def lesson_write(desk: Desk, lesson: dict[str, Any]) -> str:
    """A lesson as the text of a lesson file: each line with its rules as a rule file has them."""
    lines_of(desk, lesson)
    head = [f"{key} = {text(lesson[key])}" for key in ("title", "remark") if lesson.get(key)]
    parts = ["\n".join(["# A lesson: lines by the rules and the number under which they are found.", *head])]
    for item in lesson["items"]:
        rows = ["[[line]]", f"number = {text(item['number'])}"]
        rows += [f"{key} = {text(item[key])}" for key in ("title", "remark") if item.get(key)]
        rows.append(f'rules = """\n{escaped(to_toml(item["rules"]))}"""')
        parts.append("\n".join(rows))
    return "\n\n".join(parts) + "\n"


def text(value: str) -> str:
    """A text on one line of TOML."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def escaped(value: str) -> str:
    """A text inside three quotation marks of TOML, its line ends kept."""
    return value.replace("\\", "\\\\").replace('"""', '\\"\\"\\"').replace("\x7f", "\\u007f")


def lesson_read(desk: Desk, text: str) -> dict[str, Any]:
    """The lesson in a lesson file, checked line by line. Raises InputError for anything that is wrong."""
    data = parse_toml(text.encode("utf-8", "surrogatepass"), "the lesson file")
    shape = table({"line": many(_LINE, 500, 1)}, {"title": text_schema(200), "remark": text_schema(2000)})
    check(data, shape, "the lesson file")
    items = []
    for place, line in enumerate(data["line"], 1):
        try:
            rules = parse_toml(line["rules"].encode(), "its rules")
        except InputError as error:
            raise InputError(f"line {place} of the lesson: {error}") from None
        item = {"rules": rules, "number": str(line["number"])}
        item |= {key: line.get(key, "") for key in ("title", "remark")}
        items.append(item)
    lesson = {"title": data.get("title", ""), "remark": data.get("remark", ""), "items": items}
    for item, line in zip(items, lines_of(desk, lesson), strict=True):
        item["notes"] = " ".join(note.name for note in line.notes)
    return lesson
