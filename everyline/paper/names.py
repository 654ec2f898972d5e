"""The names of players, left of their staves."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree.ElementTree import Element, SubElement

from everyline.paper.outlines import outline

NAME_SIZE, LEADING = 240, 290
BEFORE_BRACKET = 330
"""From the end of a name to the beginning of the staff, the bracket between them."""

Lines = Sequence[tuple[float, float, float]]


def draw_name(parent: Element, name: str, lines: Lines, with_staff: bool) -> None:
    """Draw a name left of the first staff of ``lines`` (left, right and y of each), or of its tablature if it
    has none; in several rows where it is too long for one."""
    left = min(start for start, _, _ in lines)
    heights = sorted({y for _, _, y in lines})
    middle = (heights[0] + heights[4 if with_staff else -1]) / 2
    room = left - BEFORE_BRACKET
    # "Trumpet in B flat": the last words stay together.
    name = name.replace(" flat", "♭").replace(" in ", " in\u00a0")
    rows = _rows(name, room)
    size = NAME_SIZE * min(1, *(room / _width(row) for row in rows))
    base = middle + size * 0.35 - LEADING * (len(rows) - 1) / 2
    group = SubElement(parent, "g", {"class": "player"})
    for place, row in enumerate(rows):
        run = outline(row, "Regular", round(size))
        move = f"translate({room - run.width:.0f} {base + place * LEADING:.0f})"
        SubElement(group, "path", {"d": run.path, "transform": move, "stroke": "none"})


def _width(words: str) -> float:
    return outline(words, "Regular", NAME_SIZE).width


def _rows(name: str, room: float) -> list[str]:
    """The words of a name in as few rows as have room."""
    rows: list[str] = []
    for word in name.split(" "):
        longer = f"{rows[-1]} {word}" if rows else word
        if rows and _width(longer) <= room:
            rows[-1] = longer
        else:
            rows.append(word)
    return rows
