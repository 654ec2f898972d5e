"""The commands that write chosen lines to a file: for other programs, or as a printed sheet."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from corpora.errors import InputError
from everyline.cli.main import NO
from everyline.cli.source import add_rules, bounded, rules_of
from everyline.export import FORMATS, ExportOptions, export, score_options, writer
from everyline.space import Space
from rules.annotate import AnnotatedLine

DEFAULT_MOST = 12
_NUMBERS = re.compile(r"(\d+)(?:-(\d+))?")


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of one of these commands."""
    add_rules(parser)
    kinds = ", ".join(FORMATS) if name == "export" else ".pdf"
    parser.add_argument(
        "--to", required=True, type=Path, metavar="PATH", help=f"the file; its suffix says what kind: {kinds}"
    )
    parser.add_argument(
        "--numbers",
        action="append",
        metavar="N",
        help=f"line numbers, such as 17 or 20-31 (1-{DEFAULT_MOST} unless said otherwise)",
    )
    parser.add_argument("--title", default="", help="a title to print")
    parser.add_argument("--staves", default="auto", help="auto, staff, tab or both")
    parser.add_argument("--no-labels", action="store_true", help="leave roles and degrees out")
    parser.add_argument("--concert", action="store_true", help="sounding pitch for a transposing instrument")
    parser.add_argument("--black", action="store_true", help="no colour on paper and pictures")
    parser.add_argument("--tempo", type=float, default=120.0, metavar="BPM", help="beats a minute")
    parser.add_argument("--swing", default="by-tempo", help="by-tempo, straight, or a ratio such as 2:1")
    (_sound_options if name == "export" else _sheet_options)(parser)


def _sound_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--count-in", type=int, default=1, metavar="BARS", help="bars counted in before a line sounds"
    )
    parser.add_argument("--repeats", type=int, default=1, metavar="K", help="how often each line is played")
    parser.add_argument(
        "--ladder",
        metavar="FIRST-LAST/STEPS",
        help="a practice ladder of tempi in one file, such as 60-120/5",
    )
    parser.add_argument(
        "--mute", action="append", metavar="PART", help="parts to leave out: line, chords, bass, click"
    )


def _sheet_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--paper", default="A4", help="A4 or Letter")
    parser.add_argument("--subtitle", default="", help="a line below the title")
    parser.add_argument("--remark", action="append", default=[], metavar="TEXT", help="a paragraph to print")
    parser.add_argument("--tempi", action="append", metavar="LIST", help="tempo boxes, such as 60,80,100")
    parser.add_argument("--explain", action="store_true", help="explain every line bar by bar in words")
    parser.add_argument("--twelve-keys", action="store_true", help="one line in all twelve keys on two pages")


def run(name: str, arguments: argparse.Namespace) -> int:
    """Export the chosen lines, or print them."""
    if name == "export":
        writer(arguments.to)
    elif arguments.to.suffix.lower() != ".pdf":
        raise InputError(f"{arguments.to}: a sheet is a .pdf file; everyline export writes other kinds.")
    with bounded(arguments):
        space = Space(rules_of(arguments))
        if not space.count:
            print("everyline: these rules leave no line, so there is nothing to write.", file=sys.stderr)
            return NO
        numbers = chosen(arguments.numbers, space.count)
        lines = (space.line(number) for number in numbers)
        title = arguments.title or space.rules.title
        if name == "sheet":
            _sheet(lines, numbers, title, arguments)
        else:
            export(list(lines), arguments.to, _export_options(title, arguments))
    return 0


def _paper_options(title: str, arguments: argparse.Namespace) -> ExportOptions:
    return ExportOptions(
        title=title,
        tempo=arguments.tempo,
        swing=arguments.swing,
        staves=arguments.staves,
        labels=not arguments.no_labels,
        concert=arguments.concert,
        colour=not arguments.black,
    )


def _export_options(title: str, arguments: argparse.Namespace) -> ExportOptions:
    from dataclasses import replace

    return replace(
        _paper_options(title, arguments),
        count_in=arguments.count_in,
        repeats=arguments.repeats,
        mute=frozenset(words(arguments.mute)),
        ladder=_ladder(arguments.ladder),
    )


def _ladder(text: str | None) -> tuple[float, ...]:
    if text is None:
        return ()
    from everyline.sound.options import ladder

    found = re.fullmatch(r"(\d+(?:\.\d+)?)-(\d+(?:\.\d+)?)/(\d+)", text.strip())
    if found is None:
        raise InputError(f'--ladder "{text}": write first tempo, last tempo and steps, such as 60-120/5.')
    return ladder(float(found[1]), float(found[2]), int(found[3]))


def _sheet(
    lines: Iterator[AnnotatedLine], numbers: list[int], title: str, arguments: argparse.Namespace
) -> None:
    from everyline.paper.sheet import Exercise, Sheet, SheetOptions, twelve_key_sheet, write_sheet

    look = SheetOptions(
        paper=arguments.paper,
        score=score_options(_paper_options("", arguments)),
        colour=not arguments.black,
    )
    if arguments.twelve_keys:
        if len(numbers) != 1:
            raise InputError("--twelve-keys prints one line: choose it with --numbers N.")
        sheet, look = twelve_key_sheet(next(lines), title, look)
        write_sheet(arguments.to, sheet, look)
        return
    exercises = (Exercise(line, title=f"No. {line.number}", explain=arguments.explain) for line in lines)
    sheet = Sheet(
        title or "Lines",
        exercises,
        subtitle=arguments.subtitle,
        remarks=tuple(arguments.remark),
        tempi=tuple(_tempo(word) for word in words(arguments.tempi)),
    )
    write_sheet(arguments.to, sheet, look, progress=_progress(len(numbers)))


def _tempo(word: str) -> int:
    if not word.isdecimal() or not 20 <= int(word) <= 400:
        raise InputError(f'--tempi "{word}": write whole beats a minute from 20 to 400, such as 60,80,100.')
    return int(word)


def _progress(total: int) -> Callable[[int], None] | None:
    """Tells on a terminal how many exercises are done."""
    if total < 50 or not sys.stderr.isatty():
        return None

    def tell(done: int) -> None:
        end = "\n" if done == total else ""
        print(f"\r{done} of {total}", end=end, file=sys.stderr, flush=True)

    return tell


def words(texts: Iterable[str] | None) -> list[str]:
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
