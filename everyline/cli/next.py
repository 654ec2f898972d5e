"""The command ``next``: what may come next in a line that is being written."""

from __future__ import annotations

import argparse
import json
import sys
from typing import IO

from everyline.cli.check import line_words
from everyline.cli.main import NO
from everyline.cli.messages import say
from everyline.cli.source import add_rules, bounded, rules_of
from everyline.corpora.counted import plural
from everyline.rules.line_text import format_line
from everyline.spaces.building import Built, NextStep, build
from everyline.spaces.space import Space
from everyline.spaces.why_not import why_not


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of ``next``."""
    add_rules(parser)
    parser.add_argument(
        "line", metavar="NOTES", nargs="*", help="the first notes, such as D4 F4; none for the first of all"
    )
    parser.add_argument(
        "--why",
        metavar="NOTE",
        help="why this note may not come next, such as Eb4, or how many lines go on from it",
    )
    parser.add_argument("--format", choices=("text", "jsonl"), default="text", help="how it is written")


def run(name: str, arguments: argparse.Namespace) -> int:
    """Write what may come next; answers the exit code, 1 where there is no line at all."""
    given = arguments.line or (arguments.changes is not None and arguments.file is not None)
    text = line_words(arguments, name) if given else ""
    with bounded(arguments):
        space = Space(rules_of(arguments))
        if not space.count:
            say("no line satisfies these rules; everyline why shows what excludes it.")
            return NO
        if arguments.why is not None:
            return _why(space, text, arguments)
        built = build(space, text)
        if arguments.format == "jsonl":
            for step in built.steps:
                sys.stdout.write(json.dumps(step.as_row(), ensure_ascii=False) + "\n")
        else:
            write(space, built, sys.stdout)
    return 0


def _why(space: Space, text: str, arguments: argparse.Namespace) -> int:
    """Say why a note may not come next; answers 1 where it may not."""
    found = why_not(space, text, arguments.why)
    if arguments.format == "jsonl":
        row = {"note": found.name, "place": found.place, "count": str(found.count), "why": found.sentence}
        print(json.dumps(row, ensure_ascii=False))
    else:
        print(found.sentence)
    return 0 if found.count else NO


def write(space: Space, built: Built, out: IO[str]) -> None:
    """The notes so far, then a row for each next note, by the place where it falls."""
    so_far = format_line(space.rules, built.beginning, built.names) if built.beginning else ""
    out.write(f"{so_far}: {plural(built.count, 'line')}\n" if so_far else f"{plural(built.count, 'line')}\n")
    if built.ends:
        out.write("The line may end here.\n")
    rows = [_row(step) for step in built.steps]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    place = ""
    for step, row in zip(built.steps, rows, strict=True):
        if step.place != place:
            place = step.place
            out.write(f"\n{place}, over {step.chord}\n")
        note, degree, count, words = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        out.write(f"  {note}  {degree}  {count.strip().rjust(widths[2])}  {words}".rstrip() + "\n")
    if built.ahead is not None:
        tones = " or ".join(built.ahead.names) or "none in the range"
        out.write(f"\n{built.ahead.chord} begins on {built.ahead.place}; from {built.names[-1]}: {tones}\n")


def _row(step: NextStep) -> tuple[str, str, str, str]:
    note = step.name if step.value == "8" else f"{step.name}:{step.value}"
    return note, step.degree, str(step.count), ", ".join(step.words)
