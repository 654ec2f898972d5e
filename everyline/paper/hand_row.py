"""The row under a tablature: the finger of each note, and the hand's position where it is new."""

from __future__ import annotations

from collections.abc import Mapping
from xml.etree.ElementTree import Element, SubElement

from everyline.paper.fingering import Fingering
from everyline.paper.outlines import outline

FINGER_SIZE, POSITION_SIZE = 200, 190
_BESIDE = 95

_NUMERALS = ((10, "X"), (9, "IX"), (5, "V"), (4, "IV"), (1, "I"))


def roman(number: int) -> str:
    """A number from 1 in Roman figures, as positions are written (common practice).

    >>> roman(14)
    'XIV'
    """
    words = ""
    for value, numeral in _NUMERALS:
        count, number = divmod(number, value)
        words += numeral * count
    return words


def new_positions(fingering: Fingering) -> dict[int, int]:
    """The notes (by index) with which the hand comes to a new position, and that position."""
    found: dict[int, int] = {}
    last = None
    for index, note in enumerate(fingering.notes):
        if note.fret and note.position != last:
            found[index] = last = note.position
    return found


def draw_hand(parent: Element, fingering: Fingering, centres: Mapping[int, float], y: float) -> None:
    """Fingers under the notes of one system, on a line with base ``y``.

    ``centres`` says where each note stands. The position is repeated where a system begins.
    """
    group = SubElement(parent, "g", {"class": "hand"})
    new = new_positions(fingering)
    fresh = True
    for index, x in sorted(centres.items()):
        note = fingering.notes[index]
        if note.fret and (fresh or index in new):
            run = outline(roman(note.position), "Bold", POSITION_SIZE)
            _place(group, run.path, x - _BESIDE - run.width, y, "position")
            fresh = False
        run = outline(str(note.finger), "Italic", FINGER_SIZE)
        _place(group, run.path, x - run.width / 2, y, "finger")


def _place(group: Element, path: str, x: float, y: float, kind: str) -> None:
    move = {"transform": f"translate({x:.0f} {y:.0f})", "stroke": "none"}
    SubElement(group, "path", {"class": kind, "d": path, **move})
