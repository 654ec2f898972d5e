"""How one fretboard is drawn: wood, strings, the hand's outline, and a shape for each note.

Lengths are in hundredths of a millimetre, y downward.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from itertools import accumulate
from xml.etree.ElementTree import Element, SubElement

from everyline.paper.fingering import Fingering, Hand, default_span
from everyline.paper.look import MARKS, STROKE
from everyline.paper.outlines import outline
from everyline.paper.signs import readable
from everyline.paper.system_marks import put_text
from everyline.rules.analysis import APPROACH, ARPEGGIO, ENDING, ENTRY, HANDOFF, PASSING, TARGET
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.ranges import Fretboard

STRING_GAP = 620
SEAT, NARROWEST_FRET = 640, 860
"""Room for one note across a fret; notes that share a place stand side by side."""
NUT, LABELS, EDGE = 60, 520, 60
FRET_SIZE, NAME_SIZE, ORDER_SIZE, HEAD_SIZE = 250, 270, 235, 260
LEAST_FRETS = 4
DOTS, TWO_DOTS = (3, 5, 7, 9, 15, 17, 19, 21), (12, 24)
"""Frets with one and with two inlaid dots (common practice)."""


def _disc(radius: int) -> str:
    return f"M{-radius} 0a{radius} {radius} 0 1 0 {2 * radius} 0a{radius} {radius} 0 1 0 {-2 * radius} 0Z"


SHAPES: dict[str, str] = {
    ENTRY: "M-190 -255L275 0L-190 255Z",
    ARPEGGIO: _disc(225),
    PASSING: "M-290 205L-110 -205H290L110 205Z",
    APPROACH: "M0 -280L275 0L0 280L-275 0Z",
    TARGET: _disc(250) + _disc(195),
    HANDOFF: "M-215 -215H215V215H-215Z",
    ENDING: "M-290 -165H290V165H-290Z",
}
"""The shape of each role: those of the marks under the staff (``look.MARKS``), with room for two digits."""


@dataclass(frozen=True, slots=True)
class NeckOptions:
    """How a fretboard is drawn: mirrored for a ``left_handed`` player, without ``colour`` all black, without
    ``roles`` every note a plain disc; ``hand`` as for tablature. ``prefix`` goes before every id. Necks stand
    beside each other as far as ``width`` millimetres allow."""

    left_handed: bool = False
    colour: bool = True
    roles: bool = True
    hand: Hand = field(default_factory=Hand)
    prefix: str = ""
    width: float = 180


@dataclass(frozen=True, slots=True)
class Neck:
    """One drawn fretboard: ``width`` and ``height`` in hundredths of a millimetre, and its elements."""

    width: int
    height: int
    elements: tuple[Element, ...]


@dataclass(frozen=True, slots=True)
class Stretch:
    """Part of a line on one neck: indices of its notes, ``positions`` with the first and last note of each
    (counted from 1)."""

    notes: tuple[int, ...]
    positions: tuple[tuple[int, int, int], ...]


class Drawing:
    """Draws one stretch of a line on one neck."""

    def __init__(
        self,
        line: AnnotatedLine,
        board: Fretboard,
        fingering: Fingering,
        stretch: Stretch,
        look: NeckOptions,
        number: int,
    ) -> None:
        self.line, self.board, self.places = line, board, fingering.notes
        self.stretch, self.look, self.number = stretch, look, number
        bound = line.rules.position
        self.span = bound.span if bound is not None else default_span(board)
        self.hands = sorted({position for position, _, _ in stretch.positions})
        self.first, self.last = self._window()
        visits = Counter((self.places[i].string, self.places[i].fret) for i in stretch.notes)
        seats = dict.fromkeys(range(self.first, self.last + 1), 0) | {0: 0}
        for (_, fret), count in visits.items():
            seats[fret] = max(seats[fret], count)
        self.open_width = seats.pop(0) * SEAT
        widths = (max(NARROWEST_FRET, SEAT * count + 140) for count in seats.values())
        # Where each fret wire stands, beginning with the nut or the one before the first fret.
        self.wires = list(accumulate(widths, initial=LABELS + self.open_width + EDGE))
        self.width = self.wires[-1] + 3 * EDGE
        self.top = 340 + HEAD_SIZE * (1 + max(self._rows()))
        self.bottom = self.top + STRING_GAP * (len(board.open) - 1)

    def _window(self) -> tuple[int, int]:
        """The frets that are drawn: all that sound, and all under the hand."""
        frets = [self.places[i].fret for i in self.stretch.notes if self.places[i].fret]
        reach = [fret for hand in self.hands for fret in (hand, hand + self.span - 1)]
        first, last = max(1, min([*frets, *reach], default=1)), max([*frets, *reach], default=1)
        first = 1 if first <= 2 else first
        last = min(max(last, first + LEAST_FRETS - 1), self.board.frets)
        return max(1, min(first, last - LEAST_FRETS + 1)), last

    def neck(self, blanks: frozenset[int]) -> Neck:
        """The neck with its notes."""
        wood = Element("g", {"class": "neck", "fill": "currentColor", "stroke": "currentColor"})
        self._inlays(wood)
        self._hands(wood)
        self._frets(wood)
        self._strings(wood)
        notes = Element("g", {"class": "fretted", "fill": "currentColor", "stroke": "currentColor"})
        self._notes(notes, blanks)
        return Neck(self.width, self.bottom + 760, (wood, notes))

    def _x(self, x: float) -> float:
        return self.width - x if self.look.left_handed else x

    def _y(self, string: int) -> float:
        return self.top + STRING_GAP * (string - 1)

    def _fret_left(self, fret: int) -> float:
        return self.wires[fret - self.first]

    def _middle(self, fret: int) -> float:
        if fret == 0:
            return LABELS + self.open_width / 2 - 40
        return (self._fret_left(fret) + self._fret_left(fret + 1)) / 2

    def _text(self, group: Element, words: str, style: str, size: int, x: float, y: float) -> None:
        """Text with its middle at x."""
        put_text(group, words, style, size, self._x(x) - outline(words, style, size).width / 2, y)

    def _inlays(self, group: Element) -> None:
        middle = (self.top + self.bottom) / 2
        for fret in range(self.first, self.last + 1):
            rows: tuple[float, ...] = (middle,) if fret in DOTS else ()
            if fret in TWO_DOTS:
                rows = (middle - STRING_GAP, middle + STRING_GAP)
            for y in rows:
                at = {"cx": f"{self._x(self._middle(fret)):.0f}", "cy": f"{y:.0f}"}
                SubElement(
                    group, "circle", {"class": "inlay", **at, "r": "95", "stroke": "none", "opacity": ".18"}
                )

    def _frets(self, group: Element) -> None:
        top, bottom = self.top, self.bottom
        for fret in range(self.first, self.last + 2):
            x = self._x(self._fret_left(fret))
            nut = fret == 1
            width = NUT if nut else 18
            SubElement(
                group,
                "path",
                {"class": "fret", "d": f"M{x:.0f} {top:.0f}V{bottom:.0f}", "stroke-width": str(width)},
            )
        for fret in range(self.first, self.last + 1):
            self._text(group, str(fret), "Regular", FRET_SIZE, self._middle(fret), bottom + 640)

    def _strings(self, group: Element) -> None:
        right = self._fret_left(self.last + 1) + (0 if self.last == self.board.frets else EDGE * 1.5)
        left = self._fret_left(self.first) - (0 if self.first == 1 else EDGE * 1.5)
        instrument = self.line.rules.instrument
        assert instrument is not None, "it has frets"
        names = instrument.strings
        for string in self.board.strings:
            y = self._y(string)
            ends = f"M{self._x(left):.0f} {y:.0f}H{self._x(right):.0f}"
            SubElement(group, "path", {"class": "string", "d": ends, "stroke-width": "12"})
            name = names[-string].rstrip("-0123456789")
            self._text(group, readable(name), "Regular", NAME_SIZE, 260, y + 95)

    def _hands(self, group: Element) -> None:
        """The outline of each position, with what it is called and which notes it holds above the neck."""
        strings = (
            self.line.rules.position.strings if self.line.rules.position is not None else self.board.strings
        )
        top, bottom = self._y(min(strings)) - 300, self._y(max(strings)) + 300
        for place, hand in enumerate(self.hands):
            left = self._fret_left(hand) + 25 + 40 * place
            right = self._fret_left(min(hand + self.span, self.last + 1)) - 25 - 40 * place
            x = min(self._x(left), self._x(right))
            box = {"x": f"{x:.0f}", "y": f"{top:.0f}", "width": f"{right - left:.0f}"}
            box |= {"height": f"{bottom - top:.0f}", "rx": "120", "fill": "none", "stroke-width": "26"}
            dashed = {"stroke-dasharray": "160 90"} if place else {}
            SubElement(group, "rect", {"class": "position", **box, **dashed})
        for (words, left), row in zip(self._heads(), self._rows(), strict=False):
            wide = outline(words, "Italic", HEAD_SIZE).width
            x = self._x(left + (wide if self.look.left_handed else 0))
            put_text(
                group, words, "Italic", HEAD_SIZE, max(0, min(x, self.width - wide)), 230 + HEAD_SIZE * row
            )

    def _heads(self) -> list[tuple[str, float]]:
        """What each position is called, and where that begins."""
        found = []
        for hand, first, last in self.stretch.positions:
            words = f"position {hand}"
            if len(self.stretch.positions) > 1:
                words += f" · {first}–{last}" if last > first else f" · {first}"
            found.append((words, self._fret_left(hand)))
        return found

    def _rows(self) -> list[int]:
        """The row of each position's name: the first in which it meets no other."""
        ends: list[float] = []
        rows = []
        for words, left in self._heads():
            row = next((row for row, end in enumerate(ends) if end < left), len(ends))
            ends[row : row + 1] = [left + outline(words, "Italic", HEAD_SIZE).width + 200]
            rows.append(row)
        return rows or [0]

    def _notes(self, group: Element, blanks: frozenset[int]) -> None:
        shown = [index for index in self.stretch.notes if index not in blanks]
        seats = Counter((self.places[i].string, self.places[i].fret) for i in shown)
        taken: Counter[tuple[int, int]] = Counter()
        for index in shown:
            place = self.places[index]
            spot = (place.string, place.fret)
            shift = (taken[spot] - (seats[spot] - 1) / 2) * SEAT
            taken[spot] += 1
            # Side by side in the order in which they are played, also on a mirrored neck.
            x = self._x(self._middle(place.fret)) + shift
            self._note(group, index, x, self._y(place.string))

    def _note(self, group: Element, index: int, x: float, y: float) -> None:
        role = self.line.notes[index].role
        mark = MARKS.get(role) if self.look.roles else None
        hollow = mark is None or mark.hollow
        coloured = mark.colour if self.look.colour and mark is not None else "#000"
        ink = coloured if mark is not None else "currentColor"
        box = SubElement(
            group,
            "g",
            {
                "class": "note",
                "id": f"{self.look.prefix}f{self.number}-{index}",
                "transform": f"translate({x:.0f} {y:.0f})",
            },
        )
        paint = (
            {"fill": "#fff", "stroke": ink, "stroke-width": str(STROKE + 8)}
            if hollow
            else {"fill": ink, "stroke": "none"}
        )
        kind = "shape hollow" if hollow else "shape"
        SubElement(
            box,
            "path",
            {
                "class": f"{kind} {role if self.look.roles else ''}".strip(),
                "d": SHAPES[mark.role if mark is not None else ARPEGGIO],
                **paint,
            },
        )
        words = str(index + 1)
        run = outline(words, "Bold", ORDER_SIZE if index < 99 else ORDER_SIZE - 60)
        across = -45 if mark is not None and role == ENTRY else 0
        look = {"class": "order" if hollow else "order on", "fill": "#000" if hollow else "#fff"}
        move = {"transform": f"translate({across - run.width / 2:.0f} 82)", "stroke": "none"}
        SubElement(box, "path", {**look, "d": run.path, **move})


def has_frets(line: AnnotatedLine) -> bool:
    """Whether a line's instrument has a fretboard."""
    return line.rules.instrument is not None and Fretboard.of(line.rules.instrument) is not None
