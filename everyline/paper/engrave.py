"""Engraving: a line as drawn systems, by verovio from our own MusicXML, dressed in our own look.

Lengths are in hundredths of a millimetre at print size, y downward; a staff space is 1.8 mm.
"""

from __future__ import annotations

import re
import threading
from dataclasses import replace
from typing import Any
from xml.etree.ElementTree import Element, fromstring

from everyline.corpora.errors import InputError
from everyline.paper.breaks import system_starts
from everyline.paper.instrument_part import Part
from everyline.paper.layout import Layout, lay_out, score_part, staves_of
from everyline.paper.musicxml import document
from everyline.paper.outlines import need
from everyline.paper.score_options import ScoreOptions
from everyline.paper.system_marks import System, SystemMarks
from everyline.rules.analysis import ROLES
from everyline.rules.annotate import AnnotatedLine

UNITS_PER_MM = 100
NARROWEST, WIDEST = 60, 400
"""Allowed widths of a picture in millimetres."""

_VEROVIO: dict[str, Any] = {
    "adjustPageHeight": True,
    "breaks": "encoded",
    "defaultBottomMargin": 1.5,
    "footer": "none",
    "harmDist": 1.6,
    "header": "none",
    "justificationSystem": 0.0,
    "lyricSize": 3,
    "lyricTopMinMargin": 3,
    "minLastJustification": 0.3,
    "mnumInterval": 0,
    "pageMarginBottom": 0,
    "pageMarginLeft": 0,
    "pageMarginRight": 0,
    "pageMarginTop": 0,
    "smuflTextFont": "none",
    "spacingLinear": 0.25,
    "spacingNonLinear": 0.6,
    "spacingStaff": 5,
    "svgViewBox": True,
    "xmlIdSeed": 1,
}
_local = threading.local()


def _toolkit(width: int) -> Any:
    """This thread's own verovio, set to a page width in tenths of a millimetre."""
    if not hasattr(_local, "toolkit"):
        verovio = need("verovio")
        verovio.enableLog(verovio.LOG_OFF)
        _local.toolkit = verovio.toolkit()
    _local.toolkit.setOptions({**_VEROVIO, "pageWidth": width})
    return _local.toolkit


def engrave(
    line: AnnotatedLine,
    options: ScoreOptions | None = None,
    *,
    width: float = 180,
    colour: bool = True,
    blanks: frozenset[int] = frozenset(),
    number: int = 1,
    prefix: str = "",
    blank_look: str = "box",
) -> tuple[System, ...]:
    """The line in systems of at most ``width`` millimetres, one after another.

    Tempo and number are left to what surrounds the systems. ``blanks`` are notes (by index) that the student
    is to find; ``blank_look`` is what stands there (``BLANK_LOOKS``). Notes have the ids of ``note_id`` for
    line ``number``, with ``prefix`` before them. Raises
    InputError for a width out of reach, and where tablature is asked for and the line cannot be fingered.
    """
    if not NARROWEST <= width <= WIDEST:
        raise InputError(f"a width of {width:g} mm is out of reach: {NARROWEST} to {WIDEST} mm.")
    options = options or ScoreOptions()
    part = score_part([line], options)
    layout = lay_out(line, part, options, blanks=blanks)
    starts = _starts(layout, width)
    pages = _pages(layout, part, options, starts, round(width * 10))
    dresser = SystemMarks(layout, part, options, colour, staves_of(line, options), number, prefix, blank_look)
    return tuple(dresser.dress(page) for page in pages)


def system_count(line: AnnotatedLine, options: ScoreOptions, width: float) -> int:
    """How many systems ``engrave`` makes of a line at a width in millimetres, without drawing it."""
    layout = lay_out(line, score_part([line], options), replace(options, staves="staff"))
    return len(_starts(layout, width))


def _starts(layout: Layout, width: float) -> list[int]:
    signs = [sum(sign is not None for sign in row) for row in layout.accidentals]
    return system_starts(layout.bars, signs, round(width * 10))


def _pages(layout: Layout, part: Part, options: ScoreOptions, starts: list[int], width: int) -> list[Element]:
    """One drawing of verovio's for each system."""
    xml = document(
        [layout],
        part,
        replace(options, fingers=False, numbers=False, tempo=None, swing=None, title=""),
        role_words=dict.fromkeys(ROLES, "o"),
        pages=frozenset(starts),
        show_blanks=True,
        indent=False,
    )
    toolkit = _toolkit(width)
    if not toolkit.loadData(xml.decode("utf-8")):
        raise RuntimeError("verovio could not read our MusicXML")
    # Every system, the first as well, begins a page, so that verovio has no break left to choose.
    if toolkit.getPageCount() != len(starts):
        raise RuntimeError("verovio did not keep our systems")
    drawn = [toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1)]
    return [fromstring(re.sub(r'\sxmlns="[^"]+"', "", svg, count=1)) for svg in drawn]
