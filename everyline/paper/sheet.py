"""Sheets: PDF pages of numbered exercises with a heading, and a separate key with the answers.

Sheets are set by typst, some dozens of exercises at a time, so that a book of any length needs little memory.
The same input gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from io import BytesIO
from pathlib import Path
from typing import IO, Any

from everyline.corpora.errors import InputError, did_you_mean
from everyline.files.writing import writing
from everyline.paper.engrave import engrave, system_count
from everyline.paper.heading import Heading, front_matter
from everyline.paper.layout import score_part
from everyline.paper.neck import neck_options, neck_svg, picture_width
from everyline.paper.picture import LONGEST_NUMBER, system_svg
from everyline.paper.printing import PrintJob
from everyline.paper.score_options import ScoreOptions
from everyline.paper.signs import readable
from everyline.paper.transposed import as_written, key_of, twelve_keys
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.words import bar_by_bar

Progress = Callable[[int], None]
"""Called with the number of exercises that are done."""


@dataclass(frozen=True, slots=True)
class SheetExercise:
    """One numbered exercise.

    ``blanks`` are notes of ``line`` (by index) that the student finds. The key shows ``solution`` (``line``
    itself where it has blanks) and ``answer``; an exercise with neither is not in the key. Without ``labels``
    role marks and degrees are left off, ``explain`` adds the line bar by bar in words, ``new_page`` begins a
    page with it.
    """

    line: AnnotatedLine
    title: str = ""
    task: str = ""
    remark: str = ""
    blanks: frozenset[int] = field(default_factory=frozenset)
    solution: AnnotatedLine | None = None
    answer: str = ""
    labels: bool = True
    explain: bool = False
    new_page: bool = False

    @property
    def in_key(self) -> bool:
        """Whether the key has something to say about it."""
        return bool(self.blanks or self.solution is not None or self.answer)


@dataclass(frozen=True, slots=True)
class Sheet:
    """What is printed. ``exercises`` may be a generator of any length; it is gone through once.

    ``facts`` are pairs of a word and what it says, printed below the title; ``tempi`` are boxes to tick, in
    beats a minute. ``remarks`` are paragraphs.
    """

    title: str
    exercises: Iterable[SheetExercise]
    subtitle: str = ""
    remarks: tuple[str, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()
    tempi: tuple[int, ...] = ()
    student_line: bool = True


PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height in millimetres (ISO 216; ANSI/ASME Y14.1)."""

MUSIC_WIDTH, HEADING_COLUMN = 180.0, 13.0
"""Width of the music in millimetres, and of the column that a close setting takes from it."""
SIZES = (1.0, 0.92, 0.84, 0.76, 0.7)
"""Sizes of staff that are tried where a sheet must fit a number of pages."""

_HALF = 6
_FRONT, _MARGINS, _CLOSE_GAP, _WIDEST_GAP, _EDGE = 42.0, 35.0, 2.5, 9.0, 0.6
"""Millimetres: the head of a first page, margins, least and widest gap of a fit, edge of a picture."""


@dataclass(frozen=True, slots=True)
class SheetOptions:
    """How it is printed: ``paper`` A4 or Letter, ``size`` of the staves (1 is seven millimetres), what the
    score shows, in ``colour`` or black, with or without a ``legend`` of the role marks.

    A ``close`` setting has the number and title of an exercise beside its clef and leaves its task out.
    ``gap`` is the room between exercises in millimetres. Raises InputError.
    """

    paper: str = "A4"
    size: float = 1.0
    score: ScoreOptions = field(default_factory=ScoreOptions)
    colour: bool = True
    legend: bool = True
    close: bool = False
    gap: float = 5.0

    def __post_init__(self) -> None:
        """Check paper and size."""
        if self.paper not in PAPERS:
            raise InputError(
                f'paper "{self.paper}" is none of: {", ".join(PAPERS)}.{did_you_mean(self.paper, PAPERS)}'
            )
        if not 0.5 <= self.size <= 1.5:
            raise InputError(f"staves of size {self.size:g} are out of reach: 0.5 to 1.5.")

    @property
    def music_width(self) -> float:
        """Width of the music in millimetres."""
        return MUSIC_WIDTH - HEADING_COLUMN if self.close else MUSIC_WIDTH


def write_sheet(
    out: Path | str,
    sheet: Sheet,
    options: SheetOptions | None = None,
    *,
    key: Path | str | None = None,
    progress: Progress | None = None,
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
    progress: Progress | None,
) -> int:
    job: PrintJob | None = None
    page = _Setter(options)
    for number, exercise in enumerate(sheet.exercises, 1):
        if job is None:
            front = _front(sheet, exercise.line)
            matter = front_matter(front, options.score, options.colour, options.legend)
            job = PrintJob(page.shared(sheet.title), matter)
        job.add(*page.exercise(number, exercise))
        if answers is not None and exercise.in_key:
            if answers.job is None:
                matter = front_matter(_key_front(sheet, exercise.line), options.score, options.colour, False)
                answers.job = PrintJob(page.shared(f"Answers: {sheet.title}"), matter)
            answers.job.add(*page.solution(number, exercise))
        if progress is not None:
            progress(number)
    if job is None:
        raise InputError("there is no exercise to print; choose one line at least.")
    return job.write(stream)


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
    chosen = replace(options, size=SIZES[-1])
    for size in SIZES:
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
        sheet.title, sheet.subtitle, sheet.remarks, sheet.facts, sheet.tempi, sheet.student_line, line
    )


def _key_front(sheet: Sheet, line: AnnotatedLine) -> Heading:
    return Heading(f"Answers: {sheet.title}", sheet.subtitle, (), (), (), False, line)


class _Setter:
    """Turns exercises into what the job prints."""

    def __init__(self, options: SheetOptions) -> None:
        self.options = options

    def shared(self, title: str) -> dict[str, Any]:
        """What every page of a document shares."""
        width, height = PAPERS[self.options.paper]
        side = (width - MUSIC_WIDTH) / 2
        page = {"width": width, "height": height, "side": side}
        close = self.options.close
        return {
            "title": title,
            "page": page,
            "gap": self.options.gap,
            "close": close,
            "column": HEADING_COLUMN,
        }

    def exercise(self, number: int, exercise: SheetExercise) -> tuple[dict[str, Any], dict[str, str]]:
        """An exercise as it is set before the student, and its pictures."""
        row, files = self._row(number, exercise, exercise.line, exercise.blanks, exercise.labels)
        row["task"], row["remark"] = readable(exercise.task), readable(exercise.remark)
        if exercise.explain:
            row["words"] = self._words(exercise.line)
        return row, files

    def solution(self, number: int, exercise: SheetExercise) -> tuple[dict[str, Any], dict[str, str]]:
        """The same with its answer."""
        line = exercise.solution or exercise.line
        row, files = self._row(number, exercise, line, frozenset(), labels=True)
        row["answer"] = readable(exercise.answer)
        return row, files

    def _row(
        self, number: int, exercise: SheetExercise, line: AnnotatedLine, blanks: frozenset[int], labels: bool
    ) -> tuple[dict[str, Any], dict[str, str]]:
        score = self.options.score
        if not labels:
            score = replace(score, roles=False, degrees=False)
        width = self.options.music_width / self.options.size
        systems = engrave(line, score, width=width, colour=self.options.colour, blanks=blanks)
        files = {f"{number}-{place}.svg": system_svg(system) for place, system in enumerate(systems)}
        widths = [(system.width / 100 + 2 * _EDGE, _EDGE) for system in systems]
        if score.fretboard is not None:
            look = neck_options(score, self.options.colour, width=width)
            files[f"{number}-neck.svg"] = neck = neck_svg(line, look, blanks=blanks)
            widths.append((picture_width(neck), 0.0))
        source = breakable(line.number) if score.numbers and line.number is not None else ""
        row = {
            "number": str(number),
            "new_page": exercise.new_page,
            "title": readable(exercise.title),
            "task": "",
            "source": source,
            "remark": "",
            "answer": "",
            "words": [],
            "systems": [
                {
                    "file": name,
                    "width": wide * self.options.size,
                    "edge": edge * self.options.size,
                }
                for name, (wide, edge) in zip(files, widths, strict=True)
            ],
        }
        return row, files

    def _words(self, line: AnnotatedLine) -> list[dict[str, Any]]:
        """The line bar by bar, in the pitches that the player reads."""
        part = score_part([line], self.options.score)
        return [
            {
                "head": f"{_bar_name(bar.bar)} ({', '.join(readable(chord) for chord in bar.chords)})",
                "notes": [[readable(note.name), readable(note.text)] for note in bar.notes],
            }
            for bar in bar_by_bar(as_written(line, part))
        ]


def breakable(number: int) -> str:
    """A line's number in words, with room for a line break after every tenth digit of a long one."""
    digits = str(number)
    if len(digits) <= LONGEST_NUMBER:
        return f"No. {digits}"
    return "No. " + "\u200b".join(digits[place : place + 10] for place in range(0, len(digits), 10))


def _bar_name(number: int) -> str:
    return f"Bar {number}" if number > 0 else "Pickup"
