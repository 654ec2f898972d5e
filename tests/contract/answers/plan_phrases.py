"""What a phrase of a plan is made of, over whole lines: each value by the reference's analyses of the phrase.

A whole line has a value in a phrase when some analysis has it, in some way of cutting the line into phrases.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import cache
from itertools import pairwise

from everyline import Space
from everyline.rules.rulefile import parse_rules
from everyline.solver.chorus import Solved
from everyline.solver.facets import ANALYSIS_KINDS
from everyline.solver.phrase_facets import phrase_facets
from tests.contract.answers.case import Case
from tests.contract.answers.properties import Value, of_analyses, told_apart
from tests.contract.answers.whole_plans import Plan, all_cuts
from tests.reference import solve as list_lines
from tests.reference.result import Line
from tests.spaces import CORPUS


def phrases_apart(plan: Plan, lines: list[Line], solved: Solved) -> Iterator[str]:
    """The facets of each phrase whose values or counts are others."""
    cuts = {line: all_cuts(plan, line) for line in lines}
    for place, part in enumerate(plan.parts):
        own = Case(0, part.tables, list_lines(part.tables), Space(parse_rules(part.tables, CORPUS)))
        shift = (part.first_bar - 1) * plan.bar
        values = cache(lambda notes, own=own: of_analyses(own, notes))
        wanted: Counter[Value] = Counter()
        for line, ways in cuts.items():
            stretches = [list(pairwise((0, *ends)))[place] for ends in ways]
            played = {
                tuple((onset - shift, length, pitch) for onset, length, pitch in line[first:beyond])
                for first, beyond in stretches
            }
            wanted.update(set().union(*map(values, played)))
        for sentence in told_apart(own, wanted, phrase_facets(solved, place), set(ANALYSIS_KINDS)):
            yield f"plan, phrase {place + 1}: {sentence}; {plan.tables}"
