"""The table of moves under some rules: a new move is a file beside this one and a row here."""

from __future__ import annotations

from typing import NamedTuple

from everyline.rules.front import FIGURE
from everyline.rules.moves.approach import ApproachMove
from everyline.rules.moves.arpeggio import Run, arpeggios
from everyline.rules.moves.base import Bounds, Ground, Move, grounds
from everyline.rules.moves.handoff import Handoff
from everyline.rules.moves.passing import FilledArpeggio, FilledHandoff
from everyline.rules.moves.roles import Role
from everyline.rules.rhythm import most_notes
from everyline.rules.ruleset import Rules


class MoveTable(NamedTuple):
    """Every move, the ground of each chord, and how many figures and filled moves it takes."""

    grounds: tuple[Ground, ...]
    opening: ApproachMove
    moves: tuple[Move, ...]
    figures: tuple[Bounds, ...]
    fills: tuple[Bounds, ...]


def move_table(rules: Rules) -> MoveTable:
    """The moves under some rules."""
    ground, notes = grounds(rules), list(most_notes(rules))
    figures = [Bounds.of(rules.approach.bounds(chord), most) for chord, most in enumerate(notes)]
    fills = [Bounds.of(rules.passing.bounds(chord), most) for chord, most in enumerate(notes)]
    run = Run(rules, max(notes))
    landing = ApproachMove(rules, ground, figures, across=False)
    moves: list[Move] = [*arpeggios(rules, ground, run), landing]
    moves.append(ApproachMove(rules, ground, figures, across=True))
    if rules.passing.kinds:
        moves += [FilledArpeggio(ground, fills, run, way) for way in rules.arpeggio.directions]
        moves.append(FilledHandoff(rules, ground, fills))
    moves.append(Handoff(rules, ground))
    return MoveTable(tuple(ground), landing, tuple(moves), tuple(figures), tuple(fills))


def landing_role(kind: int, under_way: bool, fresh: bool) -> Role:
    """The role of the chord tone that a move lands on; ``under_way`` where notes came before it."""
    if under_way and kind == FIGURE:
        return Role.TARGET
    return Role.HANDOFF if fresh else Role.ARPEGGIO


def way_role(kind: int) -> Role:
    """The role of the notes before the chord tone that a move lands on."""
    return Role.APPROACH if kind == FIGURE else Role.PASSING
