"""The command that prints lesson sheets, drill sets with their key, and one line in twelve keys."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import replace
from itertools import chain, repeat
from pathlib import Path
from typing import TYPE_CHECKING, Any

from everyline.cli.main import NO
from everyline.cli.messages import say
from everyline.cli.progress import progress
from everyline.cli.second_part import add_second_part, second_parts
from everyline.cli.selection import Picked, add_choice, pace_of, paper_options, picked, words
from everyline.cli.source import add_rules, bounded
from everyline.corpora.errors import InputError
from everyline.files.formats import STUDENT
from everyline.text.plain_rules import plain_rules

if TYPE_CHECKING:
    from everyline.paper.sheet import SheetExercise

MOST_OWN = 200
"""Staves for lines of one's own that a sheet has at most."""

NOT_FOR_STUDENTS = (
    "key-to", "twelve-keys", "explain", "large-print", "per-page", "own", "slashes", "own-only", "key-at-end",
    "contents", "author", "rights", "footer", "student", "week", "with-rules", "tempi",
)  # fmt: skip
NOT_IN_TWELVE_KEYS = (
    "subtitle", "remark", "tempi", "explain", "fretboard", "with-rules", "contents", "own", "per-page",
    "large-print", "second-part",
)  # fmt: skip


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    add_rules(parser)
    parser.add_argument(
        "--to",
        required=True,
        type=Path,
        metavar="PATH",
        help="the .pdf file to print to, or one .html file for the student",
    )
    parser.add_argument("--key-to", type=Path, metavar="PATH.pdf", help="the answers, on pages of their own")
    add_choice(parser)
    parser.add_argument("--explain", action="store_true", help="explain every line bar by bar in words")
    parser.add_argument("--twelve-keys", action="store_true", help="one line in all twelve keys on two pages")
    add_second_part(parser)
    _add_page(parser)
    _add_head(parser)


def _add_page(parser: argparse.ArgumentParser) -> None:
    """The options that say how pages are filled."""
    group = parser.add_argument_group("the page")
    group.add_argument("--paper", default="A4", help="A3, A4, A5 or Letter")
    group.add_argument("--large-print", action="store_true", help="large staves and words, for weak eyes")
    group.add_argument(
        "--per-page", type=int, metavar="N", help="so many lines on every page, such as 6 or 8"
    )
    group.add_argument("--own", type=int, metavar="N", help="after the lines, N staves to write one's own on")
    group.add_argument("--slashes", action="store_true", help="with --own: a slash on every beat")
    group.add_argument("--own-only", action="store_true", help="with --own: nothing but these staves")
    group.add_argument("--key-at-end", action="store_true", help="the answers on the last pages of the sheet")
    group.add_argument("--contents", action="store_true", help="a list of the lines with their pages")


def _add_head(parser: argparse.ArgumentParser) -> None:
    """The options that say what stands at the head and the foot of the page."""
    group = parser.add_argument_group("head and foot")
    texts = {
        "subtitle": ("TEXT", "a line below the title"),
        "author": ("NAME", "who made the sheet"),
        "rights": ("TEXT", "who may copy it, at the foot of each page"),
        "footer": ("TEXT", "words at the foot of each page"),
        "student": ("NAME", "the student's name, filled in"),
        "week": ("TEXT", "the week, filled in"),
    }
    for option, (metavar, meaning) in texts.items():
        group.add_argument(f"--{option}", type=str, default="", metavar=metavar, help=meaning)
    group.add_argument(
        "--remark", type=str, action="append", default=[], metavar="TEXT", help="a paragraph to print"
    )
    group.add_argument("--with-rules", action="store_true", help="the rules of the lines in plain words")
    group.add_argument("--tempi", action="append", metavar="LIST", help="tempo boxes, such as 60,80,100")


def run(name: str, arguments: argparse.Namespace) -> int:
    """Print the sheet; answers the exit code."""
    if arguments.to.suffix.lower() == STUDENT:
        return _for_student(arguments)
    for path in (arguments.to, arguments.key_to):
        if path is not None and path.suffix.lower() != ".pdf":
            raise InputError(
                f"{path}: a sheet is a .pdf file, or .html for a student; everyline export writes others."
            )
    if arguments.key_to is not None and arguments.key_to.resolve() == arguments.to.resolve():
        raise InputError(f"{arguments.to}: sheet and key cannot be one file; name another with --key-to.")
    if arguments.twelve_keys:
        for option in NOT_IN_TWELVE_KEYS:
            if getattr(arguments, option.replace("-", "_")):
                raise InputError(
                    f"--{option} has no room on the pages of --twelve-keys; leave one of them out."
                )
    if arguments.own is None and (arguments.slashes or arguments.own_only):
        raise InputError("--slashes and --own-only go with --own N, which says how many staves.")
    if arguments.own is not None and not 1 <= arguments.own <= MOST_OWN:
        raise InputError(f"--own {arguments.own}: write how many staves, 1 to {MOST_OWN}.")
    with bounded(arguments):
        found = picked(arguments, arguments.explain, second_parts(arguments))
        if found is None:
            say("no line satisfies these rules; nothing was written.")
            return NO
        _print(found, arguments)
    return 0


def _for_student(arguments: argparse.Namespace) -> int:
    """One HTML file with music, sound, and answers on demand."""
    for option in NOT_FOR_STUDENTS:
        if getattr(arguments, option.replace("-", "_")):
            raise InputError(f"--{option} is for pages of a .pdf file; leave it out of {arguments.to}.")
    with bounded(arguments):
        found = picked(arguments, finish=second_parts(arguments))
        if found is None:
            say("no line satisfies these rules; nothing was written.")
            return NO
        from everyline.handout.write import HandoutOptions, handout, write_handout
        from everyline.sound.sound_options import SoundOptions

        sound = SoundOptions(**pace_of(arguments))
        options = HandoutOptions(paper_options(arguments), not arguments.black, sound)
        remark = " ".join(filter(None, (arguments.subtitle, found.remark, *arguments.remark)))
        write_handout(arguments.to, handout(found.title or "Lines", found.exercises, remark, options))
    return 0


def _print(found: Picked, arguments: argparse.Namespace) -> None:
    from everyline.paper.sheet import Sheet, SheetOptions, twelve_key_sheet, write_sheet

    score = paper_options(arguments)
    look = SheetOptions(
        paper=arguments.paper,
        score=score,
        colour=not arguments.black,
        large=arguments.large_print,
        per_page=arguments.per_page,
    )
    if arguments.twelve_keys:
        if found.count != 1:
            raise InputError(f"--twelve-keys prints one line, not {found.count}: choose it with --numbers N.")
        sheet, look = twelve_key_sheet(next(found.exercises).line, found.title, look)
        sheet = replace(sheet, **_said(arguments))
    else:
        exercises, rules = _with_own(found.exercises, arguments)
        sheet = Sheet(
            found.title or "Lines",
            exercises,
            subtitle=arguments.subtitle,
            remarks=tuple(filter(None, (found.remark, *arguments.remark))),
            rules=rules,
            tempi=tuple(_tempo(word) for word in words(arguments.tempi)),
            contents=arguments.contents,
            key_at_end=arguments.key_at_end,
            **_said(arguments),
        )
    told = progress("exercises set")
    write_sheet(
        arguments.to, sheet, look, key=arguments.key_to, progress=lambda done: told(done, found.count)
    )
    if arguments.key_to is not None and not arguments.key_to.exists():
        say("nothing is to be found here, so there is no key.")


def _said(arguments: argparse.Namespace) -> dict[str, Any]:
    """What the options say of author and student."""
    return {name: getattr(arguments, name) for name in ("author", "rights", "footer", "student", "week")}


def _with_own(
    exercises: Iterator[SheetExercise], arguments: argparse.Namespace
) -> tuple[Iterator[SheetExercise], tuple[str, ...]]:
    """The exercises, with staves for one's own lines where they are asked for, and the rules in words."""
    first = next(exercises, None)
    if first is None:
        return exercises, ()
    rules = first.line.rules
    given = () if arguments.own_only else chain([first], exercises)
    said = plain_rules(rules) if arguments.with_rules else ()
    if arguments.own is None:
        return iter(given), said
    from everyline.paper.blanks import own_line
    from everyline.paper.sheet import SheetExercise

    line = own_line(rules)
    own = SheetExercise(
        line,
        title="A line of your own",
        blanks=frozenset(range(len(line.notes))),
        labels=False,
        own="slashes" if arguments.slashes else "bare",
    )
    return chain(given, repeat(own, arguments.own)), said


def _tempo(word: str) -> int:
    if not word.isdecimal() or not 20 <= int(word) <= 400:
        raise InputError(f'--tempi "{word}": write whole beats a minute from 20 to 400, such as 60,80,100.')
    return int(word)
