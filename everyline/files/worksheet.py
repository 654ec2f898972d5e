"""Numbered exercises for paper and files, from a rule file's lines, a lesson file or a drill folder."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from everyline.corpora import Corpus, read_toml
from everyline.corpora.errors import InputError
from everyline.paper.sheet import SheetExercise

if TYPE_CHECKING:
    from everyline.drill.write import DrillSet

MANIFEST = "manifest.jsonl"


@dataclass(frozen=True)
class Worksheet:
    """Exercises with what stands at the head of the page; ``count`` of them, made one by one."""

    title: str
    remark: str
    count: int
    exercises: Iterator[SheetExercise]


def is_drill(path: Path) -> bool:
    """Whether a path is a drill folder (or the manifest of one)."""
    try:
        return path.name == MANIFEST or (path / MANIFEST).is_file()
    except OSError:  # a name too long to be one
        return False


def is_lesson(path: Path) -> bool:
    """Whether a file is a lesson file: TOML with ``[[line]]`` tables."""
    try:
        return "line" in read_toml(path)
    except InputError:
        return False


def worksheet(path: Path, corpus: Corpus, tell: Callable[[str], object] | None = None) -> Worksheet:
    """The exercises of a lesson file or of a drill folder. ``tell`` is given a sentence for each kept line
    whose rules have moved on. Raises InputError for anything else."""
    if is_drill(path):
        return _drill(path if path.name == MANIFEST else path / MANIFEST, corpus)
    if is_lesson(path):
        return _lesson(path, corpus, tell)
    raise InputError(f"{path} is neither a lesson file nor the folder of a drill set.")


def _lesson(path: Path, corpus: Corpus, tell: Callable[[str], object] | None) -> Worksheet:
    from everyline.files.lessons import lesson_lines, read_lesson

    lesson = read_lesson(path)
    exercises = (
        SheetExercise(line, title=kept.title, remark=kept.remark)
        for kept, line in lesson_lines(lesson, corpus, path.parent, tell)
    )
    return Worksheet(lesson.title, lesson.remark, len(lesson.lines), exercises)


def _drill(manifest: Path, corpus: Corpus) -> Worksheet:
    from everyline.drill.write import from_manifest

    return drill_worksheet(from_manifest(manifest, corpus))


def drill_worksheet(drill: DrillSet) -> Worksheet:
    """The exercises of a drill set, made one by one."""
    from everyline.drill.write import Made, shown_line

    def exercise(made: Made) -> SheetExercise:
        task = made.exercise
        answer = " ".join(task.answer)
        title = f"{made.source.key}" if made.source.key else ""
        if task.kind == "slip":
            return SheetExercise(
                shown_line(made), title, task.task, solution=made.line, answer=answer, labels=False
            )
        if task.kind == "continue":
            hidden = frozenset(range(len(task.shown), len(made.line.notes)))
            return SheetExercise(made.line, title, task.task, blanks=hidden, answer=answer, labels=False)
        blanks = frozenset(task.blanks)
        return SheetExercise(made.line, title, task.task, blanks=blanks, answer=answer, labels=not blanks)

    items = enumerate(drill.chosen.items, 1)
    exercises = (exercise(drill.exercise(place, item)) for place, item in items)
    return Worksheet(drill.spec.title or "Drill set", "", len(drill.chosen.items), exercises)
