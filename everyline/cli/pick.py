"""The command ``pick``: a few lines to hand out, the least strange that are unlike each other."""

from __future__ import annotations

import argparse
import sys
from contextlib import nullcontext
from pathlib import Path

from everyline.cli.by_taste import add_taste, with_taste
from everyline.cli.main import NO
from everyline.cli.messages import say
from everyline.cli.ordering import picked
from everyline.cli.source import (
    add_rules,
    bounded,
    corpus_of,
    find_rule_file,
    own_rules_of,
    rules_of,
)
from everyline.cli.typed import add_written, check_written
from everyline.corpora import read_toml
from everyline.corpora.errors import InputError
from everyline.files.writing import writing
from everyline.solver.picking import MOST_PICKED, POOL
from everyline.spaces.space import Space
from everyline.text.rows import FORMATS, write_rows


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of ``pick``."""
    add_rules(parser)
    add_written(parser)
    parser.add_argument(
        "--most",
        type=int,
        default=MOST_PICKED,
        metavar="K",
        help=f"so many lines (default: {MOST_PICKED})",
    )
    parser.add_argument(
        "--pool",
        type=int,
        metavar="N",
        help=f"choose from N lines drawn by taste (default: {POOL}, and more where too few of "
        "them are unlike each other)",
    )
    parser.add_argument(
        "--seed", type=int, default=1, metavar="S", help="the same seed draws the same lines (1)"
    )
    parser.add_argument("--format", choices=FORMATS, default="text", help="how lines are written")
    parser.add_argument(
        "--output", type=Path, metavar="PATH", help="write to a file, which appears only when complete"
    )
    add_taste(parser)


def run(name: str, arguments: argparse.Namespace) -> int:
    """Pick and show; answers the exit code."""
    check_written(arguments)
    if arguments.most < 1:
        raise InputError(f"--most {arguments.most}: it must be 1 or more.")
    if arguments.pool is not None and arguments.pool < arguments.most:
        raise InputError(
            f"--pool {arguments.pool}: it must hold as many lines as are asked for, {arguments.most} or more."
        )
    with bounded(arguments):
        space = with_taste(_space(arguments), arguments, corpus_of(arguments))
        if not space.count:
            say("no line satisfies these rules.")
            return NO
        found = picked(space, arguments.most, arguments.pool, arguments.seed)
        lines = space.shown((line.number, line.events) for line in found.lines)
        out = nullcontext(sys.stdout) if arguments.output is None else writing(arguments.output)
        with out as file:
            write_rows(lines, arguments.format, file, space.count)
    return 0


def _space(arguments: argparse.Namespace) -> Space:
    """The lines of a rule file, or the choruses of a plan file."""
    if arguments.file is not None:
        path = find_rule_file(arguments.file, corpus_of(arguments))
        if path.is_file() and "phrase" in read_toml(path):
            from everyline.rules.chorus_file import load_plan_file
            from everyline.spaces.choruses import Chorus

            return Chorus(load_plan_file(path, corpus_of(arguments), own_rules=own_rules_of(arguments)))
    return Space(rules_of(arguments))
