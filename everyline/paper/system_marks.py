"""Dresses a drawn system: role marks, figures, degrees, chord symbols and frets in our own look, nothing else
kept.

What verovio draws is taken apart: noteheads, stems, beams, lines and accidentals stay as they are, all text
is drawn anew in the bundled fonts, and what belongs to no note loses its generated id.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from xml.etree.ElementTree import Element, SubElement

from everyline.paper.blanks import draw_blank
from everyline.paper.clearance import Skyline
from everyline.paper.elements import NOTE_LETTERS
from everyline.paper.hand_row import draw_hand
from everyline.paper.kinds import kind_of, music_signs
from everyline.paper.layout import staves_of
from everyline.paper.look import MARKS, STROKE, RoleMark, roles_of
from everyline.paper.measures import once, through
from everyline.paper.names import draw_name
from everyline.paper.outlines import outline
from everyline.paper.tab_alone import HALF_HEADS, MOVE, SPACE, TabAlone
from everyline.paper.two_parts import Voice
from everyline.rules.analysis import APPROACH
from everyline.rules.chords import Chord

CHORD_SIZE, QUALITY_SIZE, DEGREE_SIZE = 330, 265, 240
FRET_SIZE, TIED_FRET_SIZE, BAR_NUMBER_SIZE = 250, 200, 190
BELOW_TAB, ROW, CLEAR_OF_FRETS = 330, 290, 50
"""From the lowest line of a tablature to the first row below it, from one row to the next, and by how much
more fingers keep clear of frets."""

BESIDE_BRACKET = (250, 30)
"""How far a bar number moves right and up, where a bracket is in its way."""
EDGE, CLEAR = 260, 14
"""How far a figure's line runs over the edge of a system, and how near it comes to a mark."""

_XLINK = "{http://www.w3.org/1999/xlink}href"
_NOTE_ID = re.compile(r"([ntms])\d+-(\d+)([a-z]?)")
TABLATURES = "".join(letters[1] for letters in NOTE_LETTERS)
_DROPPED = frozenset({"placeholder", "dir", "dynam", "label", "labelAbbr"})
_BRACKET = "grpSym"
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
class _Met:
    """What was met of one player on the way through a system."""

    centres: dict[int, float] = field(default_factory=dict)
    rows: dict[str, float] = field(default_factory=dict)
    blanks: dict[int, float] = field(default_factory=dict)
    lines: list[tuple[float, float, float]] = field(default_factory=list)
    lowest: float = 0.0
    skyline: Skyline = field(default_factory=Skyline)
    chords: list[Element] = field(default_factory=list)


@dataclass
class _Found:
    """What was met of all players, the glyphs, and whose staff is being gone through."""

    players: list[_Met]
    glyphs: dict[str, str] = field(default_factory=dict)
    at: int = 0

    @property
    def here(self) -> _Met:
        """The player whose staff it is."""
        return self.players[self.at]


class _Player:
    """One player of the line: what is still to be drawn of it, system after system."""

    def __init__(self, voice: Voice) -> None:
        self.voice = voice
        (self.layout,) = voice.layouts
        self.staves = staves_of(self.layout.line, voice.options)
        self.alone = None if self.staves[0] else TabAlone(self.layout)
        self.chords: list[Chord] = [each.chord for bar in self.layout.bars for each in bar.chords]


@dataclass
class SystemMarks:
    """Dresses the systems of one line, one after another, for one player or two.

    Notes get the ids of ``note_id`` for line ``number``, with ``prefix`` before them.
    """

    voices: Sequence[Voice]
    colour: bool
    number: int = 1
    prefix: str = ""
    blank_look: str = "box"

    def __post_init__(self) -> None:
        self._players = [_Player(voice) for voice in self.voices]
        two = len(self._players) > 1
        self._dropped = _DROPPED if two else _DROPPED | {_BRACKET}

    def dress(self, page: Element) -> System:
        """One page of verovio's that holds one system."""
        found = _Found([_Met() for _ in self._players])
        # Every glyph that verovio defines has one path.
        glyphs = {
            glyph.get("id", "").partition("-")[0]: glyph.find("path").get("d", "")  # type: ignore[union-attr]
            for glyph in page.iterfind("defs/*")
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
        marks = [self._rows(player, met) for player, met in zip(self._players, found.players, strict=True)]
        elements = tuple(each for each in (body, *marks) if len(each))
        rises = [round(met.skyline.rise()) for met in found.players]
        for met, rise in zip(found.players, rises, strict=True):
            for chord in met.chords if rise else ():
                chord.set("transform", f"translate(0 {-rise})")
        for each in elements if rises[0] else ():
            each.set("transform", f"translate(0 {rises[0]})")
        rows = (y + SPACE for met in found.players for y in met.rows.values())
        below = max([height, *rows]) + rises[0]
        used = {name: glyphs[name] for name in sorted(found.glyphs)}
        notes = tuple(sorted({index for met in found.players for index in (*met.centres, *met.blanks)}))
        return System(round(width), round(below), elements, used, notes)

    # -- what is kept ----------------------------------------------------------------------------------------

    def _keep(self, element: Element, found: _Found, inside: str) -> Element | None:
        """A copy of an element in our own dress; None for what is not kept."""
        words = element.get("class", "").split()
        kind = words[0] if words else inside
        if element.tag in _SILENT or self._dropped & set(words):
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
            self._measure(element)
        elif kind == "barLine":
            through(element)
        elif "staff" in words:
            found.at = int(element.get("data-player", "0"))
        player = self._players[found.at]
        if words and player.alone is not None:
            element = player.alone.dress(element, kind, found.here.blanks)
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
            found.here.skyline.points(element.get("points", "") or element.get("d", ""))
        for child in element:
            kept = self._keep(child, found, kind)
            if kept is not None:
                copy.append(kept)
        return None if element.tag == "g" and not len(copy) else copy

    def _measure(self, measure: Element) -> None:
        """Tell each staff whose it is; a meter stands once for each player with a staff and its tablature."""
        staves = measure.findall("g[@class='staff']")
        each = len(staves) // len(self._players)
        for place, staff in enumerate(staves):
            staff.set("data-player", str(place // each))
        for first in range(0, len(staves), each):
            once(staves[first + 1 : first + each], "meterSig")

    def _use(self, element: Element, found: _Found) -> Element:
        name = element.get(_XLINK, "#").lstrip("#").partition("-")[0]
        found.glyphs[name] = name
        move = MOVE.match(element.get("transform", ""))
        if move is not None:
            found.here.skyline.glyph(name, float(move[1]), float(move[2]))
        return Element("use", {"href": f"#{self.prefix}{name}", "transform": element.get("transform", "")})

    def _line(self, path: Element, found: _Found) -> None:
        """A staff line: tablature lines are drawn as fine as the others."""
        path.set("stroke-width", _TAB_LINE)
        numbers = [float(value) for value in re.findall(r"-?[\d.]+", path.get("d", ""))]
        found.here.lines.append((numbers[0], numbers[2], numbers[1]))
        found.here.lowest = max(found.here.lowest, numbers[1])

    def _centre(self, element: Element, note: re.Match[str], found: _Found) -> None:
        """Remember where a note stands, by its head or, where there is no staff, its fret."""
        tab = note[1] in TABLATURES
        if note[3] or (tab and self._players[found.at].alone is None):
            return
        if tab:
            text = element.find("text")
            if text is not None:
                found.here.centres[int(note[2])] = float(text.get("x", "0"))
            return
        head = element.find("g[@class='notehead']/use")
        if head is not None:
            name = head.get(_XLINK, "#").lstrip("#").partition("-")[0]
            move = MOVE.match(head.get("transform", ""))
            assert move is not None
            found.here.centres[int(note[2])] = float(move[1]) + HALF_HEADS[name]

    def _blank(self, element: Element, index: int, found: _Found) -> None:
        """Remember where a note was left out."""
        use = element.find("use") if element.find("use") is not None else next(element.iter("use"), None)
        if use is not None:
            move = MOVE.match(use.get("transform", ""))
            assert move is not None
            found.here.blanks.setdefault(index, float(move[1]) + HALF_HEADS["E0A4"])

    # -- text ------------------------------------------------------------------------------------------------

    def _verse(self, element: Element, found: _Found) -> None:
        title, text = element.find("title"), next(element.iter("text"), None)
        if title is not None and title.text and text is not None:
            found.here.rows[title.text] = float(text.get("y", "0"))

    def _chord(self, element: Element, found: _Found) -> Element:
        """A chord symbol: root in bold, the rest smaller."""
        text = next(element.iter("text"))
        x, y = float(text.get("x", "0")), float(text.get("y", "0"))
        # Symbols come after all staves; those of a second player stand below what the first one has.
        at = int(len(self._players) > 1 and y > found.players[0].lowest)
        player, met = self._players[at], found.players[at]
        part, steps = player.voice.part, player.layout.steps
        chord = player.chords.pop(0)
        group = Element("g", {"class": "chord"})
        root = music_signs(part.written_root(chord.root, steps) + "b")[:-1]
        end = x + put_text(group, signs_of(root), "Bold", CHORD_SIZE, x, y)
        end += put_text(group, music_signs(kind_of(chord).text), "Regular", QUALITY_SIZE, end + 12, y) + 12
        if chord.bass is not None:
            bass = part.written_root(chord.bass, steps)
            end += put_text(group, "/" + signs_of(bass), "Regular", QUALITY_SIZE, end, y)
        met.skyline.symbol(x, end - x, y)
        met.chords.append(group)
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
            if kind == "mNum" and len(self._players) > 1:
                x, y = x + BESIDE_BRACKET[0], y - BESIDE_BRACKET[1]
            put_text(group, words, style, BAR_NUMBER_SIZE, x, y)
        return group

    # -- rows below the notes --------------------------------------------------------------------------------

    def _rows(self, player: _Player, met: _Met) -> Element:
        """Role marks with the figures that join them, degrees, boxes for what is blank, and the name."""
        self._rows_below_tablature(player, met)
        group = Element("g", {"class": "labels"})
        notes = player.layout.line.notes
        if "role" in met.rows:
            y = met.rows["role"] - 80
            self._figures(group, player, met, y)
            for index, x in sorted(met.centres.items()):
                draw_mark(group, MARKS[notes[index].role], x, y, self.colour)
        if "hand" in met.rows and player.layout.fingering is not None:
            draw_hand(group, player.layout.fingering, met.centres, met.rows["hand"])
        if "degree" in met.rows:
            y = met.rows["degree"]
            for index, x in sorted(met.centres.items()):
                words = music_signs(notes[index].degree)
                run = outline(words, "Regular", DEGREE_SIZE)
                put_text(group, words, "Regular", DEGREE_SIZE, x - run.width / 2, y)
        for x in met.blanks.values():
            draw_blank(group, self.blank_look, x, met.lines, player.staves[0])
        if player.voice.name:
            draw_name(group, player.voice.name, met.lines, player.staves[0])
        return group

    def _rows_below_tablature(self, player: _Player, met: _Met) -> None:
        options = player.voice.options
        y = met.lowest + BELOW_TAB
        if player.staves[1] and options.fingers:
            met.rows["hand"] = y + CLEAR_OF_FRETS
            y += ROW + CLEAR_OF_FRETS
        if player.staves[0]:
            return
        if options.roles and roles_of(note.role for note in player.layout.line.notes):
            met.rows["role"] = y
            y += ROW
        if options.degrees:
            met.rows["degree"] = y

    def _figures(self, group: Element, player: _Player, met: _Met, y: float) -> None:
        """A line through each approach figure to its target; it runs over the edge of a system that splits
        it.
        """
        line = player.layout.line
        half = {index: MARKS[note.role].half_width for index, note in enumerate(line.notes)}
        colour = MARKS[APPROACH].colour if self.colour else "#000"
        for figure in line.figures:
            for left, right in pairwise(range(figure.first, figure.target + 1)):
                before, after = met.centres.get(left), met.centres.get(right)
                start = (after or 0) - EDGE if before is None else before + half[left] + CLEAR
                end = start + EDGE if after is None else after - half[right] - CLEAR
                if (before is None and after is None) or end - start < CLEAR:
                    continue
                drawn = {"d": f"M{start:.0f} {y:.0f}H{end:.0f}", "stroke": colour, "stroke-width": "16"}
                SubElement(group, "path", {"class": "figure", **drawn})


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
