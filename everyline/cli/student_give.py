"""Giving lines to a student, and proposing where to go on: the actions of ``student`` that need rules."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from everyline.cli.by_taste import add_taste, drawing, with_taste
from everyline.cli.main import NO
from everyline.cli.messages import say
from everyline.cli.source import add_rules, bounded, check_sharing, corpus_of, refuse_rules, stated
from everyline.corpora.counted import only
from everyline.corpora.errors import InputError

if TYPE_CHECKING:
    from everyline.practice.kept import RuleFile
    from everyline.practice.records import GivenLine
    from everyline.practice.store import Giving, Store
    from everyline.spaces.space import Space

MOST_GIVEN = 4
"""New lines unless another number is asked for."""
MOST_AT_ONCE = 500
WAYS = ("most", "numbers", "notes", "lesson")

Opener = Callable[[argparse.Namespace], "Store"]


def add(parser: argparse.ArgumentParser) -> None:
    """The options of ``give``."""
    add_rules(parser)
    group = parser.add_argument_group("which lines")
    group.add_argument(
        "--most", type=int, metavar="K", help=f"so many new ones, drawn by taste (default: {MOST_GIVEN})"
    )
    group.add_argument(
        "--seed",
        type=int,
        metavar="S",
        help="with --most: the same seed and the same lines had, the same lines",
    )
    group.add_argument("--numbers", nargs="+", type=int, metavar="N", help="or lines by their numbers")
    group.add_argument(
        "--notes", metavar="NOTES", help="or one by its notes, such as 'D4 F4 A4 C5:4', valid or not"
    )
    group.add_argument(
        "--lesson", type=Path, metavar="PATH", help="or all lines of a lesson file, without FILE"
    )
    parser.add_argument(
        "--title", type=str, default="", metavar="TEXT", help="a title (default: the rule file's)"
    )
    parser.add_argument("--on", metavar="DATE", help="the day, such as 2026-11-26 (default: today)")
    add_taste(parser)


def give(arguments: argparse.Namespace, opened: Opener) -> int:
    """Give lines; answers the exit code."""
    from everyline.cli.student import day

    _check(arguments)
    on = day(arguments.on)
    with bounded(arguments), opened(arguments) as store:
        name = store.student(arguments.name).name  # refuses who is not there before any work is done
        if arguments.lesson is not None:
            giving = _given(store, name, _lesson_lines(arguments, on))
        else:
            giving = _from_rules(arguments, store, name, on)
    for line in giving.already:
        say(f"{name} has that line already: it is line {line.place}.")
    for line in giving.given:
        number = "" if line.number is None else f", line {line.number}"
        print(f"{line.place}. {line.title}{number}\n   {line.notes}")
    return 0 if giving.given else NO


def _check(arguments: argparse.Namespace) -> None:
    """Raises InputError for options that do not go together."""
    ways = [way for way in WAYS if getattr(arguments, way) is not None]
    if len(ways) > 1:
        raise InputError(f"--{ways[0]} and --{ways[1]} do not go together; use one.")
    if arguments.most is not None and not 1 <= arguments.most <= MOST_AT_ONCE:
        raise InputError(f"--most {arguments.most}: it must be 1 to {MOST_AT_ONCE}.")
    if arguments.seed is not None and ways not in ([], ["most"]):
        raise InputError(f"--seed goes with --most; with --{ways[0]} nothing is drawn.")
    for option in ("own_rule", "allow_python", "look_at"):
        if getattr(arguments, option) not in (None, False):
            name = option.replace("_", "-")
            raise InputError(f"--{name}: a line cannot be kept with rules in Python; leave it out.")
    check_sharing(arguments, False)
    if arguments.lesson is not None:
        if arguments.file is not None:
            raise InputError(f"{arguments.file}: the lines of a lesson have their own rules; leave it out.")
        refuse_rules(arguments, "the lines of a lesson have rules of their own")


def _given(store: Store, name: str, lines: Sequence[GivenLine]) -> Giving:
    giving = store.give(name, lines)
    assert giving is not None, "only lines that were drawn for a folder can come too late"
    return giving


def _from_rules(arguments: argparse.Namespace, store: Store, name: str, on: date) -> Giving:
    from everyline.practice.kept import RuleFile
    from everyline.spaces.space import Space

    corpus = corpus_of(arguments)
    tables, called, path = stated(arguments)
    source = RuleFile.of(tables, called, corpus, path)
    space = with_taste(Space(source.rules), arguments, corpus)
    if arguments.notes is not None:
        return _copies_told(store, name, [_by_notes(arguments, source, space, on)])
    if not space.count:
        raise InputError(f"{called}: no line satisfies these rules; everyline why tells what excludes them.")
    if arguments.numbers is not None:
        lines = [source.line(space.line(number), on, arguments.title) for number in arguments.numbers]
        return _copies_told(store, name, lines)
    return _drawn(arguments, store, name, source, space, on)


def _drawn(
    arguments: argparse.Namespace, store: Store, name: str, source: RuleFile, space: Space, on: date
) -> Giving:
    """New lines drawn by taste. Where another program gives lines meanwhile, they are drawn again."""
    from everyline.practice.fresh import fresh
    from everyline.rules.annotate import annotate

    most = MOST_GIVEN if arguments.most is None else arguments.most
    taste = drawing(space)
    while True:
        had = store.student(name).lines
        found = fresh(space, had, most, 1 if arguments.seed is None else arguments.seed, taste)
        lines = [
            source.line(annotate(source.rules, line.events, line.number), on, arguments.title)
            for line in found.lines
        ]
        giving = store.give(name, lines, frozenset(line.tune for line in had))
        if giving is not None:
            break
    if len(lines) < most:
        left = f"{only(len(lines), 'line')} under these rules that {name} had not had"
        said = left if lines else f"{name} has had every line under these rules"
        say(f"{said} (a copy by octave or key counts as had); another rule file or wider rules have more.")
    return giving


def _copies_told(store: Store, name: str, lines: Sequence[GivenLine]) -> Giving:
    """Give lines of the teacher's choice; a copy of one that the student had is given too, and told."""
    before = store.student(name).lines
    giving = _given(store, name, lines)
    for line in giving.given:
        like = next((each for each in before if each.tune == line.tune and each.id != line.id), None)
        if like is not None:
            say(f"line {line.place} is a copy of line {like.place} by octave or key.")
    return giving


def _by_notes(arguments: argparse.Namespace, source: RuleFile, space: Space, on: date) -> GivenLine:
    """A line by its notes. One that is not valid is kept too, and it is told why it is not."""
    from everyline.reading import read_line
    from everyline.rules.annotate import annotate, unexplained
    from everyline.spaces.checking import likeliest

    read = read_line(arguments.notes, source.rules)
    for remark in read.remarks:
        say(remark)
    events, verdict = likeliest(space, read.candidates)
    number = space.number(events) if verdict.valid else None
    if number is not None:
        return source.line(annotate(source.rules, events, number), on, arguments.title)
    why = verdict.breaches[0].message if verdict.breaches else "it is none of its lines."
    say(f"the line is not valid under these rules, and is kept as it is: {why}")
    return source.line(unexplained(source.rules, events), on, arguments.title)


def _lesson_lines(arguments: argparse.Namespace, on: date) -> list[GivenLine]:
    from everyline.files.lessons import lesson_lines, read_lesson, rule_tables
    from everyline.practice.kept import RuleFile

    corpus, path = corpus_of(arguments), arguments.lesson
    found = []
    for kept, line in lesson_lines(read_lesson(path), corpus, path.parent, say):
        tables = rule_tables(kept, corpus, path.parent)
        file = None if kept.own_text else path.parent / kept.rules
        if file is not None and not file.is_file():
            file = corpus.rulefiles[kept.rules].path
        source = RuleFile.of(tables, kept.rules_name, corpus, file)
        found.append(source.line(line, on, kept.title or arguments.title))
    return found


def propose(arguments: argparse.Namespace, opened: Opener) -> int:
    """Tell where the student stands on the graded path, and what may come next; answers the exit code."""
    from everyline.corpora import load
    from everyline.practice.path import instrument_option, onward, standing

    with opened(arguments) as store:
        student = store.student(arguments.name)
    corpus = load(arguments.corpora)
    stands = standing(student, corpus)
    print(stands.words)
    if stands.present is None or not stands.is_ready:
        return NO
    entry = next(onward(student, stands.present, corpus), None)
    if entry is None:
        print("The course has no further rule file for this instrument.")
        return NO
    name = f'"{student.name}"' if " " in student.name else student.name
    print(
        f"Next: {entry.name}, level {entry.level} ({entry.title}).\n"
        f"  everyline student {name} give {entry.name}{instrument_option(student, entry)}"
    )
    return 0
