"""The commands that answer with lines: count, list, sample, show, number."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable
from contextlib import AbstractContextManager, nullcontext
from itertools import islice
from pathlib import Path
from typing import IO

from everyline.cli.by_taste import add_taste, space_of, temperature_of
from everyline.cli.main import NO
from everyline.cli.messages import say, say_at_end
from everyline.cli.ordering import (
    ENDLESS,
    ORDERS,
    add_varied,
    check_varied,
    exact_lines,
    ordered,
    picked,
    varied_lines,
)
from everyline.cli.source import add_rules, bounded, rules_of
from everyline.cli.typed import add_written, check_written
from everyline.corpora.counted import only, plural
from everyline.corpora.errors import InputError
from everyline.files.writing import writing
from everyline.solver.picking import MOST_PICKED
from everyline.solver.sample import sample_numbers
from everyline.spaces.space import Space
from everyline.spaces.starts import first_notes
from everyline.text.drawing import draw
from everyline.text.notes_only import Numbered, write_numbered, write_range
from everyline.text.rows import FORMATS, write_rows

LARGE = 1_500_000
"""Bits of a count, times nodes of its diagram, up to which stranger lines are counted without being asked."""

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
        parser.add_argument("--from", dest="first", type=int, metavar="N", help="number of the first line")
        parser.add_argument(
            "--order",
            choices=ORDERS,
            help="by number, the smoothest first, the least strange first, or unlike each other (default: "
            "number; on a terminal, and without --most, a few that were picked)",
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
    if name in ("list", "sample", "show"):
        add_taste(parser, draws=name == "sample")
    if name == "show":
        parser.add_argument("numbers", metavar="N", nargs="*", type=int, help="the line's number")
        parser.add_argument("--format", choices=FORMATS, default="text", help="how the line is written")
        parser.add_argument(
            "--fretboard",
            choices=("right", "left"),
            help="with the fretboard below: right or left, the hand that plucks",
        )
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
    if name == "sample":
        _check_drawing(arguments)
    with bounded(arguments):
        return {"count": _count, "list": _list, "sample": _sample, "show": _show, "number": _number}[name](
            arguments
        )


def _check_drawing(arguments: argparse.Namespace) -> None:
    """Raises InputError for an option that says how to draw by taste, where none is named."""
    for option in ("temperature", "fitted"):
        if getattr(arguments, option) not in (None, False) and arguments.taste is None:
            raise InputError(f"--{option} goes with --taste NAME, which draws lines by taste; add that.")
    temperature_of(arguments)


def _settle_words(name: str, arguments: argparse.Namespace) -> None:
    """FILE may be left out beside --changes: the first bare word is then the number or the line."""
    if name == "show":
        if arguments.file is not None and arguments.changes is not None and arguments.file.isdecimal():
            arguments.numbers.insert(0, int(arguments.file))
            arguments.file = None
        if arguments.fretboard is not None and arguments.format != "text":
            raise InputError(
                f"--fretboard is for text, and --format {arguments.format} is data; everyline export "
                "--fretboard draws it."
            )
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
    first, most = arguments.first or 1, arguments.most
    if arguments.engine in (None, "diagram"):
        return ordered(space, "number", first, most)
    from everyline.solver.contract import engine

    say(f"listed by {arguments.engine}.")
    last = None if most is None else first - 1 + most
    return islice(enumerate(engine(arguments.engine).lines(space.rules), 1), first - 1, last)


def _list(arguments: argparse.Namespace) -> int:
    space = space_of(arguments)
    if not space.count:
        return _none_left(space)
    if _is_a_first_look(arguments):
        return _first_look(space, arguments)
    _verified(arguments, space, arguments.engine or "diagram")
    first = arguments.first or 1
    if first > space.count:
        raise InputError(f"--from {first}: the lines are numbered from 1 to {space.count}.")
    if arguments.order not in (None, "number"):
        lines = _ordered(space, arguments, first)
    elif arguments.notes_only and arguments.engine in (None, "diagram"):
        most = space.count if arguments.most is None else arguments.most
        with _out(arguments) as out:
            write_range(space, first, min(space.count, first - 1 + most), arguments.format, out)
        return 0
    else:
        lines = _listed_by(arguments, space)
    _write(lines, arguments, space)
    return 0


def _is_a_first_look(arguments: argparse.Namespace) -> bool:
    """Whether somebody at a terminal asks for no lines in particular: then all of them are hardly meant."""
    said = (arguments.order, arguments.most, arguments.first, arguments.engine, arguments.verify)
    return (
        all(each is None for each in (*said, arguments.output))
        and arguments.format == "text"
        and not arguments.notes_only
        and sys.stdout.isatty()
    )


def _first_look(space: Space, arguments: argparse.Namespace) -> int:
    """A few lines, how many there are, and how to have them all."""
    found = picked(space, MOST_PICKED)
    _write(((line.number, line.events) for line in found.lines), arguments, space)
    if len(found.lines) < space.count:
        say_at_end(
            f"these are {len(found.lines)} of {plural(space.count, 'line')}; --order number lists all of "
            "them, --most K so many."
        )
    return 0


def _ordered(space: Space, arguments: argparse.Namespace, first: int) -> Iterable[Numbered]:
    """Lines in another order; ``--from`` then counts places in that order."""
    if arguments.exact:
        start = min(first - 1, ENDLESS)
        return islice(exact_lines(space, arguments), start, None)
    if arguments.pool is not None:
        wanted = None if arguments.most is None else first - 1 + arguments.most
        found = islice(varied_lines(space, wanted, arguments.pool), first - 1, wanted)
        return ((line.number, line.events) for line in found)
    return ordered(space, arguments.order, first, arguments.most)


def _sample(arguments: argparse.Namespace) -> int:
    space = space_of(arguments)
    if not space.count:
        return _none_left(space)
    if arguments.most > space.count:
        say(f"{only(space.count, 'line')}; all follow.")
    lines: Iterable[Numbered]
    if arguments.taste is None:
        numbers = sample_numbers(space.count, arguments.most, arguments.seed)
        lines = ((number, space.diagram.line(number)) for number in numbers)
    else:
        drawn = space.drawn(arguments.seed, temperature_of(arguments))
        lines = ((line.number, line.events) for line in islice(drawn, min(space.count, arguments.most)))
    _write(lines, arguments, space)
    return 0


def _show(arguments: argparse.Namespace) -> int:
    space = space_of(arguments)
    if not space.count:
        return _none_left(space)
    lines = [space.line(number) for number in arguments.numbers]
    if arguments.format == "csv":
        write_rows(lines, arguments.format, sys.stdout, space.count)
        return 0
    counts = space.diagram.count.bit_length() * len(space.diagram.labels) <= LARGE
    for place, line in enumerate(lines):
        stranger = space.stranger(line.strangeness) if counts else None
        if arguments.format == "jsonl":
            print(json.dumps({**line.as_row(), "stranger": stranger}, ensure_ascii=False))
            continue
        head, _, music = draw(line, space.count).partition("\n")
        print(("\n" if place else "") + "\n".join([head, *_how_strange(space, stranger), music]))
        if arguments.fretboard is not None:
            from everyline.paper.neck_text import neck_text

            print(f"\n{neck_text(line, arguments.fretboard == 'left')}")
    if not counts:
        say(
            "how many lines are stranger is not counted here, as that would take long over so many; "
            "everyline tally --only strangeness counts all."
        )
    return 0


def _how_strange(space: Space, stranger: int | None) -> list[str]:
    """How many lines are stranger than one, in words; nothing where they were not counted."""
    from everyline.cli.facets import share_of

    if stranger is None:
        return []
    return [f"{stranger} of {plural(space.count, 'line')} are stranger ({share_of(stranger, space.count)} %)"]


def _number(arguments: argparse.Namespace) -> int:
    from everyline.cli.check import line_words
    from everyline.reading import read_line
    from everyline.spaces.checking import likeliest

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
            write_numbered(space.rules, lines, arguments.format, out, space.taste)
        else:
            write_rows(space.shown(lines), arguments.format, out, space.count)


def _out(arguments: argparse.Namespace) -> AbstractContextManager[IO[str]]:
    """Where lines are written to: standard output, or a file that appears when it is complete."""
    return nullcontext(sys.stdout) if arguments.output is None else writing(arguments.output)
