"""The command ``lesson``: shows a lesson file, or keeps lines in one."""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from pathlib import Path

from everyline.cli.messages import say
from everyline.corpora import Corpus, load
from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.files.formats import STUDENT
from everyline.files.lessons import (
    Lesson,
    keep,
    lesson_lines,
    line_of,
    moved_on,
    read_lesson,
    with_notes,
    write_lesson,
)
from everyline.files.writing import changing
from everyline.rules.schema import Where
from everyline.text.drawing import draw


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of ``lesson``."""
    parser.add_argument("file", metavar="FILE", type=Path, help="the lesson file")
    parser.add_argument("--format", choices=("text", "jsonl"), default="text", help="how lines are shown")
    parser.add_argument(
        "--corpora", metavar="FOLDER", type=Path, help="a folder of your own rule files and so on"
    )
    parser.add_argument(
        "--add-notes",
        action="store_true",
        help="write the notes of each line that has a number alone beside it, so that it stays that line",
    )
    parser.add_argument(
        "--to", type=Path, metavar="PATH.html", help="write it as one HTML file for the student instead"
    )
    keep = parser.add_argument_group(
        "to keep a line at the end of the file, which is made where there is none"
    )
    keep.add_argument("--keep", metavar="RULES", help="rule file of the line, as a path or by name")
    keep.add_argument("--number", type=int, metavar="N", help="the line's number")
    keep.add_argument("--notes", metavar="NOTES", help="or its notes, such as 'D4 F4 A4 C5:4'")
    keep.add_argument("--key", metavar="KEY", help="another key than the rule file's own")
    keep.add_argument("--title", type=str, default="", metavar="TEXT", help="a title for the line")
    keep.add_argument("--remark", type=str, default="", metavar="TEXT", help="a remark on the line")


def run(name: str, arguments: argparse.Namespace) -> int:
    """Show the lesson, or keep one line more; answers the exit code."""
    corpus = load(arguments.corpora)
    path: Path = arguments.file
    if arguments.keep is None:
        if arguments.number is not None or arguments.notes is not None:
            raise InputError("which rule file is the line of? Name it with --keep.")
        if arguments.add_notes:
            return _add_notes(path, corpus)
        if arguments.to is not None:
            return _for_student(path, arguments.to, corpus)
        _show(read_lesson(path), path, arguments)
        return 0
    if arguments.add_notes:
        raise InputError("--add-notes goes without --keep, which writes the notes anyway.")
    if arguments.to is not None:
        raise InputError("--to writes the whole lesson, and --keep adds a line to it; ask for one at a time.")
    given = {name: getattr(arguments, name) for name in ("number", "notes", "key", "title", "remark")}
    if arguments.number is not None and arguments.notes is not None:
        raise InputError("--number and --notes do not go together: name the line by one of the two.")
    said = {name: value for name, value in given.items() if value not in (None, "")}
    line = line_of({"rules": arguments.keep, **said}, Where("options"))
    ((_, found),) = lesson_lines(Lesson(lines=(line,)), corpus, path.parent)
    if found.number is None:
        raise InputError(f"{arguments.keep[:100]}: {moved_on(line, found)}")
    count = keep(with_notes(line, found), path)
    say(f"{path} has {plural(count, 'line')}.")
    return 0


def _add_notes(path: Path, corpus: Corpus) -> int:
    with changing(path):
        lesson = read_lesson(path)
        lines = tuple(
            with_notes(kept, line) if kept.notes is None else kept
            for kept, line in lesson_lines(lesson, corpus, path.parent, say)
        )
        write_lesson(replace(lesson, lines=lines), path)
    added = sum(kept.notes is None for kept in lesson.lines)
    say(f"{path}: notes were added to {plural(added, 'line')}.")
    return 0


def _for_student(path: Path, out: Path, corpus: Corpus) -> int:
    """The lesson as one HTML file."""
    if out.suffix.lower() != STUDENT:
        raise InputError(
            f"{out}: a lesson becomes a .html file here; everyline sheet and export write others."
        )
    from everyline.files.worksheet import worksheet
    from everyline.handout.write import handout, write_handout

    found = worksheet(path, corpus, say)
    write_handout(out, handout(found.title or "Lesson", found.exercises, found.remark))
    return 0


def _show(lesson: Lesson, path: Path, arguments: argparse.Namespace) -> None:
    corpus = load(arguments.corpora)
    shown = lesson_lines(lesson, corpus, path.parent, say)
    if arguments.format == "jsonl":
        for kept, line in shown:
            row = {"rules": kept.rules, "title": kept.title, "remark": kept.remark, **line.as_row()}
            print(json.dumps(row, ensure_ascii=False))
        return
    if lesson.title:
        print(f"{lesson.title}\n")
    if lesson.remark:
        print(f"{lesson.remark}\n")
    for place, (kept, line) in enumerate(shown, 1):
        name = f"No. {line.number}" if kept.own_text else kept.rules
        print(f"{place}. {kept.title or name}" + (f" ({kept.remark})" if kept.remark else ""))
        print(f"{draw(line)}\n")
