"""The command that writes chosen lines to a file for other programs."""

from __future__ import annotations

import argparse
import re
from dataclasses import replace
from pathlib import Path

from everyline.cli import parquet
from everyline.cli.format_options import FOLDER, check_options
from everyline.cli.main import NO
from everyline.cli.messages import say
from everyline.cli.second_part import add_second_part, say_missing, second_parts
from everyline.cli.selection import add_choice, pace_of, paper_options, picked, stated, words
from everyline.cli.source import add_rules, bounded
from everyline.corpora.errors import InputError
from everyline.files.formats import FORMATS, ExportOptions, export, format_of
from everyline.sound.sound_options import SoundOptions, ladder


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    add_rules(parser)
    kinds = ", ".join(FORMATS)
    parser.add_argument(
        "--to", required=True, type=Path, metavar="PATH", help=f"the file; its suffix says what kind: {kinds}"
    )
    add_choice(parser)
    add_second_part(parser)
    add_sound(parser)
    parquet.add_options(parser)


def add_sound(parser: argparse.ArgumentParser) -> None:
    """The options that say how lines sound."""
    parser.add_argument(
        "--count-in", type=int, metavar="BARS", help="bars counted in before a line sounds (1)"
    )
    parser.add_argument("--repeats", type=int, metavar="K", help="how often each line is played (1)")
    parser.add_argument(
        "--loop",
        action="store_true",
        help="a sound without count-in whose end leads back to its beginning, to be played over and over",
    )
    parser.add_argument(
        "--ladder",
        metavar="FIRST-LAST/STEPS",
        help="a practice ladder of tempi in one file, such as 60-120/5",
    )
    parser.add_argument(
        "--mute",
        action="append",
        metavar="PART",
        help="parts to leave out: line, second, chords, bass, drums, click",
    )
    parser.add_argument(
        "--feel",
        metavar="FEEL",
        help="how the backing plays: by-meter (default), swing, ballad, waltz, bossa, eighths or plain",
    )
    parser.add_argument("--bass", metavar="STYLE", help="by-feel (default), walking or two-feel")
    parser.add_argument(
        "--backing-seed",
        type=int,
        metavar="S",
        help="draws the rhythms of the backing: 0 the usual ones (default: the line's number)",
    )


def run(name: str, arguments: argparse.Namespace) -> int:
    """Export the chosen lines; answers the exit code."""
    if parquet.is_asked(arguments):
        check_options(arguments, FOLDER)
        return parquet.run(arguments)
    format_of(arguments.to)
    check_options(arguments, arguments.to.suffix.lower())
    with bounded(arguments):
        found = picked(arguments, finish=second_parts(arguments))
        if found is None:
            say("no line satisfies these rules; nothing was written.")
            return NO
        exercises = list(found.exercises)
        options = export_options(found.title, arguments)
        if arguments.second_part is not None:
            say_missing(exercises)
            options = replace(options, seconds=tuple(exercise.second for exercise in exercises))
        export([exercise.line for exercise in exercises], arguments.to, options)
    return 0


def export_options(title: str, arguments: argparse.Namespace) -> ExportOptions:
    """What the options of ``add_look`` and ``add_sound`` say."""
    said = {**pace_of(arguments), **stated(arguments, "count_in", "repeats", "feel", "bass")}
    if arguments.ladder is not None:
        said["tempi"] = _ladder(arguments.ladder)
    sound = SoundOptions(
        mute=frozenset(words(arguments.mute)), loop=arguments.loop, seed=arguments.backing_seed, **said
    )
    return ExportOptions(title, paper_options(arguments), sound, not arguments.black)


def _ladder(text: str) -> tuple[float, ...]:
    found = re.fullmatch(r"(\d+(?:\.\d+)?)-(\d+(?:\.\d+)?)/(\d+)", text.strip())
    if found is None:
        raise InputError(f'--ladder "{text}": write first tempo, last tempo and steps, such as 60-120/5.')
    return ladder(float(found[1]), float(found[2]), int(found[3]))
