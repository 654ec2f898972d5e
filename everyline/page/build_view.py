"""A line that is built note by note on the page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from everyline.page.lines_view import draw_line, facts
from everyline.rules.annotate import unexplained
from everyline.rules.line import make_events
from everyline.spaces.building import Built, build, finish
from everyline.spaces.space import Space

if TYPE_CHECKING:
    from everyline.page.operations import Workspace

Tables = dict[str, Any]


def onward(workspace: Workspace, tables: Tables, notes: list[list[int]], width: float) -> dict[str, Any]:
    """The notes so far as a picture, what may come next, and the chord ahead."""
    space = workspace.space(tables)
    with workspace.counting():
        built = build(space, make_events(notes))
    ahead = built.ahead
    number = space.number(built.beginning) if built.ends else None
    return {
        "names": list(built.names),
        "count": str(built.count),
        "number": None if number is None else str(number),
        "steps": [step.as_row() for step in built.steps],
        "ahead": None
        if ahead is None
        else {"chord": ahead.chord, "place": ahead.place, "names": ahead.names},
        "picture": _drawn(space, built, width) if built.beginning else None,
    }


def _drawn(space: Space, built: Built, width: float) -> str:
    """The beginning on the staff; its roles are open as long as the line is."""
    return draw_line(unexplained(space.rules, built.beginning), "auto", width, roles=False)


def finished(
    workspace: Workspace, tables: Tables, notes: list[list[int]], how: str, seed: int
) -> dict[str, Any]:
    """A line that begins with these notes."""
    space = workspace.space(tables)
    with workspace.counting():
        line = finish(space, make_events(notes), how, seed)
    return {**facts(line), "events": [list(event) for event in line.events]}
