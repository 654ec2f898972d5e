"""Why there is no line, and changes to the rule file that bring lines back, each ready to be made."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from everyline.corpora.errors import EverylineError
from everyline.rules.changes import changed
from everyline.solver.conflicts import Remedy, why

if TYPE_CHECKING:
    from everyline.page.operations import Workspace

Tables = dict[str, Any]


def conflicts(workspace: Workspace, tables: Tables, seconds: float) -> dict[str, Any]:
    """Smallest sets of rules that exclude each other, and remedies: words, the change, the count it gives."""
    space = workspace.space(tables)
    with workspace.counting():
        answer = why(space.rules, workspace.corpus)
    remedies = [made for each in answer.remedies if (made := _remedy(workspace, tables, each))]
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


def _remedy(workspace: Workspace, tables: Tables, remedy: Remedy) -> dict[str, Any] | None:
    """A remedy as a change of the page's tables, with the count that this very change gives; None where it
    gives none."""
    after = changed(tables, remedy.written)
    try:
        count = workspace.space(after).count
    except EverylineError:
        return None
    touched = {key.partition(".")[0].partition(" ")[0] for key in remedy.written}
    change = {section: after.get(section) for section in touched}
    return {"words": _said(remedy), "change": change, "count": str(count)} if count else None


def _said(remedy: Remedy) -> str:
    """A remedy with the part of the rules that it changes; the words of a limit name it themselves."""
    part, dot, _ = remedy.conditions[0].key.partition(".")
    return f"{part}: {remedy.words}" if dot and not remedy.dropped else remedy.words
