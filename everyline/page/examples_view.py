"""A short line that shows what one rule does."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from everyline.corpora.errors import InputError
from everyline.rules.changes import changed

if TYPE_CHECKING:
    from everyline.page.operations import Workspace

Tables = dict[str, Any]

_RANGE = {"lowest": "G3", "highest": "G5"}
_RULES = {"approach": {"count": ["0-1"]}, "ending": {"use": ["plain"]}}
STAGES: tuple[Tables, ...] = tuple(
    {"changes": changes, "range": dict(_RANGE), **_RULES}
    for changes in ("G7 | Cmaj7", "G7 | Cm7", "Dm7 | G7 | Cmaj7", "Dm7b5 | G7 | Cm7")
)
"""Two bars, major and minor, and three where two are too short for a rule."""


def example(workspace: Workspace, change: dict[str, Any], tables: Tables | None = None) -> dict[str, Any]:
    """A line under the first of STAGES, or else under ``tables``, that has one with these changes made: its
    rules, number, notes and roles. Raises InputError where none has."""
    trouble = ""
    for stage in (*STAGES, *([tables] if tables else [])):
        whole = {key: value for key, value in change.items() if "." not in key}
        parts = {key: value for key, value in change.items() if "." in key}
        tables = changed(changed(stage, whole), parts)
        try:
            space = workspace.space(tables)
        except InputError as error:
            trouble = str(error)
            continue
        if space.count:
            with workspace.counting():
                line = next(space.idiomatic(1))
            return {
                "rules": tables,
                "number": str(line.number),
                "notes": " ".join(note.name for note in line.notes),
                "roles": [note.role for note in line.notes],
            }
    raise InputError(trouble or "no short line shows this rule; try it on your own changes.")
