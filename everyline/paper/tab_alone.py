"""A tablature without a staff: figures of the meter apart, triplet numbers over their middle, rests with
their dot beside them.
"""

from __future__ import annotations

import re
from xml.etree.ElementTree import Element

from everyline.paper.layout import Layout

HALF_HEADS = {"E0A2": 146, "E0A3": 113, "E0A4": 113}
"""Half the width of each notehead, in hundredths of a millimetre."""
SPACE = 180
"""A staff space, in hundredths of a millimetre."""
_HALF_FIGURE, _FIGURES_APART = 80, 60
MOVE = re.compile(r"translate\((-?[\d.]+),\s*(-?[\d.]+)\)")


class TabAlone:
    """Dresses the tablature of one line, value after value as they are written."""

    def __init__(self, layout: Layout) -> None:
        self._waiting = [w for bar in layout.bars for w in bar.written if not w.whole_bar]

    def dress(self, element: Element, kind: str, blanks: dict[int, float]) -> Element:
        """An element of class ``kind``, dressed; where a note is left out, its place goes to ``blanks``."""
        if kind == "tabGrp":
            return self._group(element, blanks)
        if kind == "meterSig":
            _figures_apart(element)
        if kind == "tuplet":
            _centre_number(element)
        return element

    def _group(self, element: Element, blanks: dict[int, float]) -> Element:
        """One value: blanks lose their rest, rests get their dot beside."""
        written = self._waiting.pop(0)
        use, dot = element.find("g[@class='rest']/use"), element.find("g[@class='tabDurSym']/ellipse")
        move = None if use is None else MOVE.match(use.get("transform", ""))
        if move is None:
            return element
        if written.note is not None:
            blanks.setdefault(written.note, float(move[1]) + HALF_HEADS["E0A4"])
            return Element("g")
        if dot is not None:
            dot.set("cy", f"{float(move[2]) - SPACE / 2:.0f}")
            dot.set("cx", f"{float(move[1]) + 1.6 * SPACE:.0f}")
        return element


def _figures_apart(meter: Element) -> None:
    figures = [(use, MOVE.match(use.get("transform", ""))) for use in meter.findall("use")]
    heights = [float(move[2]) for _, move in figures if move is not None]
    for use, move in figures:
        if move is not None:
            upper = float(move[2]) < (min(heights) + max(heights)) / 2
            y = float(move[2]) + (-_FIGURES_APART if upper else _FIGURES_APART)
            at = f"translate({move[1]}, {y:.0f})"
            use.set("transform", MOVE.sub(at, use.get("transform", "")))


def _centre_number(tuplet: Element) -> None:
    number = tuplet.find("g[@class='tupletNum']/use")
    paths = [path.get("d", "M0") for path in tuplet.iterfind(".//g[@class='stem']/path")]
    stems = [float(path[1:].split()[0]) for path in paths]
    if number is None or not stems or tuplet.find("g[@class='tupletBracket']") is not None:
        return
    move = MOVE.match(number.get("transform", ""))
    if move is not None:
        middle = (min(stems) + max(stems)) / 2 - _HALF_FIGURE
        at = f"translate({middle:.0f}, {move[2]})"
        number.set("transform", MOVE.sub(at, number.get("transform", "")))
