"""What every choice would leave: counts of the rules with one thing changed, and facets of the lines."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Any

from everyline.corpora.errors import EverylineError
from everyline.page.narrowing import narrowing
from everyline.rules.changes import changed

if TYPE_CHECKING:
    from everyline.page.operations import Workspace


def choices(
    workspace: Workspace, tables: dict[str, Any], changes: list[dict[str, Any]], seconds: float
) -> list[dict[str, Any]]:
    """For each change (dotted key to value, None takes the key out): the count it would leave.

    Once ``seconds`` are over, what is left is answered without a count.
    """
    until = time.monotonic() + seconds
    found: list[dict[str, Any]] = []
    for change in changes:
        if time.monotonic() > until:
            found.append({"count": None, "why": "not counted: it would take too long"})
            continue
        try:
            found.append({"count": str(workspace.space(changed(tables, change)).count), "why": ""})
        except EverylineError as error:
            found.append({"count": None, "why": str(error)})
    return found


def facets(
    workspace: Workspace, tables: dict[str, Any], only: list[str] | None = None
) -> list[dict[str, Any]]:
    """How many lines have each property, for every kind of property or those named, and the change of rules
    that leaves these, where one does. Of the choruses of a plan, only what is read off the notes: what each
    phrase is made of is counted under its own rules."""
    from everyline.solver.facets import ANALYSIS_KINDS, KINDS
    from everyline.solver.facets import facets as count_facets

    space = workspace.space(tables)
    if not space.count:
        return []
    planned = "phrase" in tables
    if planned:
        only = [kind for kind in KINDS if kind not in ANALYSIS_KINDS and (only is None or kind in only)]
    with workspace.counting():
        found = count_facets(space.rules, space.diagram, only)
    return [
        {
            "kind": facet.kind,
            "title": facet.title,
            "note": facet.note,
            "values": [
                {
                    "label": value.label,
                    "count": str(value.count),
                    "change": None if planned else narrowing(facet.kind, value.label, tables),
                }
                for value in facet.values
            ],
        }
        for facet in found
    ]
