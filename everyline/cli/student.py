"""The commands ``students`` and ``student``: who is in the students' file, and what each was given, how it
went, and what comes next."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from everyline.cli import student_give
from everyline.cli.messages import say
from everyline.corpora import load
from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError, did_you_mean
from everyline.practice.records import GivenLine, Grade, Kind, Practised, Student

if TYPE_CHECKING:
    from everyline.practice.kept import KeptLines
    from everyline.practice.store import Store

KINDS = {kind.name.lower(): kind for kind in Kind}
GRADES = {grade.value.replace(" ", "-"): grade for grade in Grade}
"""What is typed for a kind of exercise, and for how it went."""


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of one of these commands."""
    if name == "students":
        add_file(parser)
        return
    parser.add_argument("name", metavar="NAME", help="the student")
    parts = parser.add_subparsers(dest="action", metavar="ACTION", help="(default: show)")
    for action, (words, add, _) in ACTIONS.items():
        part = parts.add_parser(action, help=words, description=words.capitalize() + ".", allow_abbrev=False)
        add(part)
        add_file(part)


def add_file(parser: argparse.ArgumentParser) -> None:
    """The option that names the students' file."""
    parser.add_argument(
        "--file",
        dest="students",
        type=Path,
        metavar="PATH",
        help="the students' file (default: what EVERYLINE_STUDENTS names, else students.db in "
        "~/.local/share/everyline)",
    )


def opened(arguments: argparse.Namespace, create: bool = False) -> Store:
    """The students' file that a command line names, open; what is to be said of it is said."""
    from everyline.practice.store import Store

    store = Store(getattr(arguments, "students", None), create)
    if store.remark:
        say(store.remark)
    return store


def run(name: str, arguments: argparse.Namespace) -> int:
    """Run the action asked for; answers the exit code."""
    if name == "students":
        return _list(arguments)
    return ACTIONS[arguments.action or "show"][2](arguments)


def _list(arguments: argparse.Namespace) -> int:
    with opened(arguments) as store:
        found = store.students()
    if not found:
        say("there is no student yet; everyline student NAME begin makes the first.")
    for each in found:
        plays = f" ({each.instrument})" if each.instrument else ""
        last = f", last on {each.last}" if each.last else ""
        print(f"{each.name}{plays}: {plural(each.lines, 'line')}, {plural(each.rounds, 'round')}{last}")
    return 0


# -- showing -------------------------------------------------------------------------------------------------


def _add_show(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "lines", metavar="N", nargs="*", type=int, help="lines to show note by note (default: all, in brief)"
    )
    _add_corpora(parser)


def _add_corpora(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--corpora", metavar="FOLDER", type=Path, help="a folder of your own rule files and so on"
    )


def _show(arguments: argparse.Namespace) -> int:
    from everyline.practice.kept import KeptLines
    from everyline.practice.path import in_the_hands, standing
    from everyline.text.drawing import draw

    with opened(arguments) as store:
        student = store.student(arguments.name)
    corpus = load(getattr(arguments, "corpora", None))
    kept = KeptLines(corpus)
    if getattr(arguments, "lines", None):
        for place in arguments.lines:
            line = student.line(place)
            print(f"{line.place}. {line.title}, given {line.given}")
            _say_moved(kept, line)
            print("\n".join([draw(kept.line(line)), "", *map(_round_words, student.rounds_on(line)), ""]))
        return 0
    plays = f", {student.instrument}" if student.instrument else ""
    print(
        f"{student.name}{plays}: {plural(len(student.lines), 'line')}, {plural(len(student.rounds), 'round')}"
    )
    for line in student.lines:
        print(f"\n{line.place}. {line.title}, in {line.key}, given {line.given}\n   {line.notes}")
        rounds = student.rounds_on(line)
        if rounds:
            held = ", in the hands" if in_the_hands(student, line) else ""
            print(f"   {plural(len(rounds), 'round')}{held}; last {_round_words(rounds[-1])}")
        _say_moved(kept, line)
    if student.lines:
        print(f"\n{standing(student, corpus).words}")
    return 0


def _say_moved(kept: KeptLines, line: GivenLine) -> None:
    moved = kept.moved_on(line)
    if moved:
        say(f"line {line.place}: {moved}")


def _round_words(each: Practised) -> str:
    """A round in words: ``2026-11-25, play in C at 96: clean``."""
    tempo = "" if each.tempo is None else f" at {each.tempo}"
    return f"{each.on}, {each.kind.value} in {each.key}{tempo}: {each.grade.value}"


# -- changing ------------------------------------------------------------------------------------------------


def _add_begin(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--instrument", default="", metavar="NAME", help="the instrument that is played")
    _add_corpora(parser)


def _begin(arguments: argparse.Namespace) -> int:
    from everyline.practice.folder import student_name

    known = load(arguments.corpora).instruments
    if arguments.instrument and arguments.instrument not in known:
        raise InputError(
            f'--instrument "{arguments.instrument}": there is no such instrument (everyline corpus '
            f"instruments lists them).{did_you_mean(arguments.instrument, known)}"
        )
    name = student_name(arguments.name)  # refused before any file is made
    with opened(arguments, create=True) as store:
        is_new = store.begin(name, arguments.instrument)
        student = store.student(name)
    plays = f" plays {student.instrument}" if student.instrument else ""
    say(
        f"{student.name}{plays or ' is there'}; the folder is in {store.path}."
        if is_new
        else f"{student.name}{plays or ' has no instrument now'}."
    )
    return 0


def _add_record(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("line", metavar="N", type=int, help="the line's number in the folder")
    parser.add_argument("--went", required=True, choices=GRADES, help="how it went")
    parser.add_argument("--tempo", type=int, metavar="BPM", help="beats a minute that were reached")
    parser.add_argument("--key", metavar="KEY", help="the key it was played in (default: the line's own)")
    parser.add_argument("--kind", choices=KINDS, default="play", help="what was done with it (default: play)")
    parser.add_argument("--on", type=str, metavar="DATE", help="the day, such as 2026-11-26 (default: today)")


def _record(arguments: argparse.Namespace) -> int:
    from everyline.practice.kept import key_name
    from everyline.rules.transpose import KeyChange

    with opened(arguments) as store:
        student = store.student(arguments.name)
        line = student.line(arguments.line)
        key = line.key if arguments.key is None else key_name(arguments.key)
        KeyChange.between(line.key, key)  # refuses a minor key for a major line
        practised = Practised(
            id=os.urandom(8).hex(),
            line=line.id,
            on=day(arguments.on),
            key=key,
            kind=KINDS[arguments.kind],
            tempo=arguments.tempo,
            grade=GRADES[arguments.went],
        )
        store.record(student.name, practised)
    say(f"line {line.place}: {_round_words(practised)}.")
    return 0


def day(text: str | None) -> date:
    """The day that an option names, or today. Raises InputError."""
    if text is None:
        return date.today()
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(
            f'--on "{text[:30]}": write a day as year, month, day, such as 2026-11-26.'
        ) from None


def _add_take_back(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "line",
        metavar="N",
        nargs="?",
        type=int,
        help="a line, with the rounds on it (default: the round that was recorded last)",
    )


def _take_back(arguments: argparse.Namespace) -> int:
    with opened(arguments) as store:
        if arguments.line is not None:
            line = store.take_back_line(arguments.name, arguments.line)
            say(f"line {line.place} ({line.title}) was taken back.")
            return 0
        student = store.student(arguments.name)
        last = store.take_back_round(arguments.name)
    place = next(line.place for line in student.lines if line.id == last.line)
    say(f"the round on line {place} was taken back ({_round_words(last)}).")
    return 0


# -- files ---------------------------------------------------------------------------------------------------


def _add_export(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "to",
        metavar="PATH",
        type=Path,
        help="a .json file for the whole folder, or a .toml file for its lines as a lesson",
    )
    parser.add_argument("--lines", metavar="N", nargs="+", type=int, help="with .toml: these lines alone")


def _export(arguments: argparse.Namespace) -> int:
    from everyline.practice.portable import write_folder

    path, suffix = arguments.to, arguments.to.suffix.lower()
    if suffix not in (".json", ".toml"):
        raise InputError(f"{path}: name a .json file for the whole folder, or a .toml file for a lesson.")
    if suffix == ".json" and arguments.lines:
        raise InputError("--lines goes with a .toml file; a .json file holds the whole folder.")
    with opened(arguments) as store:
        folder = store.folder(arguments.name)
    if suffix == ".json":
        write_folder(folder, path)
        student = folder.student
        say(f"{path} has {plural(len(student.lines), 'line')} and {plural(len(student.rounds), 'round')}.")
        return 0
    return _export_lesson(folder.student, path, arguments.lines)


def _export_lesson(student: Student, path: Path, places: list[int] | None) -> int:
    from everyline.files.lessons import Lesson, LessonLine, write_lesson

    lines = student.lines if places is None else [student.line(place) for place in places]
    if not lines:
        raise InputError(f"{student.name} has no line yet, so there is nothing to write.")
    kept = (LessonLine(line.rules_text, line.number, line.notes, title=line.title) for line in lines)
    write_lesson(Lesson(student.name, "", tuple(kept)), path)
    say(f"{path} has {plural(len(lines), 'line')}.")
    return 0


def _add_import(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("source", metavar="PATH", type=Path, help="a .json file that export wrote")


def _import(arguments: argparse.Namespace) -> int:
    from everyline.practice.folder import student_name
    from everyline.practice.portable import read_folder

    folder = read_folder(arguments.source)
    if folder.name != student_name(arguments.name):
        raise InputError(
            f"{arguments.source} is the folder of {folder.name}; write everyline student "
            f'"{folder.name}" import {arguments.source}.'
        )
    with opened(arguments, create=True) as store:
        lines, rounds = store.merge(folder)
    say(f"{folder.name}: {plural(lines, 'new line')}, {plural(rounds, 'new round')}.")
    return 0


def _add_forget(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--for-ever", action="store_true", help="yes: all of the student's lines and rounds are deleted"
    )


def _forget(arguments: argparse.Namespace) -> int:
    with opened(arguments) as store:
        student = store.student(arguments.name)
        if not arguments.for_ever:
            raise InputError(
                f"{student.name} has {plural(len(student.lines), 'line')} and "
                f"{plural(len(student.rounds), 'round')}, and nothing brings them back: export them first, "
                "and say --for-ever."
            )
        store.forget(student.name)
    say(f"{student.name} is forgotten.")
    return 0


Adder = Callable[[argparse.ArgumentParser], None]
Runner = Callable[[argparse.Namespace], int]

ACTIONS: dict[str, tuple[str, Adder, Runner]] = {
    "show": ("what was given and how it went", _add_show, _show),
    "begin": ("a new student, or the instrument of one that is there", _add_begin, _begin),
    "give": (
        "new lines, drawn by taste and none that the student had; or lines of your own choice",
        student_give.add,
        lambda arguments: student_give.give(arguments, opened),
    ),
    "record": ("a round on a line: how it went, at which tempo, in which key", _add_record, _record),
    "propose": (
        "whether the next rule file of the course may come, and which",
        _add_corpora,
        lambda arguments: student_give.propose(arguments, opened),
    ),
    "take-back": ("the last round, or a line", _add_take_back, _take_back),
    "export": ("the folder as one JSON file, or lines as a lesson file", _add_export, _export),
    "import": ("a copy of the folder: what is new in it is added", _add_import, _import),
    "forget": ("take the student out of the file, for ever", _add_forget, _forget),
}
"""Each action: what it does, its options, and what runs it."""
