"""Why there is no line, and changes to the rule file that bring lines back, each ready to be made."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from everyline.corpora.errors import EverylineError
from everyline.rules.changes import changed
from everyline.solver.conflicts import Remedy, why
from everyline.spaces.choruses import Chorus

if TYPE_CHECKING:
    from everyline.page.operations import Workspace

Tables = dict[str, Any]


def conflicts(workspace: Workspace, tables: Tables, seconds: float) -> dict[str, Any]:
    """Smallest sets of rules that exclude each other, and remedies: words, the change, the count it gives."""
    space = workspace.space(tables)
    if isinstance(space, Chorus):
        return _of_a_plan(workspace, tables, space)
    with workspace.counting():
        answer = why(space.rules, workspace.corpus)
    remedies = []
    for each in answer.remedies:
        if count := _count(workspace, changed(tables, each.written)):
            remedies.append(_remedy(tables, each, each.said, count))
    return {
        "count": str(answer.count),
        "exclusions": [
            [{"key": each.key, "words": each.words, "default": each.default} for each in found]
            for found in answer.exclusions
        ],
        "complete": answer.complete,
        "remedies": remedies,
        "costs": [
            {"key": cost.condition.key, "words": cost.condition.words, "without": str(cost.without)}
            for cost in answer.costs
        ],
    }


def _of_a_plan(workspace: Workspace, tables: Tables, chorus: Chorus) -> dict[str, Any]:
    """The same of a chorus plan. It has no exclusions: what is at fault is told with its count."""
    with workspace.counting():
        found = chorus.remedies(workspace.corpus)
    remedies = [_remedy(tables, each, each.words, each.count) for each in found]
    return {
        "count": str(chorus.count),
        "exclusions": [],
        "complete": True,
        "remedies": remedies,
        "costs": [],
    }


def _count(workspace: Workspace, tables: Tables) -> int:
    """How many lines some tables leave; none where they cannot be read."""
    try:
        return workspace.space(tables).count
    except EverylineError:
        return 0


def _remedy(tables: Tables, remedy: Remedy, words: str, count: int | None) -> dict[str, Any]:
    """A remedy as a change of the page's tables, with the count that this very change gives."""
    after = changed(tables, remedy.written)
    touched = {key.partition(".")[0].partition(" ")[0] for key in remedy.written}
    return {
        "words": words,
        "change": {section: after.get(section) for section in touched},
        "count": str(count),
    }
