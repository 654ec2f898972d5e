"""Room above the staff: how far the chord symbols of a system must rise to touch nothing below them.

The engraver leaves room for symbols of its own size; ours are another. Lengths are in hundredths of a
millimetre, y downward.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

CLEAR = 60
"""The least distance between a chord symbol and what is below it."""
BESIDE = 40
"""How much further than itself a symbol keeps to either side."""

# Width and height above the origin of what may stand high: heads, accidentals, figures of triplets.
_GLYPHS = {
    **{f"E0A{place}": (292 if place == "2" else 226, 90) for place in "234"},
    **{f"E26{place}": (200, 320) for place in "01234"},
    **{f"E88{place}": (160, 250) for place in "0123456789"},
}
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


@dataclass
class Skyline:
    """What stands high in a system, and the chord symbols above it."""

    obstacles: list[tuple[float, float, float]] = field(default_factory=list)
    """Left, right and top of each."""
    symbols: list[tuple[float, float, float]] = field(default_factory=list)
    """Left, right and baseline of each chord symbol."""

    def glyph(self, name: str, x: float, y: float) -> None:
        """A glyph drawn at (x, y), by its code point."""
        if name in _GLYPHS:
            width, above = _GLYPHS[name]
            self.obstacles.append((x, x + width, y - above))

    def points(self, text: str) -> None:
        """A stem or beam, by the numbers of its path or polygon: pairs of x and y."""
        numbers = [float(each) for each in _NUMBER.findall(text)]
        across, down = numbers[::2], numbers[1::2]
        if across and down:
            self.obstacles.append((min(across), max(across), min(down)))

    def symbol(self, x: float, width: float, baseline: float) -> None:
        """A chord symbol."""
        self.symbols.append((x - BESIDE, x + width + BESIDE, baseline))

    def rise(self) -> float:
        """How far all symbols must rise, so that they stay on one line; 0 where they are clear."""
        return max(
            (
                baseline + CLEAR - top
                for left, right, baseline in self.symbols
                for start, end, top in self.obstacles
                if start < right and left < end and top < baseline + CLEAR
            ),
            default=0.0,
        )
