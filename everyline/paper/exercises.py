"""The exercises of a sheet, and each as the page setter takes it: words, pictures, what the pictures say."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from everyline.paper.engrave import engrave
from everyline.paper.heading import line_facts
from everyline.paper.layout import score_part
from everyline.paper.neck import neck_options, neck_svg, neck_words, picture_width
from everyline.paper.picture import LONGEST_NUMBER, system_svg
from everyline.paper.score_options import ScoreOptions
from everyline.paper.sheet_options import HEADING_COLUMN, MUSIC_WIDTHS, PAPERS, SheetOptions
from everyline.paper.signs import readable
from everyline.paper.spoken import Spoken
from everyline.paper.transposed import as_written
from everyline.paper.two_parts import SecondStaff
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.words import bar_by_bar

EDGE = 0.6
"""Edge of a picture in millimetres."""
SHOWN = {
    "blanks": "Shown: the line with the missing notes filled in.",
    "solution": "Shown: the line as the rules have it, without the wrong note.",
    "": "Shown: the line itself.",
}
"""What the music in a key is."""

Row = dict[str, Any]
Files = dict[str, str]


@dataclass(frozen=True, slots=True)
class SheetExercise:
    """One numbered exercise.

    ``blanks`` are notes of ``line`` (by index) that the student finds. The key shows ``solution`` (``line``
    itself where it has blanks) and ``answer``; an exercise with neither is not in the key. Without ``labels``
    role marks and degrees are left off, ``explain`` adds the line bar by bar in words, ``new_page`` begins a
    page with it. ``own`` says that the staff is for a line of the student's own: ``bare``, or with
    ``slashes``. A ``second`` part stands below it, joined to it system by system.
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
    own: str = ""
    second: SecondStaff | None = None

    @property
    def in_key(self) -> bool:
        """Whether the key has something to say about it."""
        return bool((self.blanks and not self.own) or self.solution is not None or self.answer)

    def second_to(self, line: AnnotatedLine) -> SecondStaff | None:
        """The second part under the line itself or its solution, which has one at concert pitch alone."""
        if self.second is None or line is self.line:
            return self.second
        return replace(self.second, line=line) if self.second.concert else None


class ExerciseRows:
    """Turns exercises into what the page setter prints."""

    def __init__(self, options: SheetOptions) -> None:
        self.options = options

    def shared(self, title: str, author: str, footer: str) -> Row:
        """What every page of a document shares."""
        width, height = PAPERS[self.options.paper]
        side = (width - MUSIC_WIDTHS[self.options.paper]) / 2
        return {
            "title": title,
            "author": author,
            "page": {"width": width, "height": height, "side": side},
            "gap": self.options.gap,
            "close": self.options.close,
            "column": HEADING_COLUMN,
            "scale": self.options.word_size,
            "footer": readable(footer),
        }

    def exercise(self, number: int, exercise: SheetExercise) -> tuple[Row, Files]:
        """An exercise as it is set before the student, and its pictures."""
        row, files = self._row(number, exercise, exercise.line, exercise.blanks, exercise.labels)
        row["task"], row["remark"] = readable(exercise.task), readable(exercise.remark)
        if exercise.explain:
            row["words"] = self._words(exercise.line)
        return row, files

    def solution(self, number: int, exercise: SheetExercise) -> tuple[Row, Files]:
        """The same with its answer, and what is shown."""
        line = exercise.solution or exercise.line
        row, files = self._row(number, exercise, line, frozenset(), labels=True)
        shown = "solution" if exercise.solution is not None else "blanks" if exercise.blanks else ""
        row["answer"], row["shown"] = readable(exercise.answer), SHOWN[shown]
        if exercise.answer.endswith(":"):  # it leads to what is shown
            row["answer"], row["shown"] = "", readable(exercise.answer)
        return row, files

    def _row(
        self, number: int, exercise: SheetExercise, line: AnnotatedLine, blanks: frozenset[int], labels: bool
    ) -> tuple[Row, Files]:
        score = self.options.score
        if not labels:
            score = replace(score, roles=False, degrees=False)
        size = self.options.staff_size
        files: Files = {}
        second = exercise.second_to(line)
        systems = self._systems(str(number), exercise.own, line, second, blanks, score, files)
        if score.fretboard is not None and not exercise.own:
            look = neck_options(score, self.options.colour, width=self.options.music_width / size)
            neck = neck_svg(line, look, blanks=blanks)
            files[f"{number}-neck.svg"] = neck
            said = neck_words(line, look, blanks=blanks)
            systems.append(_figure(f"{number}-neck.svg", picture_width(neck) * size, 0.0, said))
        source = breakable(line.number) if score.numbers and line.number is not None else ""
        row = {
            "number": str(number),
            "part": "",
            "facts": [[word, readable(what)] for word, what in line_facts(line, self.options.score)],
            "new_page": exercise.new_page,
            "title": readable(exercise.title),
            "task": "",
            "source": source,
            "remark": "",
            "answer": "",
            "shown": "",
            "words": [],
            "systems": systems,
        }
        return row, files

    def _systems(
        self,
        stem: str,
        own: str,
        line: AnnotatedLine,
        second: SecondStaff | None,
        blanks: frozenset[int],
        score: ScoreOptions,
        files: Files,
    ) -> list[Row]:
        """The systems of one line as figures; their pictures are added to ``files``."""
        size = self.options.staff_size
        width = self.options.music_width / size
        look = own or "box"
        drawn = engrave(
            line,
            score,
            width=width,
            colour=self.options.colour,
            blanks=blanks,
            blank_look=look,
            second=second,
        )
        spoken = Spoken(line, score, blanks, own, second)
        systems = []
        for place, system in enumerate(drawn):
            name = f"{stem}-{place}.svg"
            files[name] = system_svg(system)
            wide = (system.width / 100 + 2 * EDGE) * size
            systems.append(_figure(name, wide, EDGE * size, spoken.system(system.notes, place, len(drawn))))
        return systems

    def _words(self, line: AnnotatedLine) -> list[Row]:
        """The line bar by bar, in the pitches that the player reads."""
        part = score_part([line], self.options.score)
        return [
            {
                "head": f"{_bar_name(bar.bar)} ({', '.join(readable(chord) for chord in bar.chords)})",
                "notes": [[readable(note.name), readable(note.text)] for note in bar.notes],
            }
            for bar in bar_by_bar(as_written(line, part))
        ]


def _figure(file: str, width: float, edge: float, said: str) -> Row:
    return {"file": file, "width": width, "edge": edge, "said": said}


def breakable(number: int) -> str:
    """A line's number in words, with room for a line break after every tenth digit of a long one."""
    digits = str(number)
    if len(digits) <= LONGEST_NUMBER:
        return f"No. {digits}"
    return "No. " + "\u200b".join(digits[place : place + 10] for place in range(0, len(digits), 10))


def _bar_name(number: int) -> str:
    return f"Bar {number}" if number > 0 else "Pickup"
