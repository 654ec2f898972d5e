"""The command ``tally``: how often each interval, degree and pitch comes in all lines together, how rough and
how long the lines are."""

from __future__ import annotations

import argparse
import csv
import io
import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from everyline.cli.facets import bar, check_only, share_of, space_with_lines
from everyline.cli.main import NO
from everyline.cli.source import add_rules, bounded
from everyline.corpora.counted import form, plural
from everyline.corpora.errors import InputError, did_you_mean
from everyline.files.writing import writing
from everyline.solver.tally import KINDS, Tally, tallies
from everyline.spaces.space import Space

LONGEST_HEADING = 42
CSV_COLUMNS = ("tally", "value", "number", "count", "of", "total")


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of ``tally``."""
    add_rules(parser)
    parser.add_argument(
        "--only", metavar="NAME", action="append", help=f"one tally, may be repeated: {', '.join(KINDS)}"
    )
    parser.add_argument("--format", choices=("text", "json", "csv"), help="how it is printed")
    parser.add_argument(
        "--to", type=Path, metavar="PATH", help=f"write to a file; its suffix says what: {', '.join(WRITERS)}"
    )


def run(name: str, arguments: argparse.Namespace) -> int:
    """Count and write; answers the exit code, 1 where there is no line."""
    check_only(arguments, "tally", KINDS)
    write = _writer(arguments)
    with bounded(arguments):
        space = space_with_lines(arguments)
        if space is None:
            return NO
        text = write(tallies(space.rules, space.diagram, arguments.only), space)
    if arguments.to is None:
        sys.stdout.write(text)
    else:
        with writing(arguments.to) as out:
            out.write(text)
    return 0


def _writer(arguments: argparse.Namespace) -> Callable[[Sequence[Tally], Space], str]:
    if arguments.to is None:
        return WRITERS[{"json": ".json", "csv": ".csv"}.get(arguments.format, ".txt")]
    suffix = arguments.to.suffix.lower()
    if arguments.format is not None:
        raise InputError("--format says how it is printed; with --to the file's suffix says it. Use one.")
    if suffix not in WRITERS:
        raise InputError(
            f'{arguments.to}: the suffix is one of {", ".join(WRITERS)}, and not "{suffix}".'
            f"{did_you_mean(suffix, WRITERS)}"
        )
    return WRITERS[suffix]


def as_text(found: Sequence[Tally], space: Space) -> str:
    """A table for each tally: value, count, share, and a bar as long as the share."""
    from everyline.paper.tally_chart import mean_in_words

    rows = [plural(space.count, "line")]
    for tally in found:
        mean = "" if tally.mean is None else f", mean {mean_in_words(tally)}"
        of = tally.of if tally.total != 1 else tally.of.removesuffix("s")
        rows += ["", f"{tally.kind}: {tally.title}", f"  {tally.total} {of}{mean}"]
        name = max((len(entry.label) for entry in tally.entries), default=0)
        digits = max((len(str(entry.count)) for entry in tally.entries), default=0)
        for entry in tally.entries:
            share = f"{share_of(entry.count, tally.total):>5} %"
            row = (
                f"  {entry.label:<{name}}  {entry.count:>{digits}}  {share}  {bar(entry.count, tally.total)}"
            )
            rows.append(row.rstrip())
    return "\n".join(rows) + "\n"


def as_json(found: Sequence[Tally], space: Space) -> str:
    """Everything as JSON. Counts are texts, since they may be larger than what many readers of JSON hold."""
    data = {
        "changes": " ".join(space.rules.progression.text.split()),
        "lines": str(space.count),
        "tallies": [
            {
                "tally": tally.kind,
                "title": tally.title,
                "of": tally.of,
                "total": str(tally.total),
                "mean": None if tally.mean is None else float(tally.mean),
                "values": [
                    {
                        "value": entry.label,
                        "number": entry.number,
                        "count": str(entry.count),
                        "share": entry.count / tally.total,
                    }
                    for entry in tally.entries
                ],
            }
            for tally in found
        ],
    }
    return json.dumps(data, indent=2, ensure_ascii=False) + "\n"


def as_csv(found: Sequence[Tally], space: Space) -> str:
    """A row for each value."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(CSV_COLUMNS)
    for tally in found:
        for entry in tally.entries:
            table.writerow((tally.kind, entry.label, entry.number, entry.count, tally.of, tally.total))
    return out.getvalue()


def as_svg(found: Sequence[Tally], space: Space) -> str:
    """A picture."""
    from everyline.paper.tally_chart import chart, in_words

    changes = " ".join(space.rules.progression.text.split())
    if len(changes) > LONGEST_HEADING:
        changes = changes[:LONGEST_HEADING].rsplit(" ", 1)[0] + " ..."
    return chart(found, f"{in_words(space.count)} {form(space.count, 'line')} over {changes}")


WRITERS: dict[str, Callable[[Sequence[Tally], Space], str]] = {
    ".svg": as_svg,
    ".txt": as_text,
    ".json": as_json,
    ".csv": as_csv,
}
"""For each suffix, what writes such a file."""
