"""The part of the export command that writes a whole set of lines as a folder of Parquet files."""

from __future__ import annotations

import argparse
import re

from everyline.cli.format_options import FOLDER
from everyline.cli.main import NO
from everyline.cli.messages import say
from everyline.cli.progress import progress
from everyline.cli.source import bounded, rules_of, without
from everyline.corpora.errors import InputError
from everyline.spaces.space import Space

_RANGE = re.compile(r"(\d+)(?:-(\d+))?")


def add_options(parser: argparse.ArgumentParser) -> None:
    """The options that only a folder of Parquet files has."""
    group = parser.add_argument_group(
        f"a folder of Parquet files (PATH ends in {FOLDER}); all lines, or one range of --numbers; columns "
        "are number, roughness, notes, and facets: first and last note, range, largest leap, positions ..."
    )
    group.add_argument(
        "--format", choices=("parquet",), help=f"write one even where PATH does not end in {FOLDER}"
    )
    group.add_argument("--part-lines", type=int, metavar="K", help="lines of one file")
    group.add_argument(
        "--roles",
        action="store_true",
        help="with roles, figures, targets, handoffs and endings: each line is analysed, which is slow",
    )


def is_asked(arguments: argparse.Namespace) -> bool:
    """Whether a folder of Parquet files is asked for."""
    return arguments.format is not None or arguments.to.suffix.lower() == FOLDER


def run(arguments: argparse.Namespace) -> int:
    """Export the lines; answers the exit code."""
    try:
        from everyline.parallel.parquet import Runner, export, one_by_one
        from everyline.parallel.parts import PART_LINES
    except ModuleNotFoundError as error:
        raise without(error) from None
    for option in ("order", "pick", "sample", "most", "seed", "taste", "fitted", "temperature"):
        if getattr(arguments, option) not in (None, False):
            raise InputError(f"--{option} is for single files; Parquet files have all lines, by number.")
    with bounded(arguments) as cluster:
        space = Space(rules_of(arguments, shares_work=True))
        if not space.count:
            say("no line satisfies these rules; nothing was written.")
            return NO
        first, last = _range(arguments.numbers, space.count)
        runner: Runner = one_by_one
        if cluster is not None:
            from everyline.parallel.cluster import on_cluster

            cluster.connect()  # before anything is written
            runner = on_cluster(cluster)
        export(
            space.rules,
            arguments.to,
            first=first,
            last=last,
            part_lines=PART_LINES if arguments.part_lines is None else arguments.part_lines,
            roles=arguments.roles,
            diagram=space.diagram,
            runner=runner,
            progress=progress("lines written"),
            remark=say,
        )
    return 0


def _range(texts: list[str] | None, count: int) -> tuple[int, int]:
    if texts is None:
        return 1, count
    match = _RANGE.fullmatch(" ".join(texts).strip())
    first, last = (int(match[1]), int(match[2] or match[1])) if match else (0, 0)
    if not 1 <= first <= last <= count:
        raise InputError(f'--numbers "{" ".join(texts)}": write one range from 1 to {count}, such as 20-31.')
    return first, last
