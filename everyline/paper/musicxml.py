"""MusicXML 4.0 (W3C): any line, or many one after another, that other programs read.

A staff and its tablature are parts of their own: readers that join ties by pitch would mix them up in one.
Divisions are always 480 to a quarter note. The note at index i (from 0) of the n-th line (from 1) has the id
``n<n>-<i>`` on the staff and ``t<n>-<i>`` in the tablature, of a second part ``m`` and ``s``; what it is tied
on to adds a letter from ``b``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree

from everyline.corpora.errors import InputError
from everyline.paper.bars import Bar
from everyline.paper.breaks import system_starts
from everyline.paper.elements import (
    Element,
    add,
    add_labels,
    add_room,
    clef_element,
    harmony_element,
    key_element,
    note_element,
    number_direction,
    page_layout,
    position_direction,
    room_direction,
    staff_details,
    tempo_direction,
    time_element,
    transpose_element,
)
from everyline.paper.fingering import Fingering
from everyline.paper.hand_row import new_positions
from everyline.paper.layout import Layout, staves_of
from everyline.paper.note_values import QUARTER
from everyline.paper.score_options import ScoreOptions
from everyline.paper.two_parts import SecondStaff, Voice, voices
from everyline.rules.annotate import AnnotatedLine
from everyline.text.drawing import ROLE_WORDS

HEADER = (
    '<?xml version="1.0" encoding="UTF-8" standalone="no"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)

NAME_ROOM = "MMMMMM"
"""What stands for a player's name in a document that will be drawn: names are drawn anew, in as much room."""
_NOT_PRINTED = {"print-object": "no"}

SYSTEM_WIDTH = 1800
"""Width of the music on the page that a document asks for, in tenths of a millimetre."""


def write(
    lines: Iterable[AnnotatedLine],
    options: ScoreOptions | None = None,
    *,
    fingerings: Sequence[Fingering] | None = None,
    blanks: Sequence[frozenset[int]] | None = None,
    seconds: Sequence[SecondStaff | None] = (),
) -> bytes:
    """The lines as one MusicXML document in UTF-8, each on a system of its own.

    ``fingerings`` replaces the best ones, one for each line; ``blanks`` are for each line the notes (by
    index) that are left out, as silent room. ``seconds`` are second parts, one for each line, which stand in
    parts of their own. Raises InputError where there is no line, where lines for different instruments are
    mixed, or where tablature is asked for and a line cannot be fingered.
    """
    chosen, options = list(lines), options or ScoreOptions()
    if not chosen:
        raise InputError("there is no line to write; choose one at least.")
    players = voices(chosen, options, seconds=seconds, fingerings=fingerings, blanks=blanks)
    return document(players, options, width=SYSTEM_WIDTH)


def document(
    players: Sequence[Voice],
    options: ScoreOptions,
    *,
    role_words: Mapping[str, str] = ROLE_WORDS,
    pages: frozenset[int] = frozenset(),
    width: int | None = None,
    drawing: bool = False,
) -> bytes:
    """The lines of one player or two, laid out, as MusicXML in UTF-8.

    ``role_words`` are the labels of the roles; ``pages`` the bars (by place in each line) that begin a new
    page. With a ``width`` of the music, in tenths of a millimetre, the document has a page layout and the
    systems that fit. For a ``drawing`` it is not indented, prints a rest where a note is left out, and keeps
    room for names and for what will stand between the staves.
    """
    root = Element("score-partwise", {"version": "4.0"})
    staves = _staves(players)
    _head(root, options, staves, width is not None, drawing)
    for number, staff in enumerate(staves, 1):
        parent = add(root, "part", id=f"P{number}")
        below = staves[number].voice if drawing and number < len(staves) else None
        room = below is not None and below.lower and (staff.tab or below.chords)
        writer = _Writer(parent, staff, options, number == 1, role_words, pages, width, drawing, room)
        for place, layout in enumerate(staff.voice.layouts, 1):
            writer.line(layout, last=place == len(staff.voice.layouts))
    if not drawing:
        ElementTree.indent(root, " ")
    return (HEADER + ElementTree.tostring(root, encoding="unicode") + "\n").encode("utf-8")


@dataclass(frozen=True, slots=True)
class _Staff:
    """A staff or tablature of a player; ``first`` of that player's."""

    voice: Voice
    tab: bool
    first: bool


def _staves(players: Sequence[Voice]) -> list[_Staff]:
    found = []
    for voice in players:
        staff, tab = staves_of(voice.layouts[0].line, voice.options)
        kinds = [False] * staff + [True] * tab
        found += [_Staff(voice, kind, place == 0) for place, kind in enumerate(kinds)]
    return found


def _head(
    root: ElementTree.Element, options: ScoreOptions, staves: Sequence[_Staff], layout: bool, drawing: bool
) -> None:
    if options.title:
        add(add(root, "work"), "work-title", options.title)
    encoding = add(add(root, "identification"), "encoding")
    add(encoding, "software", "Everyline")
    for element in ("accidental", "beam", "stem"):
        add(encoding, "supports", type="yes" if element != "stem" else "no", element=element)
    if layout:
        root.append(page_layout())
    parts = add(root, "part-list")
    if len(staves) > 1:
        group = add(parts, "part-group", type="start", number="1")
        if staves[-1].voice.lower:
            add(group, "group-symbol", "bracket")
        add(group, "group-barline", "yes")
    for number, staff in enumerate(staves, 1):
        _score_part(parts, staff, number, drawing)
    if len(staves) > 1:
        add(parts, "part-group", type="stop", number="1")


def _score_part(parts: ElementTree.Element, staff: _Staff, number: int, drawing: bool) -> None:
    part, named = staff.voice.part, staff.voice.name
    name = f"{named or part.name}, tablature" if staff.tab else named or part.name
    listed = add(parts, "score-part", id=f"P{number}")
    shown = named and staff.first
    add(listed, "part-name", NAME_ROOM if drawing and shown else name, **{} if shown else _NOT_PRINTED)
    if drawing and shown:
        add(listed, "part-abbreviation", NAME_ROOM)
    add(add(listed, "score-instrument", id=f"P{number}-I1"), "instrument-name", part.name)
    sound = add(listed, "midi-instrument", id=f"P{number}-I1")
    add(sound, "midi-channel", str(number))
    add(sound, "midi-program", str(part.program))
    # A tablature has the notes of its staff, a part at concert pitch those of the first: they sound once.
    if not staff.first or (staff.voice.lower and staff.voice.chords):
        add(sound, "volume", "0")


@dataclass
class _Writer:
    """Writes line after line into one part, restating what changes from one to the next. What concerns the
    whole score stands in the ``top`` part alone, what concerns both a staff and its tablature in the first of
    the two. ``room`` keeps room below: for rows under a tablature, for symbols larger than the engraver's.
    """

    parent: ElementTree.Element
    staff: _Staff
    options: ScoreOptions
    top: bool
    role_words: Mapping[str, str]
    pages: frozenset[int]
    width: int | None
    show_blanks: bool
    room: bool
    written_lines: int = 0
    bars: int = 0
    _said: tuple[object, ...] = ()

    def __post_init__(self) -> None:
        self.part, self.tab, self.first = self.staff.voice.part, self.staff.tab, self.staff.first

    def line(self, layout: Layout, last: bool) -> None:
        """Write one line; ``last`` closes the piece with a final bar line."""
        self.written_lines += 1
        systems = self._systems(layout)
        for place, bar in enumerate(layout.bars):
            measure = self._measure(bar)
            if place in self.pages:
                add(measure, "print", **{"new-page": "yes"})
            elif place in systems or (place == 0 and self.written_lines > 1):
                new = {} if place == 0 and self.written_lines == 1 else {"new-system": "yes"}
                numbers = add(measure, "print", **new)
                add(numbers, "measure-numbering", "system")
            if place == 0:
                self._attributes(measure, layout)
                self._directions(measure, layout)
            self._bar(measure, layout, place)
            if place + 1 == len(layout.bars):
                bar_line = add(measure, "barline", location="right")
                add(bar_line, "bar-style", "light-heavy" if last else "light-light")

    def _systems(self, layout: Layout) -> frozenset[int]:
        """The bars (by place) with which a system begins, where the document has a page layout."""
        if self.width is None:
            return frozenset()
        signs = [sum(sign is not None for sign in row) for row in layout.accidentals]
        return frozenset(system_starts(layout.bars, signs, self.width))

    def _measure(self, bar: Bar) -> ElementTree.Element:
        if bar.pickup:
            number = "0" if self.written_lines == 1 else f"X{self.written_lines - 1}"
            return add(self.parent, "measure", number=number, implicit="yes")
        self.bars += 1
        # Each number is there once in the document; what is printed counts from the line's first bar.
        shown = {"text": str(bar.number)} if self.bars != bar.number else {}
        return add(self.parent, "measure", number=str(self.bars), **shown)

    def _attributes(self, measure: ElementTree.Element, layout: Layout) -> None:
        """Divisions, key, time, clef, tuning and transposition: all at first, then what has changed."""
        said = (layout.fifths, layout.minor, layout.meter, layout.steps)
        first = not self._said
        before = self._said or (None, False, None, None)
        self._said = said
        if not first and said == before:
            return
        attributes = add(measure, "attributes")
        if first:
            add(attributes, "divisions", str(QUARTER))
        if said[:2] != before[:2]:
            attributes.append(key_element(layout.fifths or 0, layout.minor))
        if layout.meter != before[2]:
            attributes.append(time_element(layout.meter))
        if first:
            attributes.append(clef_element(self.part, self.tab))
            if self.tab:
                attributes.append(staff_details(self.part, beside=not self.first))
        if self.part.semitones and layout.steps != before[3]:
            attributes.append(transpose_element(self.part.semitones, layout.steps))

    def _directions(self, measure: ElementTree.Element, layout: Layout) -> None:
        if not self.top:
            return
        if self.options.numbers and layout.line.number is not None:
            measure.append(number_direction(layout.line.number))
        if self.written_lines == 1:
            tempo = tempo_direction(self.options, layout.line.rules)
            if tempo is not None:
                measure.append(tempo)

    def _positions(self, layout: Layout) -> dict[int, int]:
        """Where the hand comes to a new position, by note; said in the tablature."""
        if not (self.tab and self.options.fingers) or layout.fingering is None:
            return {}
        new = new_positions(layout.fingering)
        return {note: position for note, position in new.items() if note not in layout.blanks}

    def _bar(self, measure: ElementTree.Element, layout: Layout, place: int) -> None:
        bar = layout.bars[place]
        chords = list(bar.chords) if self.first and self.staff.voice.chords else []
        positions = self._positions(layout)
        for index, each in enumerate(bar.written):
            while chords and chords[0].at < each.end:
                chord = chords.pop(0)
                measure.append(harmony_element(chord.chord, self.part, layout.steps, chord.at - each.start))
            if self.room and self.tab:
                measure.append(room_direction(rows=self.first))
            if each.note in positions and not each.tie_in:
                measure.append(position_direction(positions[each.note]))
            element = note_element(
                layout,
                place,
                index,
                number=self.written_lines,
                tab=self.tab,
                alone=self.first,
                show_blanks=self.show_blanks,
                fingers=self.options.fingers and self.first,
                lower=self.staff.voice.lower,
            )
            measure.append(element)
            if self.room and not self.tab and element.find("pitch") is not None:
                add_room(element)
            if self.first and each.note is not None and not each.tie_in and each.note not in layout.blanks:
                add_labels(element, layout.line.notes[each.note], self.staff.voice.options, self.role_words)
