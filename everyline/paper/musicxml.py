"""MusicXML 4.0 (W3C): any line, or many one after another, as one part that other programs read.

Divisions are always 480 to a quarter note. The note at index i (from 0) of the n-th line (from 1) has the id
``n<n>-<i>`` on the staff and ``t<n>-<i>`` in the tablature; what it is tied on to adds a letter from ``b``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree

from everyline.corpora.errors import InputError
from everyline.paper.bars import Bar
from everyline.paper.elements import (
    Element,
    add,
    add_labels,
    clef_element,
    harmony_element,
    key_element,
    note_element,
    number_direction,
    staff_details,
    tempo_direction,
    time_element,
    transpose_element,
)
from everyline.paper.fingering import Fingering
from everyline.paper.layout import Layout, lay_out, score_part, staves_of
from everyline.paper.options import ScoreOptions
from everyline.paper.part import Part
from everyline.paper.values import QUARTER
from everyline.rules.annotate import AnnotatedLine
from everyline.text import ROLE_WORDS

HEADER = (
    '<?xml version="1.0" encoding="UTF-8" standalone="no"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)


def write(
    lines: Iterable[AnnotatedLine],
    options: ScoreOptions | None = None,
    *,
    fingerings: Sequence[Fingering] | None = None,
    blanks: Sequence[frozenset[int]] | None = None,
) -> bytes:
    """The lines as one MusicXML document in UTF-8, each on a system of its own.

    ``fingerings`` replaces the best ones, one for each line; ``blanks`` are for each line the notes (by
    index) that are left out, as silent room. Raises InputError where there is no line, where lines for
    different instruments are mixed, or where tablature is asked for and a line cannot be fingered.
    """
    chosen, options = list(lines), options or ScoreOptions()
    if not chosen:
        raise InputError("there is no line to write; choose one at least.")
    part = score_part(chosen, options)
    layouts = [
        lay_out(
            line,
            part,
            options,
            fingerings[place] if fingerings is not None else None,
            blanks[place] if blanks is not None else frozenset(),
        )
        for place, line in enumerate(chosen)
    ]
    return document(layouts, part, options)


def document(
    layouts: Sequence[Layout],
    part: Part,
    options: ScoreOptions,
    *,
    role_words: Mapping[str, str] = ROLE_WORDS,
    pages: frozenset[int] = frozenset(),
    show_blanks: bool = False,
    indent: bool = True,
) -> bytes:
    """Lines that are laid out, as MusicXML in UTF-8, indented or all in one line.

    ``role_words`` are the labels of the roles; ``pages`` the bars (by place in each line) that begin a new
    page; ``show_blanks`` prints a rest where a note is left out.
    """
    root = Element("score-partwise", {"version": "4.0"})
    _head(root, part, options)
    staves = staves_of(layouts[0].line, options)
    writer = _Writer(add(root, "part", id="P1"), part, options, staves, role_words, pages, show_blanks)
    for place, layout in enumerate(layouts, 1):
        writer.line(layout, last=place == len(layouts))
    if indent:
        ElementTree.indent(root, " ")
    return (HEADER + ElementTree.tostring(root, encoding="unicode") + "\n").encode("utf-8")


def _head(root: ElementTree.Element, part: Part, options: ScoreOptions) -> None:
    if options.title:
        add(add(root, "work"), "work-title", options.title)
    encoding = add(add(root, "identification"), "encoding")
    add(encoding, "software", "Everyline")
    for element in ("accidental", "beam", "stem"):
        add(encoding, "supports", type="yes" if element != "stem" else "no", element=element)
    listed = add(add(root, "part-list"), "score-part", id="P1")
    add(listed, "part-name", part.name, **{"print-object": "no"})
    add(add(listed, "score-instrument", id="P1-I1"), "instrument-name", part.name)
    sound = add(listed, "midi-instrument", id="P1-I1")
    add(sound, "midi-channel", "1")
    add(sound, "midi-program", str(part.program))


@dataclass
class _Writer:
    """Writes line after line into one part, restating what changes from one to the next."""

    parent: ElementTree.Element
    part: Part
    options: ScoreOptions
    staves: tuple[bool, bool]
    role_words: Mapping[str, str]
    pages: frozenset[int]
    show_blanks: bool
    written_lines: int = 0
    bars: int = 0
    _said: tuple[object, ...] = ()

    def line(self, layout: Layout, last: bool) -> None:
        """Write one line; ``last`` closes the piece with a final bar line."""
        self.written_lines += 1
        for place, bar in enumerate(layout.bars):
            measure = self._measure(bar)
            if place in self.pages:
                add(measure, "print", **{"new-page": "yes"})
            elif place == 0 and self.written_lines > 1:
                add(measure, "print", **{"new-system": "yes"})
            if place == 0:
                self._attributes(measure, layout)
                self._directions(measure, layout)
            self._bar(measure, layout, place)
            if place + 1 == len(layout.bars):
                bar_line = add(measure, "barline", location="right")
                add(bar_line, "bar-style", "light-heavy" if last else "light-light")

    def _measure(self, bar: Bar) -> ElementTree.Element:
        if bar.pickup:
            number = "0" if self.written_lines == 1 else f"X{self.written_lines - 1}"
            return add(self.parent, "measure", number=number, implicit="yes")
        self.bars += 1
        return add(self.parent, "measure", number=str(self.bars))

    def _attributes(self, measure: ElementTree.Element, layout: Layout) -> None:
        """Divisions, key, time, clefs, tuning and transposition: all at first, then what has changed."""
        staff, tab = self.staves
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
            for number in range(1, 1 + staff + tab):
                hidden = staff and number == 2
                attributes.append(time_element(layout.meter, number if staff and tab else None, hidden))
        if first:
            if staff and tab:
                add(attributes, "staves", "2")
            for number, is_tab in enumerate([False] * staff + [True] * tab, 1):
                attributes.append(clef_element(self.part, number, is_tab))
            if tab:
                attributes.append(staff_details(self.part, 2 if staff else 1))
        if self.part.semitones and layout.steps != before[3]:
            attributes.append(transpose_element(self.part.semitones, layout.steps))

    def _directions(self, measure: ElementTree.Element, layout: Layout) -> None:
        if self.options.numbers and layout.line.number is not None:
            measure.append(number_direction(layout.line.number))
        if self.written_lines == 1:
            tempo = tempo_direction(self.options, layout.line.rules)
            if tempo is not None:
                measure.append(tempo)

    def _bar(self, measure: ElementTree.Element, layout: Layout, place: int) -> None:
        staff, tab = self.staves
        bar = layout.bars[place]
        chords = list(bar.chords)
        for number, is_tab in enumerate([False] * staff + [True] * tab, 1):
            if number == 2:
                add(add(measure, "backup"), "duration", str(bar.length))
            for index, each in enumerate(bar.written):
                while number == 1 and chords and chords[0].at < each.end:
                    chord = chords.pop(0)
                    measure.append(
                        harmony_element(chord.chord, self.part, layout.steps, chord.at - each.start)
                    )
                element = note_element(
                    layout,
                    place,
                    index,
                    number=self.written_lines,
                    staff=number if staff and tab else None,
                    tab=is_tab,
                    alone=not (staff and tab),
                    show_blanks=self.show_blanks,
                )
                measure.append(element)
                if number == 1 and each.note is not None and not each.tie_in:
                    if each.note not in layout.blanks:
                        add_labels(element, layout.line.notes[each.note], self.options, self.role_words)
