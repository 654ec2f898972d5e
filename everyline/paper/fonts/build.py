"""Makes the text fonts of this folder: Lato, cut down to what lines and sheets need, with musical
accidentals.

    python -m everyline.paper.fonts.build FOLDER_WITH_LATO

The folder holds Lato-Regular.ttf, Lato-Bold.ttf and Lato-Italic.ttf (version 2.0, as in Debian's package
fonts-lato). Lato is under the SIL Open Font License 1.1 (OFL.txt) and its name is reserved, so the result has
a name of its own, under the same licence. The accidentals are drawn here. The same input gives the same
bytes.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

FAMILY = "Everyline Text"
STYLES = {"Regular": "Lato-Regular.ttf", "Bold": "Lato-Bold.ttf", "Italic": "Lato-Italic.ttf"}
RANGES = ((0x20, 0x17F), (0x218, 0x21B), (0x386, 0x3CE), (0x400, 0x45F), (0x2010, 0x2026), (0x2190, 0x2193))
SINGLES = "ẞ€−×÷≤≥≠½¼¾∆Δ•·‰″′"
SIGNS: dict[int, str] = {
    0x266D: "M50 -20L50 810L108 810L108 400C140 445 190 470 236 470C310 470 362 420 362 345"
    "C362 205 215 75 50 -20ZM108 95C200 160 270 250 270 340C270 385 250 408 214 408C170 408 128 370 108 320Z",
    0x266E: "M40 60L40 800L92 800L92 560L318 610L318 -100L266 -100L266 150ZM92 460L92 200L266 240L266 500Z",
    0x266F: "M110 -50L162 -50L162 700L110 700ZM268 5L320 5L320 755L268 755Z"
    "M30 165L400 255L400 335L30 245ZM30 375L400 465L400 545L30 455Z",
    0x25B3: "M40 0L340 640L640 0ZM125 56L555 56L340 515Z",
}
"""Flat, natural, sharp and the triangle of a major seventh, drawn for this project: SVG paths in thousandths
of the text's size, y upward."""
WEIGHT = {"Regular": 1.0, "Bold": 1.12, "Italic": 1.0}
"""How much wider the signs are drawn in each style."""
BEARING = 50
"""Room on both sides of an added glyph, in the font's units (2000 to the text's size)."""
TIMESTAMP = 3_500_000_000
"""Seconds since 1904 in the fonts' headers: a fixed date, so that a rebuild changes nothing."""


def build(folder: Path, out: Path) -> list[Path]:
    """Write the fonts; answers their paths. Raises OSError where a source is missing."""
    written = []
    for style, source in STYLES.items():
        path = out / f"EverylineText-{style}.ttf"
        _build_one(folder / source, style, path)
        written.append(path)
    return written


def _build_one(source: Path, style: str, out: Path) -> None:
    from fontTools.subset import Options, Subsetter
    from fontTools.ttLib import TTFont

    font = TTFont(source, recalcTimestamp=False)
    wanted = {code for low, high in RANGES for code in range(low, high + 1)} | {ord(sign) for sign in SINGLES}
    options = Options(hinting=False, layout_features=["kern", "mark", "mkmk", "ccmp", "locl", "liga"])
    options.name_IDs = [0, 5, 13, 14]
    options.notdef_outline = True
    cut = Subsetter(options)
    cut.populate(unicodes=wanted)
    cut.subset(font)
    units = font["head"].unitsPerEm / 1000
    for code, path in SIGNS.items():
        _add(font, code, path, (units * WEIGHT[style], units))
    _name(font, style)
    font["head"].created = font["head"].modified = TIMESTAMP
    font.save(out)


def _add(font: Any, code: int, path: str, scale: tuple[float, float]) -> None:
    """Add an outline as a glyph with a small bearing on both sides."""
    from fontTools.misc.transform import Transform
    from fontTools.pens.boundsPen import BoundsPen
    from fontTools.pens.cu2quPen import Cu2QuPen
    from fontTools.pens.recordingPen import RecordingPen
    from fontTools.pens.transformPen import TransformPen
    from fontTools.pens.ttGlyphPen import TTGlyphPen
    from fontTools.svgLib.path import parse_path

    drawn = RecordingPen()
    parse_path(path, drawn)
    bounds = BoundsPen(None)
    drawn.replay(bounds)
    left, _, right, _ = bounds.bounds
    wide, high = scale
    glyph = TTGlyphPen(None)
    move = Transform(wide, 0, 0, high, BEARING - left * wide, 0)
    drawn.replay(TransformPen(Cu2QuPen(glyph, 1.0, reverse_direction=True), move))
    name = f"uni{code:04X}"
    font.setGlyphOrder([*font.getGlyphOrder(), name])
    font["glyf"][name] = glyph.glyph()
    font["hmtx"][name] = (round((right - left) * wide + 2 * BEARING), BEARING)
    for table in font["cmap"].tables:
        table.cmap[code] = name


def _name(font: Any, style: str) -> None:
    names = font["name"]
    for record, text in {
        1: FAMILY,
        2: style,
        3: f"{FAMILY} {style}",
        4: f"{FAMILY} {style}",
        6: f"EverylineText-{style}",
    }.items():
        names.setName(text, record, 3, 1, 0x409)
        names.setName(text, record, 1, 0, 0)


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    for each in build(Path(sys.argv[1]), Path(__file__).resolve().parent):
        print(each)
