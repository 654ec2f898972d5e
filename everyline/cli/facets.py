"""The command ``facets``: how many lines remain for each choice of start note, figure, target, ending."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable
from typing import IO

from everyline.cli.main import NO
from everyline.cli.messages import say
from everyline.cli.source import add_rules, bounded, rules_of
from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError, did_you_mean
from everyline.solver.facets import KINDS, Facet, facets
from everyline.spaces.space import Space

BAR_WIDTH = 30


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of ``facets``."""
    add_rules(parser)
    parser.add_argument(
        "--only", metavar="NAME", action="append", help=f"one facet, may be repeated: {', '.join(KINDS)}"
    )
    parser.add_argument("--format", choices=("text", "jsonl"), default="text", help="how it is written")


def run(name: str, arguments: argparse.Namespace) -> int:
    """Count and write; answers the exit code, 1 where there is no line."""
    check_only(arguments, "facet", KINDS)
    with bounded(arguments):
        space = space_with_lines(arguments)
        if space is None:
            return NO
        found = facets(space.rules, space.diagram, arguments.only)
        if arguments.format == "jsonl":
            write_rows(found, sys.stdout)
        else:
            write_table(found, space.count, sys.stdout)
    return 0


def check_only(arguments: argparse.Namespace, what: str, kinds: Iterable[str]) -> None:
    """Raises InputError where --only names something else than these kinds."""
    kinds = list(kinds)
    for kind in arguments.only or ():
        if kind not in kinds:
            raise InputError(
                f'there is no {what} "{kind}"; there are {", ".join(kinds)}.{did_you_mean(kind, kinds)}'
            )


def space_with_lines(arguments: argparse.Namespace) -> Space | None:
    """The space that a command line states; None, and a sentence, where it has no line."""
    space = Space(rules_of(arguments))
    if space.count:
        return space
    say("no line satisfies these rules; everyline why says what excludes it.")
    return None


def write_rows(found: tuple[Facet, ...], out: IO[str]) -> None:
    """One JSON row for each value."""
    for facet in found:
        for value in facet.values:
            row = {"facet": facet.kind, "title": facet.title, "value": value.label, "count": value.count}
            out.write(json.dumps(row, ensure_ascii=False) + "\n")


def write_table(
    found: tuple[Facet, ...], count: int, out: IO[str], one: str = "line", many: str | None = None
) -> None:
    """A table for each facet: value, count, share of all lines or what else is counted, and a bar as long as
    the share."""
    out.write(f"{plural(count, one, many)}\n")
    for facet in found:
        out.write(f"\n{facet.kind}: {facet.title}\n")
        if facet.note:
            out.write(f"  {facet.note}\n")
        name = max(len(value.label) for value in facet.values)
        digits = max(len(str(value.count)) for value in facet.values)
        for value in facet.values:
            share = f"{share_of(value.count, count):>5} %"
            row = f"  {value.label:<{name}}  {value.count:>{digits}}  {share}  {bar(value.count, count)}"
            out.write(row.rstrip() + "\n")


def share_of(part: int, whole: int) -> str:
    """The share in percent, to a tenth; only nothing reads as 0.0 and only all as 100.0."""
    tenths = (part * 1000 + whole // 2) // whole
    if part and not tenths:
        return "<0.1"
    if part < whole and tenths == 1000:
        return ">99.9"
    return f"{tenths // 10}.{tenths % 10}"


def bar(part: int, whole: int) -> str:
    """A bar of blocks, BAR_WIDTH of them for the whole; a share of something shows at least a sliver."""
    eighths = max(1, part * BAR_WIDTH * 8 // whole) if part else 0
    full, rest = divmod(eighths, 8)
    return "█" * full + (" ▏▎▍▌▋▊▉"[rest] if rest else "")
