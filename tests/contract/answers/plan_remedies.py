"""What would bring choruses back, by the plan with that one change, read anew and listed by the reference.

Of a number of a join that is moved, and of one of a limit over the whole, the step before leaves none.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from math import prod
from typing import Any

from everyline.rules.changes import changed
from everyline.rules.chorus_file import read_plan
from everyline.rules.chorus_keys import SHARED
from everyline.solver.chorus import Solved, solve
from everyline.solver.chorus_remedies import chorus_remedies
from everyline.solver.conflicts import Remedy
from tests.contract.answers.costs import recounted
from tests.contract.answers.whole_plans import MOST_CHOICES, Plan, whole_lines
from tests.reference import solve as list_lines
from tests.spaces import CORPUS

RECOUNTED = 5
"""Remedies of a plan that are recounted."""
PLAINLY = 4 * MOST_CHOICES
"""Choices of a line for each phrase that the reference tries for one of them."""


def remedies_apart(plan: Plan, solved: Solved) -> Iterator[str]:
    """The remedies of a plan without a line that are not what the changed plan gives."""
    remedies = chorus_remedies(solved, CORPUS)
    for remedy in remedies[:RECOUNTED]:
        after = changed(plan.tables, remedy.written)
        found = solve(read_plan(after, CORPUS)).diagram.count
        plain = counted(plan, after)
        if found != remedy.count or not found or plain not in (None, found):
            yield (
                f"plan: {remedy.words}: told {remedy.count}, the plan gives {found}, the reference {plain}; "
                f"{dict(remedy.written)} in {plan.tables}"
            )
        for written in nearer(plan.tables, remedy):
            if counted(plan, changed(plan.tables, written)):
                yield f"plan: {remedy.words}: {written} would do; {plan.tables}"


def nearer(tables: Mapping[str, Any], remedy: Remedy) -> Iterator[dict[str, Any]]:
    """The change of a number of a join or of a limit over the whole, a step smaller."""
    if remedy.dropped or len(remedy.conditions) > 1 or len(remedy.written) > 1:
        return
    ((key, value),) = remedy.written.items()
    first, _, second = remedy.words.rpartition(" -> ")
    was = first.rpartition(" ")[2]
    if second.isdecimal() and was.isdecimal() and ("join." in key or key.startswith("limit")):
        step = 1 if int(was) < value else -1
        yield {key: value - step}


def counted(plan: Plan, tables: dict[str, Any]) -> int | None:
    """The lines of a changed plan by the reference; None where there is too much to list."""
    parts = []
    for part, own in zip(plan.parts, tables["phrase"], strict=True):
        mine = {key: each for key, each in own.items() if key not in ("bars", "join")}
        shared = {key: {**tables[key], **mine.get(key, {})} for key in SHARED if key in tables}
        rules = {"changes": part.changes, **part.time, **mine, **shared}
        if rules == {key: each for key, each in part.tables.items() if key != "title"}:
            parts.append(part)
        elif recounted(rules) is None:
            return None
        else:
            parts.append(replace(part, tables=rules, lines=list_lines(rules).lines))
    if prod(len(part.lines) for part in parts) > PLAINLY:
        return None
    return len(whole_lines(Plan(tables, parts, plan.bar)))
