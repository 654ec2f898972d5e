"""Costs and remedies: each is the count of the rule file with that one thing changed in it.

The changed file is counted by the reference where it is small enough, else by the engine, which reads the
file anew.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from typing import Any

from everyline.rules.changes import changed
from everyline.rules.rulefile import parse_rules
from everyline.solver.compiler import compile_rules
from everyline.solver.conflicts import why
from tests.contract.answers.case import Case
from tests.reference import count
from tests.reference.count import count_analyses
from tests.reference.result import TooBig
from tests.spaces import CORPUS

RECOUNTED = 4
"""Rows of a rule file that are recounted."""
PLAINLY = 2
"""Of these, how many the reference recounts."""
MOST_STATES, MOST_ANALYSES = 3000, 2000
"""What the reference is asked to look at."""


def costs_apart(case: Case) -> Iterator[str]:
    """The rows of ``why`` that are not what the changed file gives."""
    answer = why(case.rules, CORPUS)
    if answer.count != len(case.lines):
        yield f"why counts {answer.count} lines, the reference {len(case.lines)}"
    for cost in answer.costs:
        # In place of its handoff rule a file can only say "any", which asks for another note within reach.
        if cost.without is not None and cost.without < answer.count and cost.condition.key != "handoff.rule":
            yield f"why: {cost.without} lines of {answer.count} without {cost.condition.key}"
    rows = [(cost.condition.key, cost.condition.written, cost.without) for cost in answer.costs]
    rows += [(remedy.words, remedy.written, remedy.count) for remedy in answer.remedies]
    rng = random.Random(case.seed + 2)
    plainly = 0
    for words, written, told in rng.sample(rows, min(RECOUNTED, len(rows))):
        after = changed(case.tables, written)
        found = compile_rules(parse_rules(after, CORPUS)).count
        plain = recounted(after) if plainly < PLAINLY else None
        plainly += plain is not None
        if found != told or plain not in (None, told):
            yield f"why: {words}: told {told}, the file gives {found}, the reference {plain}; {dict(written)}"


def recounted(tables: Mapping[str, Any]) -> int | None:
    """The lines of a rule file by the reference; None where there is too much to list."""
    try:
        small = count_analyses(dict(tables), MOST_STATES) <= MOST_ANALYSES
    except (TooBig, RecursionError):
        return None
    return count(dict(tables)) if small else None
