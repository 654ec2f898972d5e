"""A lesson: lines kept from one or several sets of rules, as sheets, sound, data and a lesson file."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from everyline.corpora.errors import InputError
from everyline.files.lessons import (
    Lesson,
    LessonLine,
    found_line,
    kept_line,
    lesson_text,
    line_notes,
    parse_lesson,
    rule_tables,
)
from everyline.page.lines_view import named_line
from everyline.page.params import KEYS, OCTAVES
from everyline.page.schemas import LESSON_WORDS, LONGEST_LESSON, MOST_LINES, check, table
from everyline.page.takeaway import files, sound_options
from everyline.practice.in_key import in_key
from everyline.practice.kept import OWN_TEXT, RuleFile
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.rule_text import to_toml
from everyline.rules.transpose import CHROMATIC, keys_in_order

if TYPE_CHECKING:
    from everyline.page.operations import Workspace
    from everyline.paper.two_parts import SecondStaff


def lines_of(workspace: Workspace, lesson: dict[str, Any]) -> list[AnnotatedLine]:
    """The lines of a lesson, in order. Raises InputError for a line that its rules do not have."""
    found: list[AnnotatedLine] = []
    for place, item in enumerate(lesson["items"], 1):
        workspace.tell_progress("Finding the lines", place - 1, len(lesson["items"]))
        try:
            found.append(named_line(workspace, item["rules"], item["number"], item.get("notes")))
        except InputError as error:
            raise InputError(f"line {place} of the lesson: {error}") from None
    if not found:
        raise InputError("the lesson has no line yet; keep one at least.")
    return found


def lesson_take(
    workspace: Workspace,
    lesson: dict[str, Any],
    form: str,
    staves: str,
    options: dict[str, Any],
    sheet: dict[str, Any],
) -> dict[str, str]:
    """A lesson as one file of a format, as base64."""
    return {"data": b64encode(_file(workspace, lesson, form, staves, options, sheet)).decode()}


def _file(
    workspace: Workspace,
    lesson: dict[str, Any],
    form: str,
    staves: str,
    options: dict[str, Any],
    sheet: dict[str, Any],
) -> bytes:
    lines = lines_of(workspace, lesson)
    workspace.tell_progress("Making the file", 0, 0)
    title = lesson.get("title") or "A lesson"
    seconds = _seconds(workspace, lesson, lines, sheet.get("second_part", "none"))
    if form == "html":
        return _for_student(lines, lesson, staves, options, sheet, [second for second, _ in seconds])
    if form != "pdf":
        return files(lines, form, staves, options, title, seconds=[second for second, _ in seconds])
    from everyline.page.sheets import sheet as make

    return make(
        lines,
        staves=staves,
        tempo=options["tempo"],
        title=title,
        titles=[item.get("title", "") for item in lesson["items"]],
        remarks=[item.get("remark", "") for item in lesson["items"]],
        remark=lesson.get("remark", ""),
        seconds=seconds,
        paper=sheet.get("paper", "A4"),
        large=sheet.get("large", False),
        per_page=sheet.get("per_page"),
        words=sheet.get("words", False),
        fretboard=sheet.get("fretboard", "none"),
    )


def _seconds(
    workspace: Workspace, lesson: dict[str, Any], lines: Sequence[AnnotatedLine], wish: str
) -> list[tuple[SecondStaff | None, str]]:
    """The second part of each line, with what is said of it; nothing where none is wished for."""
    from everyline.paper.two_parts import second_staff

    if wish == "none":
        return []
    spaces = (workspace.space(item["rules"]) for item in lesson["items"])
    return [second_staff(wish, line, space) for line, space in zip(lines, spaces, strict=True)]


def _for_student(
    lines: list[AnnotatedLine],
    lesson: dict[str, Any],
    staves: str,
    options: dict[str, Any],
    sheet: dict[str, Any],
    seconds: Sequence[SecondStaff | None],
) -> bytes:
    """The lesson as one HTML file, which opens without the page."""
    from everyline.handout.write import HandoutOptions, handout
    from everyline.page.sheets import shown_fretboard
    from everyline.paper.score_options import ScoreOptions
    from everyline.paper.sheet import SheetExercise

    hand = shown_fretboard(lines, sheet.get("fretboard", "none"))
    score = ScoreOptions(staves=staves, numbers=False, fretboard=hand)
    exercises = [
        SheetExercise(line, title=item.get("title", ""), remark=item.get("remark", ""), second=second)
        for line, item, second in zip(lines, lesson["items"], seconds or [None] * len(lines), strict=True)
    ]
    look = HandoutOptions(score, sound=sound_options(options))
    return handout(lesson.get("title") or "A lesson", exercises, lesson.get("remark", ""), look)


def lesson_move(workspace: Workspace, item: dict[str, Any], to: str) -> dict[str, Any]:
    """A line of a lesson an octave up or down, or with its rules in another key, of the same mode. Raises
    InputError where it does not stay in the range of its rules."""
    line = named_line(workspace, item["rules"], item["number"], item.get("notes"))
    if to in OCTAVES:
        tables, semitones = item["rules"], OCTAVES[to]
        events = tuple(each._replace(pitch=each.pitch + semitones) for each in line.events)
    else:
        source = RuleFile.of(item["rules"], OWN_TEXT, workspace.corpus, None)
        minor = source.key.endswith("m")
        key = keys_in_order(CHROMATIC, minor)[KEYS.index(to)]
        moved = in_key(source.line(line, date.today()), key, workspace.corpus)
        tables, events = dict(moved.tables), moved.events
    space = workspace.space(tables)
    number = space.diagram.number(events)
    if number is None:
        raise InputError("moved there, it is not a line of its rules any more: it leaves their range.")
    found = space.line(number)
    notes = " ".join(note.name for note in found.notes)
    return {"rules": tables, "number": str(number), "notes": notes, "kept_as": line_notes(found)}


# -- the lesson file -----------------------------------------------------------------------------------------


def lesson_write(workspace: Workspace, lesson: dict[str, Any]) -> str:
    """A lesson as the text of a lesson file, each line with the text of its rule file. Raises InputError."""
    lines = (
        LessonLine(
            rules=to_toml(item["rules"]),
            number=int(item["number"]),
            notes=line_notes(line),
            title=item.get("title", ""),
            remark=item.get("remark", ""),
        )
        for item, line in zip(lesson["items"], lines_of(workspace, lesson), strict=True)
    )
    text = lesson_text(Lesson(lesson.get("title", ""), lesson.get("remark", ""), tuple(lines)))
    if len(text) > LONGEST_LESSON:
        raise InputError(
            f"the lesson file would have {len(text)} characters and {LONGEST_LESSON} is the most; make two "
            "lessons of it."
        )
    return text


def lesson_read(workspace: Workspace, text: str) -> dict[str, Any]:
    """The lesson in a lesson file, each line with the tables of its rules and its number under them. The
    rules are names in the corpora or a rule file's text; no path is followed. Raises InputError."""
    lesson = parse_lesson(text)
    found = {"title": lesson.title, "remark": lesson.remark}
    check(found, table({}, LESSON_WORDS), "the lesson file")
    if not 1 <= len(lesson.lines) <= MOST_LINES:
        raise InputError(
            f"the lesson file has {len(lesson.lines)} lines; a lesson of the page has 1 to {MOST_LINES}."
        )
    return {**found, "items": [_item(workspace, place, line) for place, line in enumerate(lesson.lines, 1)]}


def _item(workspace: Workspace, place: int, line: LessonLine) -> dict[str, Any]:
    words = {"title": line.title, "remark": line.remark}
    check(words, table({}, LESSON_WORDS), f"line {place} of the lesson")
    try:
        tables = rule_tables(line, workspace.corpus, None)
        space = workspace.space(tables)
        kept = kept_line if line.number is not None else found_line
        found = kept(line, space.rules, space.diagram)
    except InputError as error:
        raise InputError(f"line {place} of the lesson: {error}") from None
    notes = " ".join(note.name for note in found.notes)
    number = found.number or line.number
    return {"rules": tables, "number": str(number), "notes": notes, "kept_as": line_notes(found), **words}
