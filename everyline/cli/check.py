"""The command ``check``: whether a line is valid, which rule it breaks where, and the nearest valid lines."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import IO

from everyline.cli.main import NO
from everyline.cli.source import add_rules, bounded, rules_of
from everyline.cli.takes import add_take, check_take, is_take
from everyline.cli.typed import add_written, check_written
from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.rules.line_text import format_line
from everyline.rules.words import explain
from everyline.spaces.checking import Mended, Report, check
from everyline.spaces.space import Space
from everyline.text.drawing import draw

MOST_NEAREST = 1000


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of ``check``."""
    add_rules(parser)
    add_written(parser)
    parser.add_argument(
        "line",
        metavar="LINE",
        nargs="*",
        help="the notes, such as D4 F4 A4 C5:4, or a MusicXML or MIDI file, or a take with --tempo",
    )
    parser.add_argument(
        "--nearest", type=int, default=3, metavar="K", help="how many near valid lines to show (3)"
    )
    parser.add_argument("--format", choices=("text", "jsonl"), default="text", help="how it is written")
    add_take(parser)


def run(name: str, arguments: argparse.Namespace) -> int:
    """Judge the line; answers the exit code, 1 where it is not valid."""
    text = line_words(arguments, name)
    check_written(arguments, text)
    if not 0 <= arguments.nearest <= MOST_NEAREST:
        raise InputError(f"--nearest {arguments.nearest}: it must be from 0 to {MOST_NEAREST}.")
    with bounded(arguments):
        if is_take(arguments, text):
            return check_take(arguments, text, Space(rules_of(arguments)))
        report = check(Space(rules_of(arguments)), text, arguments.nearest)
        if arguments.format == "jsonl":
            sys.stdout.write(json.dumps(report.as_row(), ensure_ascii=False) + "\n")
        else:
            write_report(report, sys.stdout)
    return 0 if report.valid else NO


def line_words(arguments: argparse.Namespace, command: str) -> str:
    """The line as given. FILE may be left out beside --changes: the first bare word is then the line's."""
    if arguments.changes is not None and arguments.file is not None:
        if not arguments.line or not Path(arguments.file).exists():
            arguments.line.insert(0, arguments.file)
            arguments.file = None
    if not arguments.line:
        raise InputError(f"which line? Give its notes, such as: everyline {command} FILE D4 F4 A4 C5:4.")
    return " ".join(arguments.line)


def write_report(report: Report, out: IO[str]) -> None:
    """The report for a reader: verdict, remarks, the line as read, breaches, nearest lines."""
    out.write(_verdict(report) + "\n")
    for remark in report.remarks:
        out.write(f"  read: {remark}\n")
    if report.line is not None:
        heading, _, drawing = draw(report.line).partition("\n")
        out.write(f"\n{heading}\n{drawing}\n" if report.valid else f"\n{drawing}\n")
    if report.valid:
        assert report.line is not None
        out.write(f"\n{explain(report.line)}\n")
        return
    out.write("\n")
    for breach in report.verdict.breaches:
        out.write(f"- {report.where(breach.index)} ({breach.rule}): {breach.message}\n")
    if not report.space.count:
        out.write("\nNo line satisfies these rules, so none is near.\n")
    _write_nearest("Nearest lines, note for note", report.by_onset, out)
    _write_nearest("Nearest lines, notes added or left out", report.by_order, out)


def _verdict(report: Report) -> str:
    if report.valid:
        return f"valid: line {report.number} of {report.space.count}"
    count = len(report.verdict.breaches)
    if count == 1:
        return "not valid: it would be but for one breach"
    explained, size = report.verdict.explained, len(report.events)
    upto = (
        f"; the first {plural(explained, 'note')} of {size} can be explained" if 0 < explained < size else ""
    )
    return f"not valid: {count} breaches{upto}"


def _write_nearest(heading: str, found: tuple[Mended, ...], out: IO[str]) -> None:
    if not found:
        return
    out.write(f"\n{heading}\n")
    for mended in found:
        out.write(f"  line {mended.repair.number}: {mended.summary}\n    {_marked(mended)}\n")
        for words in mended.words:
            out.write(f"      {words}\n")


def _marked(mended: Mended) -> str:
    """The line as text that can be typed back, its new notes in brackets."""
    new = {change.found for change in mended.repair.changes} | set(mended.repair.lengths)
    names = [f"[{note.name}]" if place in new else note.name for place, note in enumerate(mended.line.notes)]
    return format_line(mended.line.rules, mended.line.events, names)
