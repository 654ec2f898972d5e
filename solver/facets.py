"""Facets: how many lines remain for each choice of start note, figure, target, ending and so on.

Exact, and without listing a line: every count is a sum over the diagram. A line that has a property in any
of its analyses counts for it, so the counts of one facet may add up to more than there are lines.

All values of a facet are counted in one fold (``fold``, ``packs``); what is counted is in ``properties``.
"""

from __future__ import annotations

from collections.abc import Iterable

from everyline.rules.ruleset import Rules
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from everyline.solver.figure_marks import ReadingGraph, trace
from everyline.solver.properties.base import Analyses, Facet, Value
from everyline.solver.properties.table import PROPERTIES
from everyline.solver.readingsums import count_each

__all__ = ["ANALYSIS_KINDS", "KINDS", "Facet", "Value", "facets"]

ANALYSIS_KINDS = frozenset(name for name, each in PROPERTIES.items() if each.mark_facet is not None)
"""Kinds whose values depend on how a line is analysed."""

KINDS: dict[str, str] = {
    name: each.says
    for name, each in PROPERTIES.items()
    if each.note_facet is not None or each.mark_facet is not None
}
"""Every kind of facet, and what its values are."""


def facets(
    rules: Rules, diagram: Diagram | None = None, only: Iterable[str] | None = None
) -> tuple[Facet, ...]:
    """All facets of the lines under ``rules``, or those of the kinds in ``only``, in the order of KINDS.

    ``diagram`` spares compiling again. A handoff facet comes once for every change of chord. Positions are
    those of the rules' own instrument where it is fretted, else of a guitar.
    """
    diagram = compile_rules(rules) if diagram is None else diagram
    wanted = frozenset(KINDS if only is None else only)
    analyses = analyses_of(trace(rules, diagram), diagram.count) if wanted & ANALYSIS_KINDS else None
    found: list[Facet] = []
    for kind in KINDS:
        row = PROPERTIES[kind]
        if kind not in wanted:
            continue
        if row.note_facet is not None:
            found += row.note_facet(rules, diagram)
        elif row.mark_facet is not None and analyses is not None:
            found += row.mark_facet(rules, analyses)
    return tuple(found)


def analyses_of(graph: ReadingGraph, most: int) -> Analyses:
    """The analyses of ``most`` lines, whose readings the graph has."""
    return Analyses(graph, dict(zip(graph.marks, count_each(graph, most), strict=True)))
