"""The plan of an export: which lines, cut into which parts. It decides every byte that is written."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass

from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.parallel.table_columns import FORMAT
from everyline.rules.canonical import fingerprint
from everyline.rules.ruleset import Rules

PART_LINES = 1 << 21
MOST_PART_LINES, MOST_PARTS = 10**8, 999_999
"""A larger file serves no reader, and the names of the parts have six digits."""


@dataclass(frozen=True, slots=True)
class ExportPart:
    """Lines ``first`` to ``last``, in a file of that name."""

    name: str
    first: int
    last: int

    @property
    def lines(self) -> int:
        """How many lines."""
        return self.last + 1 - self.first


@dataclass(frozen=True, slots=True)
class ExportPlan:
    """``space`` is the fingerprint of the rules; ``writer`` what writes Parquet, since another version of it
    may write other bytes."""

    space: str
    first: int
    last: int
    part_lines: int
    roles: bool
    writer: str
    format: int = FORMAT

    def parts(self) -> Iterator[ExportPart]:
        """The parts in order."""
        starts = range(self.first, self.last + 1, self.part_lines)
        for place, first in enumerate(starts, 1):
            yield ExportPart(f"part-{place:06}.parquet", first, min(first + self.part_lines - 1, self.last))

    def text(self) -> str:
        """The plan as it is kept in the folder."""
        return json.dumps(asdict(self), indent=2) + "\n"


def make_plan(
    rules: Rules, count: int, first: int, last: int | None, part_lines: int, roles: bool
) -> ExportPlan:
    """The plan for lines ``first`` to ``last`` of ``count``. Raises InputError for lines there are not."""
    import pyarrow

    last = count if last is None else last
    if not 1 <= first <= last <= count:
        raise InputError(
            f"lines {first} to {last} cannot be exported; the lines are numbered from 1 to {count}."
        )
    if not 1 <= part_lines <= MOST_PART_LINES:
        raise InputError(
            f"a part of {plural(part_lines, 'line')} cannot be written; give 1 to {MOST_PART_LINES}."
        )
    parts = -((first - 1 - last) // part_lines)
    if parts > MOST_PARTS:
        raise InputError(
            f"{last + 1 - first} lines are {parts} parts of {part_lines}, and {MOST_PARTS} are the most; "
            "ask for fewer lines with --numbers, for larger parts, or for a sample or a tally instead."
        )
    return ExportPlan(fingerprint(rules), first, last, part_lines, roles, f"pyarrow {pyarrow.__version__}")
