"""Compiled diagrams used again: rules that differ in their limits alone have one diagram under the limits.

Whoever tries one limit after another on the same rules compiles the anatomy of their lines once.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

from everyline.rules.ruleset import Rules
from everyline.solver.diagram import Diagram
from everyline.solver.filtered import filtered
from everyline.solver.intersect import compact, intersect, lightest_first


@contextmanager
def collector_at_rest() -> Iterator[None]:
    """Compiling makes many small values and no cycles, so a search for cycles would find nothing."""
    if not gc.isenabled():
        yield
        return
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


def without_limits(rules: Rules) -> Rules:
    """The rules as far as the diagram under the limits depends on them; equal for all that share it."""
    return replace(rules, title="", limits=(), filters=(), range_text="", source="")


def join_limits(base: Diagram, rules: Rules) -> Diagram:
    """The diagram of ``rules`` from that of ``without_limits(rules)``; the same as compiling them afresh."""
    diagram = base
    if rules.limits:
        with collector_at_rest():
            for limit in lightest_first(rules.limits):
                diagram = intersect(diagram, limit, rules)
            diagram = compact(diagram)
    return filtered(diagram, rules) if rules.filters else diagram
