"""Pictures of lines: SVG that needs no font and no other file, and PNG made from it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from xml.etree.ElementTree import Element, SubElement, tostring

from everyline.corpora.errors import InputError
from everyline.paper.engrave import UNITS_PER_MM, engrave
from everyline.paper.layout import staves_of
from everyline.paper.look import roles_of
from everyline.paper.neck import neck_options, neck_words, necks, put_necks
from everyline.paper.outlines import need
from everyline.paper.score_options import ScoreOptions
from everyline.paper.system_marks import System, draw_mark, put_text
from everyline.paper.tempo_mark import beat_of, draw_beat, tempo_words
from everyline.paper.two_parts import SecondStaff
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.ruleset import Rules
from everyline.sound.swing import BY_TEMPO, parse_swing, swing_ratio

MARGIN, GAP, HEADING, HEADING_SIZE = 60, 260, 580, 300
LEGEND_ABOVE, LEGEND_SIZE, LEGEND_STEP = 240, 260, 380
HAND_SIGNS = (("V", "Bold", "position"), ("1–4", "Italic", "left-hand finger"))
"""What stands under a tablature: an example of each sign, its style, and its word."""
LEAST_DPI, MOST_DPI = 50, 1200
LONGEST_NUMBER = 24


@dataclass(frozen=True, slots=True)
class PictureOptions:
    """How a picture is drawn: ``width`` in millimetres; without ``colour`` all is black; ``legend`` explains
    the role marks that occur; ``prefix`` goes before every id, so that many pictures fit into one page.
    """

    width: float = 180
    colour: bool = True
    legend: bool = True
    prefix: str = ""


def svg(
    lines: Sequence[AnnotatedLine],
    score: ScoreOptions | None = None,
    look: PictureOptions | None = None,
    *,
    blanks: Sequence[frozenset[int]] | None = None,
    seconds: Sequence[SecondStaff | None] = (),
) -> str:
    """The lines one below another as one SVG picture.

    Each note is a group of class ``note`` with the id of ``note_id`` on the staff and in the tablature, each
    role mark of class ``role``. ``blanks`` are for each line the notes (by index) that the student is to
    find, ``seconds`` second parts below them. Raises InputError where there is no line or one cannot be drawn
    as asked.
    """
    score, look = score or ScoreOptions(), look or PictureOptions()
    if not lines:
        raise InputError("there is no line to draw; choose one at least.")
    page = _Page(look)
    for place, line in enumerate(lines):
        hidden = blanks[place] if blanks is not None else frozenset()
        second = seconds[place] if seconds else None
        page.heading(line, score, tempo=place == 0)
        systems = engrave(
            line,
            score,
            width=look.width,
            colour=look.colour,
            blanks=hidden,
            number=place + 1,
            prefix=look.prefix,
            second=second,
        )
        for system in systems:
            page.system(system)
        if score.fretboard is not None:
            page.neck(line, score, hidden, place + 1)
    if look.legend and score.roles:
        hand = score.fingers and any(staves_of(line, score)[1] for line in lines)
        shown = [*lines, *(each.line for each in seconds if each is not None)]
        page.legend((note.role for line in shown for note in line.notes), hand)
    return page.finish(lines, seconds)


def png(picture: str, dpi: int = 300) -> bytes:
    """An SVG picture as PNG on white, at so many dots an inch. Raises InputError for a resolution out of
    reach.
    """
    if not LEAST_DPI <= dpi <= MOST_DPI:
        raise InputError(f"{dpi} dots an inch are out of reach: {LEAST_DPI} to {MOST_DPI}.")
    draw = need("resvg_py").svg_to_bytes
    return bytes(draw(svg_string=picture, dpi=float(dpi), background="white", skip_system_fonts=True))


def system_svg(system: System, prefix: str = "") -> str:
    """One system alone as SVG."""
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg"})
    _defs(root, system.glyphs, prefix)
    _group(root, 0).extend(system.elements)
    _size(root, system.width, system.height)
    return tostring(root, encoding="unicode")


class _Page:
    """A picture that grows downward. Units are hundredths of a millimetre."""

    def __init__(self, look: PictureOptions) -> None:
        self.look = look
        self.root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "role": "img"})
        self.glyphs: dict[str, str] = {}
        self.y = 0

    def heading(self, line: AnnotatedLine, score: ScoreOptions, tempo: bool) -> None:
        """The line's number and, where it is wanted, tempo and swing."""
        group = Element("g", {"fill": "currentColor", "stroke": "currentColor", "class": "heading"})
        x, base = 0.0, self.y + HEADING_SIZE + 80
        if score.numbers and line.number is not None:
            x += put_text(group, f"No. {short_number(line.number)}", "Bold", HEADING_SIZE, x, base) + 400
        if tempo:
            draw_tempo(group, score, line.rules, x, base)
        if len(group):
            self.root.append(group)
            self.y += HEADING

    def system(self, system: System) -> None:
        """One system below what is there."""
        self.glyphs.update(system.glyphs)
        _group(self.root, self.y).extend(system.elements)
        self.y += system.height + GAP

    def neck(self, line: AnnotatedLine, score: ScoreOptions, blanks: frozenset[int], number: int) -> None:
        """The line's fretboard below what is there."""
        look = neck_options(score, self.look.colour, self.look.prefix, self.look.width)
        drawn = necks(line, look, blanks=blanks, number=number)
        group = SubElement(self.root, "g", {"class": "necks"})
        SubElement(group, "title").text = neck_words(line, look, blanks=blanks)
        _, self.y = put_necks(group, drawn, round(look.width * UNITS_PER_MM), self.y)
        self.y += GAP

    def legend(self, roles: Iterable[str], hand: bool) -> None:
        """What the role marks mean, and with ``hand`` what stands under the tablature."""
        self.y += LEGEND_ABOVE
        draw_legend(self.root, roles, self.y, self.look.colour, hand)
        self.y += LEGEND_SIZE

    def finish(self, lines: Sequence[AnnotatedLine], seconds: Sequence[SecondStaff | None]) -> str:
        """The whole picture, with a title for those who hear it instead."""
        title = Element("title")
        title.text = "; ".join(spoken(*each) for each in zip_longest(lines, seconds))
        self.root.insert(0, title)
        _defs(self.root, self.glyphs, self.look.prefix)
        _size(self.root, round(self.look.width * UNITS_PER_MM), self.y)
        return tostring(self.root, encoding="unicode")


def short_number(number: int) -> str:
    """A line's number in digits; of more than 24 the first and last eight, for a heading that must fit.

    >>> short_number(10**30)
    '10000000…00000000'
    """
    digits = str(number)
    return digits if len(digits) <= LONGEST_NUMBER else f"{digits[:8]}…{digits[-8:]}"


def spoken(line: AnnotatedLine, second: SecondStaff | None = None) -> str:
    """A line in words, for a title: number, changes, note names, those of a second part."""
    number = "Line" if line.number is None else f"Line {line.number}"
    said = f"{number} over {' '.join(line.rules.progression.text.split())}: {_names(line)}"
    if second is None:
        return said
    return said + ("; the same at concert pitch" if second.concert else f"; below it {_names(second.line)}")


def _names(line: AnnotatedLine) -> str:
    return " ".join(note.name for note in line.notes)


def draw_legend(parent: Element, roles: Iterable[str], y: float, colour: bool, hand: bool) -> float:
    """The marks of the roles that occur, each with its word, on a line with base ``y``, and with ``hand``
    those of position and fingers; answers its width."""
    group = SubElement(parent, "g", {"fill": "currentColor", "class": "legend"})
    x = 0.0
    for mark in roles_of(roles):
        draw_mark(group, mark, x + 90, y - 90, colour)
        x += 220 + put_text(group, mark.word, "Regular", LEGEND_SIZE, x + 220, y) + LEGEND_STEP
    for sign, style, word in HAND_SIGNS if hand else ():
        x += put_text(group, sign, style, LEGEND_SIZE, x, y) + 80
        x += put_text(group, word, "Regular", LEGEND_SIZE, x, y) + LEGEND_STEP
    return x


def draw_tempo(parent: Element, score: ScoreOptions, rules: Rules, x: float, y: float) -> None:
    """Tempo and swing marks, where they are asked for, on a line with base ``y``."""
    if score.tempo is not None:
        meter = rules.progression.meter
        x += draw_beat(parent, beat_of(meter), x, y - 60) + 40
        x += put_text(parent, f"= {tempo_words(score.tempo, meter)}", "Regular", HEADING_SIZE, x, y) + 300
    if score.swing is not None:
        put_text(parent, swing_words(score, rules), "Italic", HEADING_SIZE, x, y)


def swing_words(score: ScoreOptions, rules: Rules) -> str:
    """How eighths are played: ``straight``, ``swing``, or ``swing 2 : 1`` where the ratio was stated."""
    if score.swing is None:
        return ""
    ratio = swing_ratio(rules, score.tempo or 120, score.swing)
    stated = "" if parse_swing(score.swing) == BY_TEMPO else f" {ratio:g} : 1"
    return f"swing{stated}" if ratio > 1 else "straight"


def _defs(root: Element, glyphs: dict[str, str], prefix: str) -> None:
    defs = Element("defs")
    for name, path in sorted(glyphs.items()):
        group = SubElement(defs, "g", {"id": prefix + name})
        SubElement(group, "path", {"d": path, "transform": "scale(1 -1)", "stroke": "none"})
    root.insert(0, defs)


def _group(root: Element, y: int) -> Element:
    move = {"transform": f"translate(0 {y})"} if y else {}
    return SubElement(root, "g", {**move, "fill": "currentColor", "stroke": "currentColor"})


def _size(root: Element, width: int, height: int) -> None:
    full = (width + 2 * MARGIN, height + 2 * MARGIN)
    root.set("viewBox", f"{-MARGIN} {-MARGIN} {full[0]} {full[1]}")
    root.set("width", f"{full[0] / UNITS_PER_MM:g}mm")
    root.set("height", f"{full[1] / UNITS_PER_MM:g}mm")
