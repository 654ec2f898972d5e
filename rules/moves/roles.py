"""The roles that an analysis gives to the notes of a line."""

from __future__ import annotations

from enum import StrEnum


class Role(StrEnum):
    """What a note is in an analysis, in the trade's words."""

    ENTRY = "entry"
    ARPEGGIO = "arpeggio"
    PASSING = "passing"
    APPROACH = "approach"
    TARGET = "target"
    HANDOFF = "handoff"
    ENDING = "ending"


ROLES: tuple[Role, ...] = tuple(Role)
UNEXPLAINED = "unexplained"
"""The role of a note in a line that is not valid, where no move explains it; no analysis has it."""
