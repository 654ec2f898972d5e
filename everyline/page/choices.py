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
    workspace: Workspace, tables: dict[str, Any], only: list[str] | None = None, phrase: int | None = None
) -> list[dict[str, Any]]:
    """How many lines have each property, for every kind of property or those named, and the change of rules
    that leaves these, where one does.

    Of the choruses of a plan, what is read off the notes, or with ``phrase`` (1 is the first) what that
    phrase is made of.
    """
    from everyline.solver.facets import ANALYSIS_KINDS, KINDS
    from everyline.solver.facets import facets as count_facets
    from everyline.spaces.choruses import Chorus

    space = workspace.space(tables)
    if not space.count:
        return []
    planned = isinstance(space, Chorus)
    with workspace.counting():
        if isinstance(space, Chorus) and phrase is not None:
            found = space.facets(phrase, only)
        else:
            kinds = [kind for kind in KINDS if only is None or kind in only]
            if planned:
                kinds = [kind for kind in kinds if kind not in ANALYSIS_KINDS]
            found = count_facets(space.rules, space.diagram, kinds)
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
