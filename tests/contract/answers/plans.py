"""Chorus plans made of random rule files: their lines, numbers, cuts, phrases and remedies, by trying all."""

from __future__ import annotations

import random
from collections.abc import Iterator

from everyline.rules.chorus_file import read_plan
from everyline.solver.chorus import cuts, solve
from everyline.solver.smooth import smoothest
from tests.contract.answers.case import Case, as_events, as_line
from tests.contract.answers.plan_phrases import phrases_apart
from tests.contract.answers.plan_remedies import remedies_apart
from tests.contract.answers.whole_plans import earliest, random_plan, whole_lines
from tests.reference import roughness
from tests.spaces import CORPUS

LOOKED_AT = 3
"""Lines of a plan that are looked up and cut into phrases."""


def plans_apart(case: Case) -> Iterator[str]:
    """What is wrong with the lines of a plan that begins with this rule file."""
    rng = random.Random(case.seed + 4)
    plan = random_plan(rng, case)
    if plan is None:
        return
    solved = solve(read_plan(plan.tables, CORPUS))
    wanted = whole_lines(plan)
    found = list(map(as_line, solved.diagram.walk()))
    if found != wanted:
        yield f"plan: {len(found)} lines, {len(wanted)} by trying all; {plan.tables}"
        return
    if (solved.fault is None) != bool(wanted):
        yield f"plan: there are {len(wanted)} lines, and told is {solved.fault}"
    smooth = [(each.roughness, each.number) for each in smoothest(solved.diagram)]
    if smooth != sorted((roughness(line), number) for number, line in enumerate(wanted, 1)):
        yield f"plan: the smoothest are {smooth[:5]} and so on"
    for line in rng.sample(wanted, min(LOOKED_AT, len(wanted))):
        if solved.diagram.number(as_events(line)) != wanted.index(line) + 1:
            yield f"plan: {line} has the number {solved.diagram.number(as_events(line))}"
        if (told := cuts(solved.pieces, as_events(line))) != (ends := earliest(plan, line)):
            yield f"plan: {line} is cut at {told}, and {ends} begins each phrase earliest"
    if wanted:
        yield from phrases_apart(plan, wanted, solved)
    else:
        yield from remedies_apart(plan, solved)
