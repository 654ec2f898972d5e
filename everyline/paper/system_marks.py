"""Dresses a drawn system: role marks, figures, degrees, chord symbols and frets in our own look, nothing else
kept.

What verovio draws is taken apart: noteheads, stems, beams, lines and accidentals stay as they are, all text
is drawn anew in the bundled fonts, and what belongs to no note loses its generated id.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from itertools import pairwise
from xml.etree.ElementTree import Element, SubElement

from everyline.paper.blanks import draw_blank
from everyline.paper.clearance import Skyline
from everyline.paper.hand_row import draw_hand
from everyline.paper.instrument_part import Part
from everyline.paper.kinds import kind_of, music_signs
from everyline.paper.layout import Layout
from everyline.paper.look import MARKS, STROKE, RoleMark
from everyline.paper.outlines import outline
from everyline.paper.score_options import ScoreOptions
from everyline.rules.analysis import APPROACH
from everyline.rules.chords import Chord

SPACE = 180
"""A staff space in hundredths of a millimetre."""

CHORD_SIZE, QUALITY_SIZE, DEGREE_SIZE = 330, 265, 240
FRET_SIZE, TIED_FRET_SIZE, BAR_NUMBER_SIZE = 250, 200, 190
BELOW_TAB, ROW, CLEAR_OF_FRETS = 330, 290, 50
"""From the lowest line of a tablature to the first row below it, from one row to the next, and by how much
more fingers keep clear of frets."""

EDGE, CLEAR = 260, 14
"""How far a figure's line runs over the edge of a system, and how near it comes to a mark."""

_XLINK = "{http://www.w3.org/1999/xlink}href"
_NOTE_ID = re.compile(r"([nt])\d+-(\d+)([a-z]?)")
_MOVE = re.compile(r"translate\((-?[\d.]+),\s*(-?[\d.]+)\)")
_HALF_FIGURE, _FIGURES_APART = 80, 60
_HALF_HEADS = {"E0A2": 146, "E0A3": 113, "E0A4": 113}
_DROPPED = frozenset({"grpSym", "placeholder"})
_SILENT = frozenset({"title", "desc", "style"})
_TAB_LINE = "13"


@dataclass(frozen=True, slots=True)
class System:
    """One drawn system: ``width`` and ``height`` in hundredths of a millimetre, its elements, the glyphs they
    use, and which notes of the line (by index) it shows or leaves room for.
    """

    width: int
    height: int
    elements: tuple[Element, ...]
    glyphs: dict[str, str]
    notes: tuple[int, ...] = ()


@dataclass
class _Found:
    """What was met on the way through one system."""

    centres: dict[int, float] = field(default_factory=dict)
    rows: dict[str, float] = field(default_factory=dict)
    blanks: dict[int, float] = field(default_factory=dict)
    glyphs: dict[str, str] = field(default_factory=dict)
    lines: list[tuple[float, float, float]] = field(default_factory=list)
    lowest: float = 0.0
    skyline: Skyline = field(default_factory=Skyline)
    chords: list[Element] = field(default_factory=list)


@dataclass
class SystemMarks:
    """Dresses the systems of one line, one after another.

    Notes get the ids of ``note_id`` for line ``number``, with ``prefix`` before them.
    """

    layout: Layout
    part: Part
    options: ScoreOptions
    colour: bool
    staves: tuple[bool, bool]
    number: int = 1
    prefix: str = ""
    blank_look: str = "box"

    def __post_init__(self) -> None:
        self._tab_items = [w for bar in self.layout.bars for w in bar.written if not w.whole_bar]
        self._chords: list[Chord] = [each.chord for bar in self.layout.bars for each in bar.chords]

    def dress(self, page: Element) -> System:
        """One page of verovio's that holds one system."""
        found = _Found()
        # Every glyph that verovio defines has one path.
        glyphs = {
            glyph.get("id", "").partition("-")[0]: glyph.find("path").get("d", "")  # type: ignore[union-attr]
            for glyph in page.find("defs") or ()
        }
        scale = next(each for each in page.iter("svg") if each.get("class") == "definition-scale")
        width, height = (float(value) for value in scale.get("viewBox", "").split()[2:])
        top = scale.find("g")
        assert top is not None
        body = Element("g")
        for child in top:
            kept = self._keep(child, found, "")
            if kept is not None:
                body.append(kept)
        marks = self._rows(found)
        elements = tuple(each for each in (body, marks) if len(each))
        rise = round(found.skyline.rise())
        if rise:
            for chord in found.chords:
                chord.set("transform", f"translate(0 {-rise})")
            for each in elements:
                each.set("transform", f"translate(0 {rise})")
        below = max([height, *(y + SPACE for y in found.rows.values())]) + rise
        used = {name: glyphs[name] for name in sorted(found.glyphs)}
        notes = tuple(sorted({*found.centres, *found.blanks}))
        return System(round(width), round(below), elements, used, notes)

    # -- what is kept ----------------------------------------------------------------------------------------

    def _keep(self, element: Element, found: _Found, inside: str) -> Element | None:
        """A copy of an element in our own dress; None for what is not kept."""
        words = element.get("class", "").split()
        kind = words[0] if words else inside
        if element.tag in _SILENT or _DROPPED & set(words):
            return None
        if kind == "verse":
            self._verse(element, found)
            return None
        if kind == "harm":
            return self._chord(element, found)
        if element.tag == "text":
            return self._text(element, kind)
        if element.tag == "use":
            return self._use(element, found)
        if kind == "measure":
            _once(element, "meterSig")
        if words and not self.staves[0]:
            element = self._tablature(element, kind, found)
        note = _NOTE_ID.fullmatch(element.get("id", ""))
        if note is not None and kind == "rest":
            self._blank(element, int(note[2]), found)
            return None
        return self._copy(element, found, kind, note)

    def _copy(self, element: Element, found: _Found, kind: str, note: re.Match[str] | None) -> Element | None:
        """A copy without generated ids; notes keep theirs. None for a group in which nothing is left."""
        copy = Element(element.tag, {k: v for k, v in element.attrib.items() if k not in ("id", "class")})
        if note is not None:
            copy.set("id", f"{self.prefix}{note[1]}{self.number}-{note[2]}{note[3]}")
            copy.set("class", "note")
            self._centre(element, note, found)
            kind = "tied" if note[3] else "note"
        if element.tag == "path" and kind == "staff":
            self._line(copy, found)
        elif element.tag == "polygon" or (element.tag == "path" and kind == "stem"):
            found.skyline.points(element.get("points", "") or element.get("d", ""))
        for child in element:
            kept = self._keep(child, found, kind)
            if kept is not None:
                copy.append(kept)
        return None if element.tag == "g" and not len(copy) else copy

    def _tablature(self, element: Element, kind: str, found: _Found) -> Element:
        """A tablature that stands alone: figures of the meter apart, triplet numbers over their middle."""
        if kind == "tabGrp":
            return self._tab_group(element, found)
        if kind == "meterSig":
            figures = [(use, _MOVE.match(use.get("transform", ""))) for use in element.findall("use")]
            heights = [float(move[2]) for _, move in figures if move is not None]
            for use, move in figures:
                if move is not None:
                    upper = float(move[2]) < (min(heights) + max(heights)) / 2
                    y = float(move[2]) + (-_FIGURES_APART if upper else _FIGURES_APART)
                    at = f"translate({move[1]}, {y:.0f})"
                    use.set("transform", _MOVE.sub(at, use.get("transform", "")))
        if kind == "tuplet":
            self._centre_number(element)
        return element

    def _centre_number(self, tuplet: Element) -> None:
        number = tuplet.find("g[@class='tupletNum']/use")
        paths = [path.get("d", "M0") for path in tuplet.iterfind(".//g[@class='stem']/path")]
        stems = [float(path[1:].split()[0]) for path in paths]
        if number is None or not stems or tuplet.find("g[@class='tupletBracket']") is not None:
            return
        move = _MOVE.match(number.get("transform", ""))
        if move is not None:
            middle = (min(stems) + max(stems)) / 2 - _HALF_FIGURE
            at = f"translate({middle:.0f}, {move[2]})"
            number.set("transform", _MOVE.sub(at, number.get("transform", "")))

    def _tab_group(self, element: Element, found: _Found) -> Element:
        """One value of a tablature that stands alone: blanks lose their rest, rests get their dot beside."""
        written = self._tab_items.pop(0)
        use, dot = element.find("g[@class='rest']/use"), element.find("g[@class='tabDurSym']/ellipse")
        move = None if use is None else _MOVE.match(use.get("transform", ""))
        if move is None:
            return element
        if written.note is not None:
            found.blanks.setdefault(written.note, float(move[1]) + _HALF_HEADS["E0A4"])
            return Element("g")
        if dot is not None:
            dot.set("cy", f"{float(move[2]) - SPACE / 2:.0f}")
            dot.set("cx", f"{float(move[1]) + 1.6 * SPACE:.0f}")
        return element

    def _use(self, element: Element, found: _Found) -> Element:
        name = element.get(_XLINK, "#").lstrip("#").partition("-")[0]
        found.glyphs[name] = name
        move = _MOVE.match(element.get("transform", ""))
        if move is not None:
            found.skyline.glyph(name, float(move[1]), float(move[2]))
        return Element("use", {"href": f"#{self.prefix}{name}", "transform": element.get("transform", "")})

    def _line(self, path: Element, found: _Found) -> None:
        """A staff line: tablature lines are drawn as fine as the others."""
        path.set("stroke-width", _TAB_LINE)
        numbers = [float(value) for value in re.findall(r"-?[\d.]+", path.get("d", ""))]
        found.lines.append((numbers[0], numbers[2], numbers[1]))
        found.lowest = max(found.lowest, numbers[1])

    def _centre(self, element: Element, note: re.Match[str], found: _Found) -> None:
        """Remember where a note stands, by its head or, where there is no staff, its fret."""
        if note[3] or (note[1] == "t" and self.staves[0]):
            return
        if note[1] == "t":
            text = element.find("text")
            if text is not None:
                found.centres[int(note[2])] = float(text.get("x", "0"))
            return
        head = element.find("g[@class='notehead']/use")
        if head is not None:
            name = head.get(_XLINK, "#").lstrip("#").partition("-")[0]
            move = _MOVE.match(head.get("transform", ""))
            assert move is not None
            found.centres[int(note[2])] = float(move[1]) + _HALF_HEADS[name]

    def _blank(self, element: Element, index: int, found: _Found) -> None:
        """Remember where a note was left out."""
        use = element.find("use") if element.find("use") is not None else next(element.iter("use"), None)
        if use is not None:
            move = _MOVE.match(use.get("transform", ""))
            assert move is not None
            found.blanks.setdefault(index, float(move[1]) + _HALF_HEADS["E0A4"])

    # -- text ------------------------------------------------------------------------------------------------

    def _verse(self, element: Element, found: _Found) -> None:
        title, text = element.find("title"), next(element.iter("text"), None)
        if title is not None and title.text and text is not None:
            found.rows[title.text] = float(text.get("y", "0"))

    def _chord(self, element: Element, found: _Found) -> Element:
        """A chord symbol: root in bold, the rest smaller."""
        text = next(element.iter("text"))
        chord = self._chords.pop(0)
        group = Element("g", {"class": "chord"})
        root = music_signs(self.part.written_root(chord.root, self.layout.steps) + "b")[:-1]
        x, y = float(text.get("x", "0")), float(text.get("y", "0"))
        at = x + put_text(group, signs_of(root), "Bold", CHORD_SIZE, x, y)
        at += put_text(group, music_signs(kind_of(chord).text), "Regular", QUALITY_SIZE, at + 12, y) + 12
        if chord.bass is not None:
            bass = self.part.written_root(chord.bass, self.layout.steps)
            at += put_text(group, "/" + signs_of(bass), "Regular", QUALITY_SIZE, at, y)
        found.skyline.symbol(x, at - x, y)
        found.chords.append(group)
        return group

    def _text(self, element: Element, kind: str) -> Element:
        """Any other text: frets in the middle of their line, bar numbers."""
        words = "".join(element.itertext()).strip()
        x, y = float(element.get("x", "0")), float(element.get("y", "0"))
        group = Element("g")
        if kind in ("note", "tied"):
            words, size = (f"({words})", TIED_FRET_SIZE) if kind == "tied" else (words, FRET_SIZE)
            run = outline(words, "Regular", size)
            put_text(group, words, "Regular", size, x - run.width / 2, y + 14)
        elif words:
            style = "Italic" if kind == "mNum" else "Regular"
            put_text(group, words, style, BAR_NUMBER_SIZE, x, y)
        return group

    # -- rows below the notes --------------------------------------------------------------------------------

    def _rows(self, found: _Found) -> Element:
        """Role marks with the figures that join them, degrees, and boxes for what is blank."""
        self._rows_below_tablature(found)
        group = Element("g", {"class": "labels"})
        notes = self.layout.line.notes
        if "role" in found.rows:
            y = found.rows["role"] - 80
            self._figures(group, found, y)
            for index, x in sorted(found.centres.items()):
                draw_mark(group, MARKS[notes[index].role], x, y, self.colour)
        if "hand" in found.rows and self.layout.fingering is not None:
            draw_hand(group, self.layout.fingering, found.centres, found.rows["hand"])
        if "degree" in found.rows:
            y = found.rows["degree"]
            for index, x in sorted(found.centres.items()):
                words = music_signs(notes[index].degree)
                run = outline(words, "Regular", DEGREE_SIZE)
                put_text(group, words, "Regular", DEGREE_SIZE, x - run.width / 2, y)
        for x in found.blanks.values():
            draw_blank(group, self.blank_look, x, found.lines, self.staves[0])
        return group

    def _rows_below_tablature(self, found: _Found) -> None:
        y = found.lowest + BELOW_TAB
        if self.staves[1] and self.options.fingers:
            found.rows["hand"] = y + CLEAR_OF_FRETS
            y += ROW + CLEAR_OF_FRETS
        if self.staves[0]:
            return
        if self.options.roles:
            found.rows["role"] = y
            y += ROW
        if self.options.degrees:
            found.rows["degree"] = y

    def _figures(self, group: Element, found: _Found, y: float) -> None:
        """A line through each approach figure to its target; it runs over the edge of a system that splits
        it.
        """
        colour = MARKS[APPROACH].colour if self.colour else "#000"
        for figure in self.layout.line.figures:
            for left, right in pairwise(range(figure.first, figure.target + 1)):
                before, after = found.centres.get(left), found.centres.get(right)
                start = (after or 0) - EDGE if before is None else before + self._half(left) + CLEAR
                end = start + EDGE if after is None else after - self._half(right) - CLEAR
                if (before is None and after is None) or end - start < CLEAR:
                    continue
                drawn = {"d": f"M{start:.0f} {y:.0f}H{end:.0f}", "stroke": colour, "stroke-width": "16"}
                SubElement(group, "path", {"class": "figure", **drawn})

    def _half(self, index: int) -> int:
        return MARKS[self.layout.line.notes[index].role].half_width


def _once(measure: Element, kind: str) -> None:
    """Take a sign off every staff of a measure but the first."""
    for staff in measure.findall("g[@class='staff']")[1:]:
        for parent in list(staff.iter("g")):
            for each in parent.findall(f"g[@class='{kind}']"):
                parent.remove(each)


def signs_of(name: str) -> str:
    """A note name with printed accidentals: ``Bb`` gives ``B♭``."""
    return name[0] + name[1:].replace("b", "♭").replace("#", "♯")


def draw_mark(group: Element, mark: RoleMark, x: float, y: float, colour: bool) -> None:
    """Draw a role's mark with its middle at (x, y)."""
    ink = mark.colour if colour else "#000"
    paint = (
        {"fill": "none", "stroke": ink, "stroke-width": str(STROKE)}
        if mark.hollow
        else {"fill": ink, "stroke": "none"}
    )
    SubElement(
        group,
        "path",
        {"class": f"role {mark.role}", "d": mark.path, "transform": f"translate({x:.0f} {y:.0f})", **paint},
    )


def put_text(group: Element, words: str, style: str, size: int, x: float, y: float) -> float:
    """Draw text from (x, y); answers its width."""
    run = outline(words, style, size)
    if run.path:
        SubElement(
            group, "path", {"d": run.path, "transform": f"translate({x:.0f} {y:.0f})", "stroke": "none"}
        )
    return run.width
