"""What concerns all staves of a drawn measure: signs that stand once, bar lines in one stroke."""

from __future__ import annotations

import re
from collections.abc import Sequence
from xml.etree.ElementTree import Element, SubElement

_STROKE = re.compile(r"M(\S+) (\S+) L\1 (\S+)")


def once(staves: Sequence[Element], kind: str) -> None:
    """Take a sign off these staves."""
    for staff in staves:
        for parent in list(staff.iter("g")):
            for each in parent.findall(f"g[@class='{kind}']"):
                parent.remove(each)


def through(bar_line: Element) -> None:
    """Draw each line of a bar line in one stroke; the engraver leaves gaps beside what stands near."""
    strokes: dict[tuple[str, str], list[float]] = {}
    for path in bar_line.findall("path"):
        stroke = _STROKE.fullmatch(path.get("d", ""))
        assert stroke is not None
        at = (stroke[1], path.get("stroke-width", ""))
        strokes.setdefault(at, []).extend((float(stroke[2]), float(stroke[3])))
        bar_line.remove(path)
    for (x, width), ends in strokes.items():
        drawn = {"d": f"M{x} {min(ends):.0f} L{x} {max(ends):.0f}", "stroke-width": width}
        SubElement(bar_line, "path", drawn)
