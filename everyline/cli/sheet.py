"""The command that prints lesson sheets, drill sets with their key, and one line in twelve keys."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

from everyline.cli.main import NO
from everyline.cli.messages import say
from everyline.cli.selection import Picked, add_choice, paper_options, picked, words
from everyline.cli.source import add_rules, bounded
from everyline.corpora.errors import InputError
from everyline.files.formats import score_options

LONG = 50
"""Exercises from which on a terminal is told how far the work is."""


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    add_rules(parser)
    parser.add_argument("--to", required=True, type=Path, metavar="PATH.pdf", help="the file to print to")
    parser.add_argument("--key-to", type=Path, metavar="PATH.pdf", help="the answers, on pages of their own")
    add_choice(parser)
    parser.add_argument("--paper", default="A4", help="A4 or Letter")
    parser.add_argument("--subtitle", default="", help="a line below the title")
    parser.add_argument("--remark", action="append", default=[], metavar="TEXT", help="a paragraph to print")
    parser.add_argument("--tempi", action="append", metavar="LIST", help="tempo boxes, such as 60,80,100")
    parser.add_argument("--explain", action="store_true", help="explain every line bar by bar in words")
    parser.add_argument("--twelve-keys", action="store_true", help="one line in all twelve keys on two pages")


def run(name: str, arguments: argparse.Namespace) -> int:
    """Print the sheet; answers the exit code."""
    for path in (arguments.to, arguments.key_to):
        if path is not None and path.suffix.lower() != ".pdf":
            raise InputError(f"{path}: a sheet is a .pdf file; everyline export writes other kinds.")
    if arguments.key_to is not None and arguments.key_to.resolve() == arguments.to.resolve():
        raise InputError(f"{arguments.to}: sheet and key cannot be one file; name another with --key-to.")
    if arguments.twelve_keys:
        for option in ("subtitle", "remark", "tempi", "explain", "fretboard"):
            if getattr(arguments, option):
                raise InputError(
                    f"--{option} has no room on the pages of --twelve-keys; leave one of them out."
                )
    with bounded(arguments):
        found = picked(arguments, arguments.explain)
        if found is None:
            say("no line satisfies these rules; nothing was written.")
            return NO
        _print(found, arguments)
    return 0


def _print(found: Picked, arguments: argparse.Namespace) -> None:
    from everyline.paper.sheet import Sheet, SheetOptions, twelve_key_sheet, write_sheet

    score = score_options(paper_options("", arguments))
    look = SheetOptions(paper=arguments.paper, score=score, colour=not arguments.black)
    if arguments.twelve_keys:
        if found.count != 1:
            raise InputError(f"--twelve-keys prints one line, not {found.count}: choose it with --numbers N.")
        sheet, look = twelve_key_sheet(next(found.exercises).line, found.title, look)
    else:
        sheet = Sheet(
            found.title or "Lines",
            found.exercises,
            subtitle=arguments.subtitle,
            remarks=tuple(filter(None, (found.remark, *arguments.remark))),
            tempi=tuple(_tempo(word) for word in words(arguments.tempi)),
        )
    write_sheet(arguments.to, sheet, look, key=arguments.key_to, progress=_progress(found.count))
    if arguments.key_to is not None and not arguments.key_to.exists():
        say("nothing is to be found here, so there is no key.")


def _tempo(word: str) -> int:
    if not word.isdecimal() or not 20 <= int(word) <= 400:
        raise InputError(f'--tempi "{word}": write whole beats a minute from 20 to 400, such as 60,80,100.')
    return int(word)


def _progress(total: int) -> Callable[[int], None] | None:
    """Tells on a terminal how many exercises are done."""
    if total < LONG or not sys.stderr.isatty():
        return None

    def tell(done: int) -> None:
        end = "\n" if done == total else ""
        print(f"\r{done} of {total}", end=end, file=sys.stderr, flush=True)

    return tell
