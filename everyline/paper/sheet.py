"""Sheets: PDF pages of numbered exercises with a heading, and a separate key with the answers.

Sheets are set by typst, some hundreds of exercises at a time, so that a book of any length needs bounded
memory. The same input gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass, replace
from io import BytesIO
from itertools import chain, islice
from pathlib import Path
from typing import IO

from everyline.corpora.errors import InputError
from everyline.files.writing import writing
from everyline.paper.engrave import engrave, system_count
from everyline.paper.exercises import ExerciseRows, Files, Row, SheetExercise
from everyline.paper.heading import Heading, front_matter
from everyline.paper.layout import score_part
from everyline.paper.neck import neck_options, neck_svg, picture_height
from everyline.paper.printing import PrintJob
from everyline.paper.sheet_options import PAPERS, SIZES, SheetOptions
from everyline.paper.signs import readable
from everyline.paper.transposed import key_of, twelve_keys
from everyline.paper.two_parts import SecondStaff
from everyline.rules.annotate import AnnotatedLine

__all__ = [
    "PAPERS",
    "SecondStaff",
    "Sheet",
    "SheetExercise",
    "SheetOptions",
    "key_pdf",
    "sheet_pdf",
    "twelve_key_sheet",
    "write_sheet",
]

Count = Callable[[int], None]
"""Called with the number of exercises that are done; how many come is not known here."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """What is printed. ``exercises`` may be a generator of any length; it is gone through once.

    ``facts`` are pairs of a word and what it says, printed below the title; ``tempi`` are boxes to tick, in
    beats a minute. ``remarks`` are paragraphs, ``rules`` sentences listed under "The rules of these lines".
    ``author`` stands below the title, ``rights`` and ``footer`` at the foot of every page. ``student_line``
    leaves room for name and date, ``student`` and ``week`` fill it in. ``contents`` lists the exercises with
    their pages; ``key_at_end`` prints the answers after them, from a new page on.
    """

    title: str
    exercises: Iterable[SheetExercise]
    subtitle: str = ""
    remarks: tuple[str, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()
    tempi: tuple[int, ...] = ()
    student_line: bool = True
    student: str = ""
    week: str = ""
    author: str = ""
    rights: str = ""
    footer: str = ""
    rules: tuple[str, ...] = ()
    contents: bool = False
    key_at_end: bool = False


_HALF = 6
_FRONT, _MARGINS, _CLOSE_GAP, _WIDEST_GAP, _HEADING = 42.0, 35.0, 2.5, 9.0, 7.5
"""Millimetres: the head of a first page, margins, least and widest gap of a fit, the words over a staff."""
_REMARK = 4.6
"""Millimetres that a line of words takes at the head."""


def write_sheet(
    out: Path | str,
    sheet: Sheet,
    options: SheetOptions | None = None,
    *,
    key: Path | str | None = None,
    progress: Count | None = None,
) -> int:
    """Write a sheet to ``out``, and its answers to ``key`` where that is given; returns the number of pages.

    A key without any answer is not written. Raises InputError where there is no exercise, a line cannot be
    drawn as asked or a file cannot be written; nothing is written then.
    """
    with ExitStack() as stack:
        stream = stack.enter_context(writing(out, "wb"))
        answers = _Answers()
        pages = _print(
            stream, sheet, options or SheetOptions(), answers if key is not None else None, progress
        )
        if key is not None and answers.job is not None:
            answers.job.write(stack.enter_context(writing(key, "wb")))
    return pages


def sheet_pdf(sheet: Sheet, options: SheetOptions | None = None) -> bytes:
    """A sheet as the bytes of a PDF file."""
    stream = BytesIO()
    _print(stream, sheet, options or SheetOptions(), None, None)
    return stream.getvalue()


def key_pdf(sheet: Sheet, options: SheetOptions | None = None) -> bytes | None:
    """The answers of a sheet as the bytes of a PDF file; None where there are none."""
    answers = _Answers()
    _print(BytesIO(), sheet, options or SheetOptions(), answers, None)
    if answers.job is None:
        return None
    stream = BytesIO()
    answers.job.write(stream)
    return stream.getvalue()


@dataclass
class _Answers:
    """The key, begun with its first answer."""

    job: PrintJob | None = None


def _print(
    stream: IO[bytes],
    sheet: Sheet,
    options: SheetOptions,
    answers: _Answers | None,
    progress: Count | None,
) -> int:
    exercises = iter(sheet.exercises)
    if options.per_page is not None:
        exercises, options = _on_pages(sheet, exercises, options)
    job: PrintJob | None = None
    page = ExerciseRows(options)
    foot = "  ·  ".join(filter(None, (sheet.footer, sheet.rights)))
    at_end: list[tuple[Row, Files]] = []
    for number, exercise in enumerate(exercises, 1):
        if job is None:
            matter = front_matter(_front(sheet, exercise.line), options.score, options.colour, options.legend)
            job = PrintJob(page.shared(sheet.title, sheet.author, foot), matter)
        job.add(*page.exercise(number, exercise))
        if answers is not None and exercise.in_key:
            if answers.job is None:
                matter = front_matter(_key_front(sheet, exercise.line), options.score, options.colour, False)
                answers.job = PrintJob(page.shared(f"Answers: {sheet.title}", sheet.author, foot), matter)
            answers.job.add(*page.solution(number, exercise))
        if sheet.key_at_end and exercise.in_key:
            at_end.append(page.solution(number, exercise))
        if progress is not None:
            progress(number)
    if job is None:
        raise InputError("there is no exercise to print; choose one line at least.")
    for place, (row, files) in enumerate(at_end):
        renamed = {f"key-{name}": picture for name, picture in files.items()}
        for figure in row["systems"]:
            figure["file"] = f"key-{figure['file']}"
        job.add({**row, "part": "Answers" if place == 0 else ""}, renamed)
    return job.write(stream)


def _on_pages(
    sheet: Sheet, exercises: Iterator[SheetExercise], options: SheetOptions
) -> tuple[Iterator[SheetExercise], SheetOptions]:
    """So many exercises on a page, with the largest staves that let them.

    Where a long head leaves less room, the first page has fewer. Raises InputError where not even a page
    without a head has room for them.
    """
    wanted = options.per_page or 1
    first = list(islice(exercises, 2 * wanted))
    words = sum(1 + len(text) // 110 for text in (*sheet.remarks, *sheet.rules)) + bool(sheet.rules)
    head = (_FRONT + _REMARK * (words + len(first) * sheet.contents)) * options.word_size
    room = PAPERS[options.paper][1] - _MARGINS
    tries = [replace(options, size=size * options.size) for size in SIZES if size * options.size >= 0.5]
    count = min(wanted, len(first))
    highest: list[float] = []
    for left in (room - head, room):
        for place, tried in enumerate(tries):
            if place == len(highest):
                highest.append(max((_height(each, tried) for each in first), default=0.0))
            gap = left / max(1, count) - highest[place]
            if gap >= _CLOSE_GAP:
                gap = min(gap, _WIDEST_GAP)
                on_first = min(wanted, int((room - head) / (highest[place] + gap)))
                return _paged(chain(first, exercises), on_first, wanted), replace(tried, gap=gap)
    most = int(room / (highest[-1] + _CLOSE_GAP))
    raise InputError(
        f"{wanted} lines do not fit on a page of {options.paper}, {most} do; ask for fewer, for larger "
        f"paper, or for less around the staff (--no-labels, --no-fingers, --staves staff)."
    )


def _paged(exercises: Iterable[SheetExercise], on_first: int, wanted: int) -> Iterator[SheetExercise]:
    """The exercises with a new page after the first so many, and after every so many from there."""
    for place, each in enumerate(exercises):
        yield replace(each, new_page=place > 0 and (place - on_first) % wanted == 0 and place >= on_first)


def _height(exercise: SheetExercise, options: SheetOptions) -> float:
    """How high an exercise stands on the page, in millimetres, without what is said below it."""
    score = options.score if exercise.labels else replace(options.score, roles=False, degrees=False)
    systems = engrave(
        exercise.line,
        score,
        width=options.music_width / options.staff_size,
        blanks=exercise.blanks,
        second=exercise.second,
    )
    music = sum(system.height / 100 * options.staff_size + 1.2 for system in systems)
    if exercise.second is not None and exercise.remark:
        music += _REMARK
    if score.fretboard is not None and not exercise.own:
        look = neck_options(score, width=options.music_width / options.staff_size)
        music += picture_height(neck_svg(exercise.line, look)) * options.staff_size + 1.2
    return music + _HEADING * options.word_size


def twelve_key_sheet(
    line: AnnotatedLine, title: str = "", options: SheetOptions | None = None
) -> tuple[Sheet, SheetOptions]:
    """A sheet of one line in all twelve keys, each under its written key, and the options to print it with.

    They have the largest staves that fit on two pages; a line too long for that gets the smallest staves and
    as many pages as it needs.
    """
    options = replace(options or SheetOptions(), close=True)
    lines = list(twelve_keys(line))
    part = score_part([line], options.score)
    width = options.music_width
    drawn = [engrave(each, options.score, width=width) for each in lines]
    room = PAPERS[options.paper][1] - _MARGINS
    chosen = replace(options, size=SIZES[4])
    for size in SIZES[:5]:
        rows = [
            count * (max(system.height for system in systems) / 100 * size + 1.2)
            for systems, each in zip(drawn, lines, strict=True)
            for count in [system_count(each, options.score, width / size)]
        ]
        left = min(room - _FRONT - sum(rows[:_HALF]), room - sum(rows[_HALF:])) / _HALF
        if left >= _CLOSE_GAP:
            chosen = replace(options, size=size, gap=min(left, _WIDEST_GAP))
            break
    keys = [key_of(each) for each in lines]
    exercises = tuple(
        SheetExercise(each, title=readable(part.written_key(key, part.steps(key))), new_page=place == _HALF)
        for place, (each, key) in enumerate(zip(lines, keys, strict=True))
    )
    facts = () if line.number is None else (("Line", f"No. {line.number}"),)
    return Sheet(title or "One line in twelve keys", exercises, facts=facts), chosen


def _front(sheet: Sheet, line: AnnotatedLine) -> Heading:
    return Heading(
        sheet.title,
        line,
        subtitle=sheet.subtitle,
        author=sheet.author,
        remarks=sheet.remarks,
        rules=sheet.rules,
        facts=sheet.facts,
        tempi=sheet.tempi,
        fields=(("Name", sheet.student), ("Week", sheet.week), ("Date", "")) if sheet.student_line else (),
        contents=sheet.contents,
    )


def _key_front(sheet: Sheet, line: AnnotatedLine) -> Heading:
    return Heading(f"Answers: {sheet.title}", line, subtitle=sheet.subtitle, author=sheet.author)
