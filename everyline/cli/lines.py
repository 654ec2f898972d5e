"""The commands that answer with lines: count, list, sample, show, number."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from contextlib import AbstractContextManager, nullcontext
from itertools import islice
from pathlib import Path
from typing import IO

from everyline.cli.main import NO
from everyline.cli.ordering import add_varied, check_varied
from everyline.cli.said import say
from everyline.cli.source import add_rules, bounded, rules_of
from everyline.cli.typed import add_written, check_written
from everyline.corpora.counted import only
from everyline.corpora.errors import InputError
from everyline.files import writing
from everyline.notes_only import Numbered, write_numbered, write_range
from everyline.rows import FORMATS, write_rows
from everyline.solver.sample import sample_numbers
from everyline.space import Space
from everyline.starts import first_notes

ENDLESS = 10**15
"""More lines than anybody will come to the end of: from here on, all of them are meant."""

ENGINES = ("diagram", "cp-sat", "backtracking")


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of one of these commands."""
    add_rules(parser)
    if name != "count":
        add_written(parser)
    if name in ("count", "list"):
        parser.add_argument("--engine", choices=ENGINES, help="which solver to use (default: diagram)")
        parser.add_argument("--verify", choices=ENGINES, help="a second solver that must agree")
    if name == "list":
        parser.add_argument(
            "--from", dest="first", type=int, default=1, metavar="N", help="number of the first line"
        )
        parser.add_argument(
            "--order", choices=("number", "smooth", "varied"), default="number", help="order of the lines"
        )
        add_varied(parser)
    if name in ("list", "sample"):
        parser.add_argument(
            "--most", type=int, required=name == "sample", metavar="K", help="at most so many lines"
        )
        parser.add_argument("--format", choices=FORMATS, default="text", help="how lines are written")
        parser.add_argument(
            "--notes-only",
            action="store_true",
            help="without roles, degrees and endings: no line is analysed, which is many times as fast",
        )
        parser.add_argument(
            "--output", type=Path, metavar="PATH", help="write to a file, which appears only when complete"
        )
    if name == "sample":
        parser.add_argument(
            "--seed", type=int, default=1, metavar="S", help="the same seed gives the same lines"
        )
    if name == "show":
        parser.add_argument("numbers", metavar="N", nargs="*", type=int, help="the line's number")
        parser.add_argument("--format", choices=FORMATS, default="text", help="how the line is written")
    if name == "number":
        parser.add_argument(
            "line",
            metavar="LINE",
            nargs="*",
            help="the notes, such as D4 F4 A4 C5:4, or a MusicXML or MIDI file",
        )


def run(name: str, arguments: argparse.Namespace) -> int:
    """Run one of these commands; answers the exit code."""
    _settle_words(name, arguments)
    if name != "count":
        check_written(arguments)
    for option in ("most", "first"):
        value = getattr(arguments, option, None)
        if value is not None and value < 1:
            raise InputError(f"--{'from' if option == 'first' else option} {value}: it must be 1 or more.")
    if name == "list":
        check_varied(arguments)
        if arguments.most is not None and arguments.most > ENDLESS:
            arguments.most = None
    with bounded(arguments):
        return {"count": _count, "list": _list, "sample": _sample, "show": _show, "number": _number}[name](
            arguments
        )


def _settle_words(name: str, arguments: argparse.Namespace) -> None:
    """FILE may be left out beside --changes: the first bare word is then the number or the line."""
    if name == "show":
        if arguments.file is not None and arguments.changes is not None and arguments.file.isdecimal():
            arguments.numbers.insert(0, int(arguments.file))
            arguments.file = None
        if not arguments.numbers:
            raise InputError("which line? Give its number, such as: everyline show FILE 17.")


def _none_left(space: Space) -> int:
    """Tell why there is nothing to show, as far as the start note explains it."""
    rules = space.rules
    able = first_notes(rules) if rules.entry.pitches is not None else ""
    if able:
        say(f"no line can start there; lines can start on {able}.")
    else:
        say("no line satisfies these rules.")
    return NO


def _count(arguments: argparse.Namespace) -> int:
    space = Space(rules_of(arguments))
    if arguments.engine or arguments.verify:
        count = _by_engines(arguments, space)
    else:
        count = space.count
    if not count:
        _none_left(space)
    print(count)
    return 0 if count else NO


def _by_engines(arguments: argparse.Namespace, space: Space) -> int:
    """Count with the engine asked for, and hold a second one against it."""
    from everyline.solver.contract import engine

    first = arguments.engine or "diagram"
    count: int = engine(first).count(space.rules)
    say(f"counted by {first}.")
    _verified(arguments, space, first)
    return count


def _verified(arguments: argparse.Namespace, space: Space, first: str) -> None:
    if arguments.verify:
        from everyline.solver.contract import verify

        verify(space.rules, first, arguments.verify)
        say(f"{arguments.verify} gives the same lines.")


def _listed_by(arguments: argparse.Namespace, space: Space) -> Iterable[Numbered]:
    """Lines in the order of their numbers, from the engine asked for."""
    first, most = arguments.first, arguments.most
    if arguments.engine in (None, "diagram"):
        return islice(enumerate(space.diagram.walk(first), first), most)
    from everyline.solver.contract import engine

    say(f"listed by {arguments.engine}.")
    last = None if most is None else first - 1 + most
    return islice(enumerate(engine(arguments.engine).lines(space.rules), 1), first - 1, last)


def _list(arguments: argparse.Namespace) -> int:
    space = Space(rules_of(arguments))
    if not space.count:
        return _none_left(space)
    _verified(arguments, space, arguments.engine or "diagram")
    if arguments.first > space.count:
        raise InputError(f"--from {arguments.first}: the lines are numbered from 1 to {space.count}.")
    if arguments.order != "number":
        lines = _ordered(space, arguments)
    elif arguments.notes_only and arguments.engine in (None, "diagram"):
        most = space.count if arguments.most is None else arguments.most
        last = min(space.count, arguments.first - 1 + most)
        with _out(arguments) as out:
            write_range(space, arguments.first, last, arguments.format, out)
        return 0
    else:
        lines = _listed_by(arguments, space)
    _write(lines, arguments, space)
    return 0


def _ordered(space: Space, arguments: argparse.Namespace) -> Iterable[Numbered]:
    """Lines by smoothness or variety; ``--from`` then counts places in that order."""
    if arguments.order == "smooth":
        ranked = space.ranked()
    else:
        from everyline.cli.ordering import varied_lines

        ranked = varied_lines(space, arguments)
    first = min(arguments.first - 1, ENDLESS)
    part = islice(ranked, first, None if arguments.most is None else first + arguments.most)
    return ((line.number, line.events) for line in part)


def _sample(arguments: argparse.Namespace) -> int:
    space = Space(rules_of(arguments))
    if not space.count:
        return _none_left(space)
    if arguments.most > space.count:
        say(f"{only(space.count, 'line')}; all follow.")
    numbers = sample_numbers(space.count, arguments.most, arguments.seed)
    _write(((number, space.diagram.line(number)) for number in numbers), arguments, space)
    return 0


def _show(arguments: argparse.Namespace) -> int:
    space = Space(rules_of(arguments))
    if not space.count:
        return _none_left(space)
    lines = [space.line(number) for number in arguments.numbers]
    write_rows(lines, arguments.format, sys.stdout, space.count)
    return 0


def _number(arguments: argparse.Namespace) -> int:
    from everyline.check import likeliest
    from everyline.cli.check import line_words
    from everyline.reading import read_line

    text = line_words(arguments, "number")
    check_written(arguments, text)
    space = Space(rules_of(arguments))
    read = read_line(text, space.rules)
    for remark in read.remarks:
        say(remark)
    events, verdict = likeliest(space, read.candidates)
    number = space.number(events) if verdict.valid else None
    if number is None:
        say(verdict.breaches[0].message if verdict.breaches else "the line is not one of these lines.")
        return NO
    print(number)
    return 0


def _write(lines: Iterable[Numbered], arguments: argparse.Namespace, space: Space) -> None:
    with _out(arguments) as out:
        if arguments.notes_only:
            write_numbered(space.rules, lines, arguments.format, out)
        else:
            write_rows(space.shown(lines), arguments.format, out, space.count)


def _out(arguments: argparse.Namespace) -> AbstractContextManager[IO[str]]:
    """Where lines are written to: standard output, or a file that appears when it is complete."""
    return nullcontext(sys.stdout) if arguments.output is None else writing(arguments.output)
