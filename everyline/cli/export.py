"""The command that writes chosen lines to a file for other programs."""

from __future__ import annotations

import argparse
import re
import sys
from pathlib import Path

from corpora.errors import InputError
from everyline.cli.main import NO
from everyline.cli.source import add_rules, bounded, rules_of
from everyline.export import FORMATS, ExportOptions, export, writer
from everyline.space import Space

DEFAULT_MOST = 12
_NUMBERS = re.compile(r"(\d+)(?:-(\d+))?")


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    add_rules(parser)
    parser.add_argument(
        "--to",
        required=True,
        type=Path,
        metavar="PATH",
        help=f"the file; its suffix says what kind: {', '.join(FORMATS)}",
    )
    parser.add_argument(
        "--numbers",
        action="append",
        metavar="N",
        help=f"line numbers, such as 17 or 20-31 (1-{DEFAULT_MOST} unless said otherwise)",
    )
    parser.add_argument("--title", default="", help="a title to print")
    parser.add_argument("--tempo", type=float, default=120.0, metavar="BPM", help="beats a minute")
    parser.add_argument("--swing", default="by-tempo", help="by-tempo, straight, or a ratio such as 2:1")
    parser.add_argument("--staves", default="auto", help="auto, staff, tab or both")
    parser.add_argument("--no-labels", action="store_true", help="leave roles and degrees out")
    parser.add_argument("--concert", action="store_true", help="sounding pitch for a transposing instrument")
    parser.add_argument(
        "--count-in", type=int, default=1, metavar="BARS", help="bars counted in before a line sounds"
    )
    parser.add_argument(
        "--mute",
        action="append",
        metavar="PART",
        help="parts to leave out: line, chords, bass, click",
    )


def run(name: str, arguments: argparse.Namespace) -> int:
    """Export the chosen lines."""
    writer(arguments.to)
    with bounded(arguments):
        space = Space(rules_of(arguments))
        if not space.count:
            print("everyline: these rules leave no line, so there is nothing to export.", file=sys.stderr)
            return NO
        lines = [space.line(number) for number in chosen(arguments.numbers, space.count)]
        export(
            lines,
            arguments.to,
            ExportOptions(
                title=arguments.title or space.rules.title,
                tempo=arguments.tempo,
                swing=arguments.swing,
                staves=arguments.staves,
                labels=not arguments.no_labels,
                concert=arguments.concert,
                count_in=arguments.count_in,
                mute=frozenset(words(arguments.mute)),
            ),
        )
    return 0


def words(texts: list[str] | None) -> list[str]:
    """The words of an option that takes a list."""
    return [word for text in texts or () for word in text.replace(",", " ").split()]


def chosen(texts: list[str] | None, count: int) -> list[int]:
    """Line numbers as the user named them, in that order. Raises InputError for anything else."""
    if texts is None:
        return list(range(1, min(DEFAULT_MOST, count) + 1))
    found: list[int] = []
    for text in words(texts):
        match = _NUMBERS.fullmatch(text)
        first, last = (int(match[1]), int(match[2] or match[1])) if match else (0, 0)
        if not 1 <= first <= last <= count:
            raise InputError(f'--numbers "{text}": write numbers from 1 to {count}, such as 17 or 20-31.')
        found += range(first, last + 1)
    return found
