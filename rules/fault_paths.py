"""Ways through a line that may break rules: what is remembered, one move, and what it costs."""

from __future__ import annotations

from typing import NamedTuple

from everyline.rules.analysis import APPROACH, PlacedFigure
from everyline.rules.fault_endings import Fault


class State(NamedTuple):
    """What the rules remember (see ``front.Tone``); ``loose`` says that the last note was not explained, so
    nothing follows from it."""

    run: int = 0
    turns: int = 0
    skips: int = 0
    figures: int = 0
    fills: int = 0
    since: int = 0
    met: int = 0
    loose: bool = False


class Move(NamedTuple):
    """Notes up to ``next``, the state after them, their roles, and what is wrong with them."""

    next: int
    state: State
    roles: tuple[str, ...]
    faults: tuple[Fault, ...] = ()
    figure: PlacedFigure | None = None
    ending: str | None = None


class Path(NamedTuple):
    """Moves one after another, the last one first, and what they cost."""

    cost: int
    late: tuple[int, ...]
    approach: int
    move: Move | None
    before: Path | None

    @property
    def rank(self) -> tuple[int, tuple[int, ...], int]:
        """Least cost, then faults as late as can be, then fewest approach notes."""
        return self.cost, self.late, self.approach


def longer(path: Path, move: Move) -> Path:
    """The path with one more move."""
    late = tuple(-fault.breach.index for fault in move.faults if fault.breach.index is not None)
    cost = sum(fault.cost for fault in move.faults)
    approach = move.roles.count(APPROACH)
    return Path(path.cost + cost, path.late + late, path.approach + approach, move, path)
