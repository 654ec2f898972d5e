"""The look of a line: one mark for each role, told apart by shape alone and, as a help, by colour.

The shapes differ in outline and in being filled or hollow, so that they survive a photocopy and do not depend
on seeing colour. The colours follow the order of the palette of Okabe and Ito (Color Universal Design, 2008),
darkened until they stand out from white paper at 4.5 to 1 (WCAG 2.2, contrast minimum); values by us.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from everyline.rules.analysis import APPROACH, ARPEGGIO, ENDING, ENTRY, HANDOFF, PASSING, TARGET


@dataclass(frozen=True, slots=True)
class RoleMark:
    """The mark of one role. ``path`` is an SVG path around (0, 0), in hundredths of a millimetre, y downward;
    ``half_width`` is in the same units. ``hollow`` marks are stroked, the others filled.
    """

    role: str
    word: str
    meaning: str
    path: str
    hollow: bool
    half_width: int
    colour: str


def _circle(radius: int) -> str:
    return f"M{-radius} 0a{radius} {radius} 0 1 0 {2 * radius} 0a{radius} {radius} 0 1 0 {-2 * radius} 0Z"


MARKS: dict[str, RoleMark] = {
    mark.role: mark
    for mark in (
        RoleMark(ENTRY, "entry", "the line begins", "M-62 -80L82 0L-62 80Z", False, 82, "#00704F"),
        RoleMark(ARPEGGIO, "arpeggio", "the next chord tone", _circle(38), False, 38, "#4D4D4D"),
        RoleMark(
            PASSING, "passing", "joins two chord tones", "M-68 74L12 -74H68L-12 74Z", False, 68, "#756300"
        ),
        RoleMark(APPROACH, "approach", "leads to a target", "M0 -78L70 0L0 78L-70 0Z", True, 78, "#B84A00"),
        RoleMark(TARGET, "target", "where an approach lands", _circle(80) + _circle(30), True, 88, "#0063A0"),
        RoleMark(
            HANDOFF, "handoff", "first note of a new chord", "M-68 -68H68V68H-68Z", False, 68, "#8E3A75"
        ),
        RoleMark(ENDING, "ending", "part of the ending", "M-82 -26H82V26H-82Z", False, 82, "#333333"),
    )
}
"""Every role's mark."""

STROKE = 20
"""Width of a hollow mark's line, in the units of its path."""

BLANK_COLOUR = "#8A8A8A"


def roles_of(roles: Iterable[str]) -> tuple[RoleMark, ...]:
    """The marks of the roles that occur, in the table's order."""
    there = set(roles)
    return tuple(mark for role, mark in MARKS.items() if role in there)
