"""The command ``plan``: a student's practice for a week or more, on the screen, on paper, in a calendar."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from datetime import date, time
from pathlib import Path
from typing import TYPE_CHECKING

from everyline.cli.main import NO
from everyline.cli.messages import complain
from everyline.cli.progress import progress
from everyline.cli.student import add_file, opened
from everyline.corpora.errors import InputError, did_you_mean
from everyline.files.writing import writing

if TYPE_CHECKING:
    from everyline.practice.records import Student
    from everyline.practice.week import Plan, Wishes


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of ``plan``."""
    parser.add_argument("student", metavar="STUDENT", help="a student's name, or a folder exported as JSON")
    add_file(parser)
    when = parser.add_argument_group("when")
    when.add_argument("--begin", metavar="DATE", help="the first day, such as 2026-11-30 (default: today)")
    when.add_argument("--weeks", type=int, default=1, metavar="N", help="how many weeks (1)")
    when.add_argument("--days", default="5", help="days a week (5), or weekdays, such as mon,wed,fri")
    when.add_argument("--minutes", default="20", help="minutes a day (20), or a list, one for each day")
    when.add_argument("--round", type=int, default=3, metavar="MINUTES", help="how long a round is (3)")
    when.add_argument("--stretch", type=int, default=25, metavar="MINUTES", help="playing before a rest (25)")
    when.add_argument("--rest", type=int, default=5, metavar="MINUTES", help="how long a rest is (5)")
    what = parser.add_argument_group("what")
    what.add_argument("--gaps", default="1,2,4,8,16,32", help="days until a line is due again, growing")
    what.add_argument("--keys", type=int, default=3, metavar="N", help="keys of a line before a new one (3)")
    what.add_argument("--new-a-week", type=int, default=2, metavar="N", help="lines begun a week at most (2)")
    what.add_argument("--new", type=int, default=0, metavar="N", help="lines begun in all at least (0)")
    what.add_argument("--to-come", type=int, default=0, metavar="N", help="lines that are still to be given")
    what.add_argument(
        "--to-come-key", default="C", metavar="KEY", help="the key that they are at home in (C)"
    )
    what.add_argument("--tempo", type=int, default=60, metavar="BPM", help="the tempo a line begins at (60)")
    what.add_argument("--step", type=int, default=6, metavar="BPM", help="up after a clean day (6)")
    what.add_argument("--goal", type=int, default=140, metavar="BPM", help="the tempo not gone beyond (140)")
    what.add_argument(
        "--ahead", type=int, default=4, metavar="WEEKS", help="weeks to keep room for after it (4)"
    )
    what.add_argument("--let-late", action="store_true", help="lines may come late, as little as can be")
    what.add_argument("--seed", type=int, default=1, help="the same seed gives the same plan (1)")
    out = parser.add_argument_group("how it is given")
    out.add_argument("--format", choices=("text", "json"), default="text", help="on the screen")
    out.add_argument(
        "--to",
        type=Path,
        action="append",
        default=[],
        metavar="PATH",
        help="a file instead: .pdf (a page a week), .ics (a calendar), .json, .txt; may be repeated",
    )
    out.add_argument("--at", metavar="HH:MM", help="the time of day in the calendar (default: all day)")
    out.add_argument("--paper", metavar="SIZE", help="A4 (default) or Letter")


def run(name: str, arguments: argparse.Namespace) -> int:
    """Make the plan and show or write it; answers the exit code."""
    _check_files(arguments)
    at = _time(arguments.at)
    wishes = _wishes(arguments)
    student = _student(arguments)
    from everyline.practice.week_days import NoPlan
    from everyline.practice.week_plan import make_plan

    try:
        plan = make_plan(student, wishes, progress("days in order"))
    except NoPlan as error:
        complain(str(error))
        return NO
    if arguments.to:
        contents = [(path, _content(plan, path.suffix.lower(), at, arguments.paper)) for path in arguments.to]
        for path, content in contents:
            with writing(path, "wb") as file:
                file.write(content)
    else:
        sys.stdout.write(_text(plan, arguments.format))
    return 0


def _check_files(arguments: argparse.Namespace) -> None:
    """Raises InputError for a file of no known kind, and for an option that no file asked for heeds."""
    suffixes = [path.suffix.lower() for path in arguments.to]
    for path, suffix in zip(arguments.to, suffixes, strict=True):
        if suffix not in (".pdf", ".ics", ".json", ".txt"):
            raise InputError(f"{path}: a plan is written as .pdf, .ics, .json or .txt.")
    if arguments.at is not None and ".ics" not in suffixes:
        raise InputError("--at is the time of day in a calendar; write one with --to PATH.ics.")
    if arguments.paper is not None and ".pdf" not in suffixes:
        raise InputError("--paper is for a printed plan; write one with --to PATH.pdf.")
    if arguments.to and arguments.format != "text":
        raise InputError("--format is for the screen; --to takes the format from the file's name.")


def _text(plan: Plan, kind: str) -> str:
    from everyline.practice.week_text import plan_row, plan_text

    return (
        json.dumps(plan_row(plan), ensure_ascii=False, indent=1) + "\n" if kind == "json" else plan_text(plan)
    )


def _content(plan: Plan, suffix: str, at: time | None, paper: str | None) -> bytes:
    if suffix == ".pdf":
        from everyline.paper.plan_page import plan_pdf

        return plan_pdf(plan, paper or "A4")
    if suffix == ".ics":
        from everyline.practice.week_calendar import plan_calendar

        return plan_calendar(plan, at)
    return _text(plan, suffix.removeprefix(".")).encode()


def _student(arguments: argparse.Namespace) -> Student:
    """The records of a student: from an exported folder, else from the students' file."""
    if arguments.student.lower().endswith(".json"):
        from everyline.practice.portable import read_folder

        if arguments.students is not None:
            raise InputError(f"{arguments.student} is a folder of its own; leave --file out.")
        return read_folder(Path(arguments.student)).student
    with opened(arguments) as store:
        return store.student(arguments.student)


def _wishes(arguments: argparse.Namespace) -> Wishes:
    from everyline.practice.week import Wishes

    days = _days(arguments.days)
    return Wishes(
        begin=_date(arguments.begin),
        weeks=arguments.weeks,
        weekdays=days,
        minutes=_minutes(arguments.minutes, len(days)),
        round_minutes=arguments.round,
        stretch=arguments.stretch,
        rest=arguments.rest,
        keys=arguments.keys,
        gaps=_numbers("--gaps", arguments.gaps),
        new_a_week=arguments.new_a_week,
        new=arguments.new,
        to_come=arguments.to_come,
        to_come_key=arguments.to_come_key,
        tempo=arguments.tempo,
        step=arguments.step,
        goal=arguments.goal,
        ahead=arguments.ahead,
        let_late=arguments.let_late,
        seed=arguments.seed,
    )


def _date(text: str | None) -> date:
    if text is None:
        return date.today()
    try:
        found = date.fromisoformat(text)
    except ValueError:
        raise InputError(f'--begin "{text}": write a date as year-month-day, such as 2026-11-30.') from None
    if not 1900 <= found.year <= 2900:
        raise InputError(f"--begin {text}: choose a year from 1900 to 2900.")
    return found


def _time(text: str | None) -> time | None:
    try:
        return None if text is None else time.fromisoformat(text).replace(tzinfo=None)
    except ValueError:
        raise InputError(f'--at "{text}": write hours and minutes, such as 17:30.') from None


def _days(text: str) -> tuple[int, ...]:
    from everyline.practice.week import SPREAD, WEEKDAYS

    if text.isdecimal() and len(text) < 3:
        if int(text) not in SPREAD:
            raise InputError(f"--days {text}: practise on 1 to 6 days a week, so that one is free.")
        return SPREAD[int(text)]
    names = [name.casefold() for name in WEEKDAYS]
    found = []
    for word in text.casefold().replace(",", " ").split():
        fitting = [number for number, name in enumerate(names) if len(word) > 1 and name.startswith(word)]
        if len(fitting) != 1:
            raise InputError(
                f'--days "{word}": write a number of days, or weekdays such as mon,wed,fri.'
                f"{did_you_mean(word, names)}"
            )
        found.extend(fitting)
    return tuple(sorted(set(found)))


def _minutes(text: str, days: int) -> tuple[int, ...]:
    found = _numbers("--minutes", text)
    return found * days if len(found) == 1 else found


def _numbers(option: str, text: str) -> tuple[int, ...]:
    words: Sequence[str] = text.replace(",", " ").split()
    if not words or not all(word.isdecimal() and len(word) < 6 for word in words):
        raise InputError(f'{option} "{text}": write whole numbers with commas between them.')
    return tuple(map(int, words))
