"""Engraving: a line as drawn systems, by verovio from our own MusicXML, dressed in our own look.

Lengths are in hundredths of a millimetre at print size, y downward; a staff space is 1.8 mm.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Sequence
from dataclasses import replace
from typing import Any
from xml.etree.ElementTree import Element, fromstring

from everyline.corpora.errors import InputError
from everyline.paper.breaks import system_starts
from everyline.paper.layout import lay_out, score_part
from everyline.paper.musicxml import document
from everyline.paper.outlines import need
from everyline.paper.score_options import ScoreOptions
from everyline.paper.system_marks import System, SystemMarks
from everyline.paper.two_parts import SecondStaff, Voice, voices
from everyline.rules.analysis import ROLES
from everyline.rules.annotate import AnnotatedLine

UNITS_PER_MM = 100
NAME_WIDTH = 180
"""Room in tenths of a millimetre that the names of two players take at the left."""
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
    second: SecondStaff | None = None,
) -> tuple[System, ...]:
    """The line in systems of at most ``width`` millimetres, one after another.

    Tempo and number are left to what surrounds the systems. ``blanks`` are notes (by index) that the student
    is to find; ``blank_look`` is what stands there (``BLANK_LOOKS``). Notes have the ids of ``note_id`` for
    line ``number``, with ``prefix`` before them. A ``second`` part stands below in the same systems. Raises
    InputError for a width out of reach, and where tablature is asked for and the line cannot be fingered.
    """
    if not NARROWEST <= width <= WIDEST:
        raise InputError(f"a width of {width:g} mm is out of reach: {NARROWEST} to {WIDEST} mm.")
    options = options or ScoreOptions()
    players = voices([line], options, seconds=[second], blanks=[blanks])
    pages = _pages(players, options, _starts(players, width), round(width * 10))
    dresser = SystemMarks(players, colour, number, prefix, blank_look)
    return tuple(dresser.dress(page) for page in pages)


def system_count(line: AnnotatedLine, options: ScoreOptions, width: float) -> int:
    """How many systems ``engrave`` makes of a line at a width in millimetres, without drawing it."""
    bare = replace(options, staves="staff")
    part = score_part([line], options)
    return len(_starts([Voice(part, bare, (lay_out(line, part, bare),))], width))


def _starts(players: Sequence[Voice], width: float) -> list[int]:
    """The bars with which systems begin; a bar has the room that the fuller of two parts needs in it."""
    layouts = [player.layouts[0] for player in players]
    signs = [[sum(sign is not None for sign in row) for row in layout.accidentals] for layout in layouts]
    room = round(width * 10) - (NAME_WIDTH if players[0].name else 0)
    return system_starts(layouts[0].bars, [max(counts) for counts in zip(*signs, strict=True)], room)


def _bare(options: ScoreOptions) -> ScoreOptions:
    """The same without what is drawn here, or left to what surrounds the systems."""
    return replace(options, fingers=False, numbers=False, tempo=None, swing=None, title="")


def _pages(players: Sequence[Voice], options: ScoreOptions, starts: list[int], width: int) -> list[Element]:
    """One drawing of verovio's for each system."""
    xml = document(
        [replace(player, options=_bare(player.options)) for player in players],
        _bare(options),
        role_words=dict.fromkeys(ROLES, "o"),
        pages=frozenset(starts),
        drawing=True,
    )
    toolkit = _toolkit(width)
    if not toolkit.loadData(xml.decode("utf-8")):
        raise RuntimeError("verovio could not read our MusicXML")
    # Every system, the first as well, begins a page, so that verovio has no break left to choose.
    if toolkit.getPageCount() != len(starts):
        raise RuntimeError("verovio did not keep our systems")
    drawn = [toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1)]
    return [fromstring(re.sub(r'\sxmlns="[^"]+"', "", svg, count=1)) for svg in drawn]
