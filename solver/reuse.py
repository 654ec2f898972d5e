"""Compiled diagrams used again: rules that differ in their limits alone have one diagram under the limits.

Whoever tries one limit after another on the same rules compiles the anatomy of their lines once.
"""

from __future__ import annotations

from dataclasses import replace

from rules.ruleset import Rules
from solver.diagram import Diagram
from solver.filtered import filtered
from solver.intersect import compact, intersect, lightest_first


def without_limits(rules: Rules) -> Rules:
    """The rules as far as the diagram under the limits depends on them; equal for all that share it."""
    return replace(rules, title="", limits=(), filters=(), range_text="", source="")


def join_limits(base: Diagram, rules: Rules) -> Diagram:
    """The diagram of ``rules`` from that of ``without_limits(rules)``; the same as compiling them afresh."""
    diagram = base
    for limit in lightest_first(rules.limits):
        diagram = intersect(diagram, limit, rules)
    if rules.limits:
        diagram = compact(diagram)
    return filtered(diagram, rules) if rules.filters else diagram
