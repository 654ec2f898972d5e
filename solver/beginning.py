"""The lines that begin in one way, as a diagram of their own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from everyline.rules.line import Event
from everyline.solver.diagram import Diagram


def beginning_with(diagram: Diagram, prefix: Sequence[Event]) -> Diagram:
    """The lines of a diagram that begin with these events: one path to the place that they lead to.

    Raises ValueError where no line begins so.
    """
    kept, end = diagram.reach(prefix)
    if kept < len(prefix):
        raise ValueError("no line begins so")
    child = end
    labels, children = list(diagram.labels), list(diagram.children)
    for event in reversed(prefix):
        labels.append((diagram.events.index(event),))
        children.append((child,))
        child = len(labels) - 1
    added = len(prefix)
    return replace(
        diagram,
        labels=tuple(labels),
        children=tuple(children),
        accepts=diagram.accepts + (False,) * added,
        totals=diagram.totals + (diagram.totals[end],) * added,
        root=child,
    )
