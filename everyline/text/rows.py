"""Lines as rows of data: JSON Lines (one line a row) and CSV (one note a row)."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable
from typing import IO

from everyline.rules.annotate import AnnotatedLine
from everyline.text.drawing import draw

FORMATS = ("text", "jsonl", "csv")
NOTES_COLUMNS = ("number", "roughness", "strangeness", "note", "tick", "length", "pitch")
CSV_COLUMNS = (*NOTES_COLUMNS, "name", "role", "degree", "chord")


def write_rows(lines: Iterable[AnnotatedLine], form: str, out: IO[str], count: int | None = None) -> int:
    """Write lines one by one in a format out of FORMATS; answers how many there were. ``count`` is shown in
    text."""
    return {"text": _text, "jsonl": _jsonl, "csv": _csv}[form](lines, out, count)


def _text(lines: Iterable[AnnotatedLine], out: IO[str], count: int | None) -> int:
    written = 0
    for line in lines:
        out.write(("\n" if written else "") + draw(line, count) + "\n")
        written += 1
    return written


def _jsonl(lines: Iterable[AnnotatedLine], out: IO[str], count: int | None) -> int:
    written = 0
    for line in lines:
        out.write(json.dumps(line.as_row(), ensure_ascii=False) + "\n")
        written += 1
    return written


def _csv(lines: Iterable[AnnotatedLine], out: IO[str], count: int | None) -> int:
    table = csv.writer(out, lineterminator="\n")
    table.writerow(CSV_COLUMNS)
    written = 0
    for line in lines:
        table.writerows(
            (
                line.number,
                line.roughness,
                line.strangeness,
                place,
                n.onset,
                n.length,
                n.pitch,
                n.name,
                n.role,
                n.degree,
                n.chord,
            )
            for place, n in enumerate(line.notes, 1)
        )
        written += 1
    return written
