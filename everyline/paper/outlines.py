"""Text as outlines of the bundled fonts, so that a picture looks the same on every machine."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from typing import Any

from everyline.corpora.errors import EverylineError
from everyline.paper.fonts import font_path

# Signs that a chord symbol may be written with, and what is drawn for them.
_DRAWN = {"∆": "△", "Δ": "△", "𝄫": "♭♭", "𝄪": "♯♯", "∅": "ø", "º": "°", "−": "–"}


@dataclass(frozen=True, slots=True)
class TextRun:
    """A run of text: an SVG path from (0, 0) on the base line, y downward, and its width; both in the size's
    unit.
    """

    path: str
    width: float


class MissingToolError(EverylineError):
    """A library that paper needs is not installed."""


def need(module: str) -> Any:
    """Import a library that only paper needs. Raises MissingToolError with what to install."""
    from importlib import import_module

    try:
        return import_module(module)
    except ImportError as error:
        raise MissingToolError(
            f"{module.partition('.')[0]} is not installed; paper needs it: pip install 'everyline[paper]'."
        ) from error


@lru_cache(maxsize=4096)
def outline(text: str, style: str, size: int) -> TextRun:
    """The text in a style (Regular, Bold, Italic), ``size`` units from base line to base line.

    Raises EverylineError for a sign that the fonts do not have.
    """
    pens = need("fontTools.pens.transformPen")
    svg = need("fontTools.pens.svgPathPen")
    face = _face(style)
    scale = size / face.units
    pen = svg.SVGPathPen(face.glyphs, ntos=lambda value: str(round(value)))
    at = 0.0
    for sign in "".join(_DRAWN.get(each, each) for each in text):
        name = face.names.get(ord(sign))
        if name is None:
            raise EverylineError(f'"{sign}" (U+{ord(sign):04X}) cannot be drawn: the text font lacks it.')
        glyph = face.glyphs[name]
        glyph.draw(pens.TransformPen(pen, (scale, 0, 0, -scale, at, 0)))
        at += glyph.width * scale
    return TextRun(pen.getCommands(), at)


@dataclass(frozen=True, slots=True)
class _Face:
    glyphs: Any
    names: dict[int, str]
    units: int


@lru_cache(maxsize=3)
def _face(style: str) -> _Face:
    font = need("fontTools.ttLib").TTFont(BytesIO(font_path(style).read_bytes()), lazy=True)
    return _Face(font.getGlyphSet(), font.getBestCmap(), font["head"].unitsPerEm)


@lru_cache(maxsize=64)
def music_glyph(name: str) -> str:
    """SVG path of a glyph of the music font that verovio ships, by its SMuFL name (``E0A4``); 1000 to four
    staff spaces, y upward.
    """
    from pathlib import Path
    from xml.etree import ElementTree

    data = Path(need("verovio").__file__).parent / "data" / "Leipzig" / f"{name}.xml"
    path = ElementTree.parse(data).getroot().find("path")
    if path is None:
        raise EverylineError(f"the music font has no glyph {name}.")
    return path.attrib["d"]
