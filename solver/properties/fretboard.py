"""Where a line lies on a fretboard: that of the rules' instrument where it is fretted, else a guitar's."""

from __future__ import annotations

from everyline import corpora
from everyline.rules.ranges import DEFAULT_SPAN, Fretboard
from everyline.rules.ruleset import Rules
from everyline.solver.diagram import Diagram
from everyline.solver.fold import Fold, finals
from everyline.solver.packs import Packs
from everyline.solver.properties.base import Facet, NoteReader, Property, facet


def _position(rules: Rules) -> NoteReader:
    """The lowest fretboard position that holds the whole line."""
    board, strings, span = hand_positions(rules)
    masks = position_masks(board, strings, span)

    def lowest(mask: int) -> int:
        return (mask & -mask).bit_length() - 1

    def label(fret: int) -> str:
        return "no position" if fret < 0 else board.frets_text(fret, span)

    return NoteReader(
        every_position(board, span), lambda mask, note: mask & masks.get(note.pitch, 0), label, value=lowest
    )


def _positions(rules: Rules, diagram: Diagram) -> list[Facet]:
    board, strings, span = hand_positions(rules)
    masks = position_masks(board, strings, span)
    every = every_position(board, span)
    lowest = range(every.bit_length())
    bits = [masks.get(event.pitch, 0) for event in diagram.events]
    packs = Packs(len(lowest), diagram.count)
    counts = packs.unpack(packs.kept(Fold.plain(diagram, [packs.spread(each) for each in bits])))
    values = [(board.frets_text(fret, span), counts[fret]) for fret in lowest]
    held = finals(diagram, every, lambda left, label: left & bits[label] or None)
    values.append(("no position", diagram.count - sum(held.values())))
    note = "A line that lies in several positions counts for each."
    if len(strings) < len(board.strings):
        note += f" Strings: {', '.join(map(str, strings))}."
    return [facet("position", f"position on the {board.name} that holds the line", values, note)]


def hand_positions(rules: Rules) -> tuple[Fretboard, tuple[int, ...], int]:
    """(fretboard, its strings in use, frets under the hand): those of the rules' instrument where it is
    fretted, else a guitar's."""
    board = Fretboard.of(rules.instrument) if rules.instrument is not None else None
    if board is None:
        board = Fretboard.of(corpora.load().instruments["guitar"])
        assert board is not None  # a guitar has strings and frets
    if rules.position is None:
        return board, board.strings, DEFAULT_SPAN
    return board, rules.position.strings, rules.position.span


def every_position(board: Fretboard, span: int) -> int:
    """All positions of a fretboard, each as the bit of its lowest fret."""
    return (1 << (max(0, board.frets - span + 1) + 1)) - 1


def position_masks(board: Fretboard, strings: tuple[int, ...], span: int) -> dict[int, int]:
    """For each pitch, the positions (lowest frets, as bits) in which it can be fretted."""
    masks: dict[int, int] = {}
    for lowest in range(max(0, board.frets - span + 1) + 1):
        for string in strings:
            for fret in range(lowest, min(lowest + span - 1, board.frets) + 1):
                pitch = board.at(string, fret)
                masks[pitch] = masks.get(pitch, 0) | 1 << lowest
    return masks


POSITION = Property(
    "position",
    "fretboard position in which the whole line can be played",
    notes=_position,
    note_facet=_positions,
    column="positions",
)
