"""Writing a set of lines to a folder of Parquet files, part by part; a part is there whole or not at all."""

from __future__ import annotations

from collections.abc import Callable, Generator
from contextlib import closing
from functools import lru_cache
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from everyline.files.progress import Progress
from everyline.files.writing import writing
from everyline.parallel.parts import PART_LINES, ExportPart, ExportPlan, make_plan
from everyline.parallel.parts_folder import ExportFolder, Remark
from everyline.parallel.table_columns import Schema
from everyline.rules.canonical import fingerprint
from everyline.rules.ruleset import Rules
from everyline.solver.columns import Columns
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram

GROUP_LINES = 1 << 17
"""Lines of one row group. It is part of what the files hold, so it does not follow the machine."""
GROUP_LINES_WITH_ROLES = 1 << 13

PARTS_BETWEEN = 16
"""Parts after which it is asked again whether the rest has room."""

Written = Generator[ExportPart, None, None]
Runner = Callable[[Rules, ExportPlan, Path, list[ExportPart]], Written]
"""Writes parts and gives each back when it is there."""

_known: dict[str, tuple[Rules, Diagram | None]] = {}


@lru_cache(maxsize=2)
def _schema(space: str, roles: bool) -> Schema:
    rules, diagram = _known[space]
    return Schema(rules, Columns(diagram or compile_rules(rules)), roles)


def schema_of(rules: Rules, roles: bool, diagram: Diagram | None = None) -> Schema:
    """The schema for some rules. The diagram, unless given, is compiled once in a process, for all parts of a
    space."""
    space = fingerprint(rules)
    _known.clear()
    _known[space] = (rules, diagram)
    return _schema(space, roles)


def write_part(rules: Rules, plan: ExportPlan, folder: Path, part: ExportPart) -> ExportPart:
    """Write one part: beside its place, then renamed."""
    schema = schema_of(rules, plan.roles)
    group = GROUP_LINES_WITH_ROLES if plan.roles else GROUP_LINES
    with (
        writing(folder / part.name, "wb") as file,
        pq.ParquetWriter(file, schema.arrow, compression="zstd") as writer,
    ):
        for batch in schema.columns.batches(part.first, part.last, group, reuse=True):
            writer.write_table(schema.table(batch), row_group_size=group)
    return part


def one_by_one(rules: Rules, plan: ExportPlan, folder: Path, parts: list[ExportPart]) -> Written:
    """Write parts one after another in this process."""
    return (write_part(rules, plan, folder, part) for part in parts)


def is_written(folder: Path, part: ExportPart) -> bool:
    """Whether a part is there with all its lines."""
    try:
        rows: int = pq.read_metadata(folder / part.name).num_rows
    except (OSError, pa.ArrowInvalid):
        return False
    return rows == part.lines


def export(
    rules: Rules,
    folder: Path | str,
    *,
    first: int = 1,
    last: int | None = None,
    part_lines: int = PART_LINES,
    roles: bool = False,
    diagram: Diagram | None = None,
    runner: Runner = one_by_one,
    progress: Progress | None = None,
    remark: Remark | None = None,
) -> ExportPlan:
    """Write lines ``first`` to ``last`` (the end unless given) to a folder, then a manifest.

    ``diagram`` spares compiling, and looking at every line where there are whole-line rules.
    A run that was stopped is taken up again by asking for the same: parts that are there as they were written
    stay, and the result is the same to the byte as that of one run. Raises InputError for lines that there
    are not, and for a folder that holds anything else or that another export writes to; Stopped where the
    disk is too small for the rest.
    """
    folder = Path(folder)
    schema = schema_of(rules, roles, diagram)
    plan = make_plan(rules, schema.columns.count, first, last, part_lines, roles)
    with ExportFolder(folder, plan) as place:
        left = place.left(remark or (lambda sentence: None))
        every = plan.last + 1 - plan.first
        done = every - sum(part.lines for part in left)
        if progress:
            progress(done, every)
        # Closed before the folder is left, so that nobody writes to it any more when it is tidied.
        with closing(runner(rules, plan, folder, left)) as written:
            for turn, part in enumerate(written):
                place.add(part)
                done += part.lines
                if progress:
                    progress(done, every)
                if turn % PARTS_BETWEEN == 0:
                    place.check_room(every - done)
        place.finish({field.name: field.says for field in schema.fields}, schema.metadata())
    return plan
