"""A student's line held against the rules: breaches with their notes, and the nearest valid lines."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from everyline.page.lines_view import draw_line, facts
from everyline.reading.fitted import SUFFIXES, ReadLine, read_data, typed
from everyline.spaces.checking import Mended, Report
from everyline.spaces.checking import check as judge_line
from everyline.spaces.space import Space

if TYPE_CHECKING:
    from everyline.page.operations import Workspace

Tables = dict[str, Any]


def check(workspace: Workspace, tables: Tables, notes: str, nearest: int, width: float) -> dict[str, Any]:
    """Judge typed notes. They are read as notes and nothing else: a path is not looked up."""
    space = workspace.space(tables)
    return _judged(workspace, space, typed(notes, space.rules), nearest, width)


def check_file(
    workspace: Workspace, tables: Tables, data: bytes, kind: str, nearest: int, width: float
) -> dict[str, Any]:
    """Judge the line in a MusicXML or MIDI file. Raises InputError for what cannot be read."""
    space = workspace.space(tables)
    read = read_data(data, SUFFIXES[f".{kind}"], Path("the file"), space.rules)
    return _judged(workspace, space, read, nearest, width)


def _judged(workspace: Workspace, space: Space, line: ReadLine, nearest: int, width: float) -> dict[str, Any]:
    with workspace.counting():
        report = judge_line(space, line, nearest)
    return _report(report, width)


def _report(report: Report, width: float) -> dict[str, Any]:
    row = report.as_row()
    line = report.line
    shown = {"text": None, "kept_as": None} if line is None else facts(line)
    return {
        "valid": report.valid,
        "number": None if report.number is None else str(report.number),
        "count": str(report.space.count),
        "remarks": list(report.remarks),
        "breaches": row["breaches"],
        "explained": report.verdict.explained,
        "notes": row["notes"],
        "text": shown["text"],
        "kept_as": shown["kept_as"],
        "picture": None if line is None else _drawn(report, width),
        "by_onset": [_near(each, width) for each in report.by_onset],
        "by_order": [_near(each, width) for each in report.by_order],
    }


def _drawn(report: Report, width: float) -> str | None:
    """The line as read, where it can be drawn at all."""
    from everyline.corpora.errors import EverylineError

    assert report.line is not None
    try:
        return draw_line(report.line, "auto", width, roles=report.valid)
    except (EverylineError, ValueError):
        # Lengths that no note value shows, or a note off the fretboard: the words must do.
        return None


def _near(mended: Mended, width: float) -> dict[str, Any]:
    found = {change.found for change in mended.repair.changes if change.found is not None}
    return {
        **facts(mended.line),
        "summary": mended.summary,
        "words": list(mended.words),
        "size": len(mended.repair.changes) + len(mended.repair.lengths),
        "given": sorted(change.given for change in mended.repair.changes if change.given is not None),
        "marked": sorted(found | set(mended.repair.lengths)),
        "picture": draw_line(mended.line, "auto", width),
    }
