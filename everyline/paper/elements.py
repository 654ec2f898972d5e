"""The elements of a MusicXML document that a line needs, each built from plain values."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement

from everyline.paper.accidentals import Accidental
from everyline.paper.bars import Bar
from everyline.paper.hand_row import roman
from everyline.paper.instrument_part import CLEFS, Part, Pitch
from everyline.paper.kinds import kind_of, music_signs
from everyline.paper.layout import Layout
from everyline.paper.note_values import TYPES, WrittenMeter, WrittenNote
from everyline.paper.score_options import ScoreOptions
from everyline.paper.tempo_mark import beat_of, tempo_words
from everyline.rules.annotate import AnnotatedNote
from everyline.rules.chords import Chord
from everyline.rules.pitch import ACCIDENTALS, LETTERS
from everyline.rules.ruleset import Rules
from everyline.sound.swing import swing_ratio

__all__ = ["Element", "add"]

_TRIPLET = (3, 2)
_TAB_SIZE = "85"
_LARGEST_TERM = 20
_LETTERS = {value: letter for letter, value in LETTERS.items()}


def add(parent: Element, tag: str, content: str | None = None, /, **attributes: str) -> Element:
    """Add a child with its text and attributes; answers the child."""
    child = SubElement(parent, tag, attributes)
    child.text = content
    return child


def note_id(line: int, index: int, tab: bool = False, tied: int = 0, lower: bool = False) -> str:
    """The id of a note: line from 1, index from 0, ``tied`` counts the written values of one note from 0;
    ``lower`` is the second of two parts."""
    letter = NOTE_LETTERS[lower][tab]
    return f"{letter}{line}-{index}{chr(ord('a') + tied) if tied else ''}"


NOTE_LETTERS = ("nt", "ms")
"""With what the ids of notes begin, for each part on its staff and in its tablature."""


PAGE, PAGE_MARGIN, STAFF = (210.0, 297.0), 15.0, 7.2
"""The page that a document asks for (A4, ISO 216), its margins and the height of a staff, in millimetres."""


def page_layout() -> Element:
    """Size of the page and of the staves, in tenths of a staff space (40 to a staff, MusicXML 4.0)."""
    defaults = Element("defaults")
    scaling = add(defaults, "scaling")
    add(scaling, "millimeters", f"{STAFF:g}")
    add(scaling, "tenths", "40")
    page = add(defaults, "page-layout")
    width, height = (round(side * 40 / STAFF) for side in PAGE)
    add(page, "page-height", str(height))
    add(page, "page-width", str(width))
    margins = add(page, "page-margins", type="both")
    for side in ("left", "right", "top", "bottom"):
        add(margins, f"{side}-margin", str(round(PAGE_MARGIN * 40 / STAFF)))
    return defaults


# -- attributes ----------------------------------------------------------------------------------------------


def key_element(fifths: int, minor: bool) -> Element:
    """A key signature."""
    key = Element("key")
    add(key, "fifths", str(fifths))
    add(key, "mode", "minor" if minor else "major")
    return key


def time_element(meter: WrittenMeter) -> Element:
    """A time signature."""
    time = Element("time")
    add(time, "beats", str(meter.beats))
    add(time, "beat-type", str(meter.unit))
    return time


def clef_element(part: Part, tab: bool) -> Element:
    """A clef. A tablature's clef stands on its fifth line (MusicXML 4.0, clef)."""
    clef = Element("clef")
    sign, line = ("TAB", 5) if tab else CLEFS[part.clef]
    add(clef, "sign", sign)
    add(clef, "line", str(line))
    if part.octaves and not tab:
        add(clef, "clef-octave-change", str(part.octaves))
    return clef


def staff_details(part: Part, beside: bool) -> Element:
    """Lines and tuning of a tablature; line 1 is the lowest, the string of the highest number.

    One that stands ``beside`` a staff is a little smaller.
    """
    details = Element("staff-details")
    add(details, "staff-lines", str(len(part.tuning)))
    for line, pitch in enumerate(reversed(part.tuning), 1):
        tuning = add(details, "staff-tuning", line=str(line))
        letter = _LETTERS.get(pitch % 12)
        add(tuning, "tuning-step", letter or _LETTERS[pitch % 12 - 1])
        if letter is None:
            add(tuning, "tuning-alter", "1")
        add(tuning, "tuning-octave", str(pitch // 12 - 1))
    if beside:
        add(details, "staff-size", _TAB_SIZE)
    return details


def transpose_element(semitones: int, steps: int) -> Element:
    """From the written to the sounding pitch; whole octaves are stated apart."""
    octaves = -(semitones // 12)
    transpose = Element("transpose")
    add(transpose, "diatonic", str(-(steps - 7 * (semitones // 12))))
    add(transpose, "chromatic", str(-(semitones % 12)))
    if octaves:
        add(transpose, "octave-change", str(octaves))
    return transpose


# -- above the staff -----------------------------------------------------------------------------------------


def number_direction(number: int) -> Element:
    """The line's number, above its first bar."""
    direction = Element("direction", {"placement": "above"})
    add(add(direction, "direction-type"), "words", f"No. {number}")
    return direction


def position_direction(position: int) -> Element:
    """A position of the left hand, above the note with which it begins, in Roman figures."""
    direction = Element("direction", {"placement": "above"})
    add(add(direction, "direction-type"), "words", roman(position))
    return direction


def room_direction(rows: bool) -> Element:
    """What keeps room below a tablature, in a document that will be drawn: a dynamic as high as one row, or
    words as high as the ``rows`` of one that stands alone."""
    direction = Element("direction", {"placement": "below"})
    kind = add(direction, "direction-type")
    if rows:
        add(kind, "words", "room")
    else:
        add(add(kind, "dynamics"), "p")
    return direction


def tempo_direction(options: ScoreOptions, rules: Rules) -> Element | None:
    """Tempo and swing marks, or None where neither is asked for."""
    if options.tempo is None and options.swing is None:
        return None
    direction = Element("direction", {"placement": "above"})
    sound = Element("sound")
    if options.swing is not None:
        ratio = swing_ratio(rules, options.tempo or 120, options.swing)
        add(add(direction, "direction-type"), "words", "Swing" if ratio > 1 else "Straight")
        swing = add(sound, "swing")
        if ratio > 1:
            terms = Fraction(ratio).limit_denominator(_LARGEST_TERM)
            add(swing, "first", str(terms.numerator))
            add(swing, "second", str(terms.denominator))
            add(swing, "swing-type", "eighth")
        else:
            add(swing, "straight")
    if options.tempo is not None:
        mark = add(add(direction, "direction-type"), "metronome")
        beat = beat_of(rules.progression.meter)
        add(mark, "beat-unit", beat.type)
        if beat.dotted:
            add(mark, "beat-unit-dot")
        add(mark, "per-minute", tempo_words(options.tempo, rules.progression.meter))
        sound.set("tempo", f"{options.tempo * rules.progression.meter.quarters:g}")
    direction.append(sound)
    return direction


def harmony_element(chord: Chord, part: Part, steps: int, offset: int) -> Element:
    """A chord symbol as the part reads it, ``offset`` after the note that follows it (480 to a quarter)."""
    kind = kind_of(chord)
    harmony = Element("harmony", {"print-frame": "no"})
    _root(add(harmony, "root"), "root", part.written_root(chord.root, steps))
    add(harmony, "kind", kind.value, text=music_signs(kind.text))
    if chord.bass is not None:
        _root(add(harmony, "bass"), "bass", part.written_root(chord.bass, steps))
    for degree in kind.degrees:
        element = add(harmony, "degree", **{"print-object": "no"})
        add(element, "degree-value", str(degree.value))
        add(element, "degree-alter", str(degree.alter))
        add(element, "degree-type", degree.type)
    if offset:
        add(harmony, "offset", str(offset))
    return harmony


def _root(parent: Element, what: str, name: str) -> None:
    add(parent, f"{what}-step", name[0])
    if name[1:]:
        add(parent, f"{what}-alter", str(ACCIDENTALS[name[1:]]))


# -- notes ---------------------------------------------------------------------------------------------------


def note_element(
    layout: Layout,
    place: int,
    index: int,
    *,
    number: int,
    tab: bool,
    alone: bool,
    show_blanks: bool = False,
    fingers: bool = False,
    lower: bool = False,
) -> Element:
    """The note or rest at ``index`` of the bar at ``place``, for line ``number`` of the document.

    A tablature that stands ``alone`` shows stems and rests itself. A blank is a rest with the id that its
    note would have, printed only with ``show_blanks``. ``fingers`` adds the left-hand finger; ``lower`` is
    the second of two parts.
    """
    bar = layout.bars[place]
    written = bar.written[index]
    bare, blank = tab and not alone, written.note in layout.blanks
    sounding = None if blank else written.note
    note = Element("note")
    if written.note is not None:
        tied = _tied_before(layout.bars, place, index)
        note.set("id", note_id(number, written.note, tab, tied, lower))
    if sounding is None:
        if bare or (blank and not show_blanks):
            note.set("print-object", "no")
        add(note, "rest", **({"measure": "yes"} if written.whole_bar else {}))
    else:
        _pitch(note, layout.pitches[sounding])
    add(note, "duration", str(written.length))
    if sounding is not None:
        _ties(note, "tie", written)
    add(note, "voice", "1")
    if not written.whole_bar:
        _value(note, written, None if tab else layout.accidentals[place][index])
    if bare and sounding is not None:
        add(note, "stem", "none")
    for level, word in enumerate(() if bare else bar.beams[index], 1):
        add(note, "beam", word, number=str(level))
    _notations(note, layout, place, index, tab, bare)
    if fingers and sounding is not None and not written.tie_in:
        _finger(note, layout, sounding)
    return note


def _finger(note: Element, layout: Layout, index: int) -> None:
    """The left-hand finger of a fretted note."""
    if layout.fingering is None or not layout.fingering.notes[index].finger:
        return
    notations = note.find("notations")
    notations = add(note, "notations") if notations is None else notations
    technical = notations.find("technical")
    technical = add(notations, "technical") if technical is None else technical
    add(technical, "fingering", str(layout.fingering.notes[index].finger))


def _notations(note: Element, layout: Layout, place: int, index: int, tab: bool, bare: bool) -> None:
    """Ties, triplets, string and fret, where the note has any."""
    bar = layout.bars[place]
    written = bar.written[index]
    notations = Element("notations")
    sounding = written.note is not None and written.note not in layout.blanks
    if sounding:
        _ties(notations, "tied", written)
    _tuplet(notations, bar, index, tab, bare)
    if tab and sounding and written.note is not None and layout.fingering is not None:
        fretted = layout.fingering.notes[written.note]
        technical = add(notations, "technical")
        add(technical, "string", str(fretted.string))
        add(technical, "fret", str(fretted.fret))
    if len(notations):
        note.append(notations)


def _ties(parent: Element, tag: str, written: WrittenNote) -> None:
    for word, there in (("stop", written.tie_in), ("start", written.tie_out)):
        if there:
            add(parent, tag, type=word)


def _tied_before(bars: tuple[Bar, ...], place: int, index: int) -> int:
    """How many written values of the same note come before this one."""
    note = bars[place].written[index].note
    before = [w for bar in bars[:place] for w in bar.written] + list(bars[place].written[:index])
    return sum(w.note == note for w in before)


def _pitch(note: Element, pitch: Pitch) -> None:
    element = add(note, "pitch")
    add(element, "step", pitch.step)
    if pitch.alter:
        add(element, "alter", str(pitch.alter))
    add(element, "octave", str(pitch.octave))


def _value(note: Element, written: WrittenNote, accidental: Accidental | None) -> None:
    add(note, "type", written.type)
    for _ in range(written.dots):
        add(note, "dot")
    if accidental is not None:
        courtesy = {"cautionary": "yes", "parentheses": "yes"} if accidental.courtesy else {}
        add(note, "accidental", accidental.name, **courtesy)
    if written.tuplet is not None:
        change = add(note, "time-modification")
        add(change, "actual-notes", str(_TRIPLET[0]))
        add(change, "normal-notes", str(_TRIPLET[1]))
        add(change, "normal-type", TYPES[written.tuplet.size // 2])


def _tuplet(notations: Element, bar: Bar, index: int, tab: bool, bare: bool) -> None:
    """Where a triplet begins and ends; one beamed group needs no bracket, a bare tablature no number."""
    written = bar.written[index]
    if written.tuplet is None:
        return
    if written.start == written.tuplet.start:
        bracket = "no" if bare or _beamed_as_one(bar, index) else "yes"
        extra = {"show-number": "none"} if bare else {"placement": "above"} if tab else {}
        add(notations, "tuplet", type="start", bracket=bracket, number="1", **extra)
    if written.end == written.tuplet.end:
        add(notations, "tuplet", type="stop", number="1")


def _beamed_as_one(bar: Bar, index: int) -> bool:
    """Whether the triplet that begins here is one beamed group, which needs no bracket."""
    tuplet = bar.written[index].tuplet
    words = [bar.beams[i][:1] for i, w in enumerate(bar.written) if w.tuplet == tuplet]
    return (
        len(words) > 1
        and words[0] == ("begin",)
        and words[-1] == ("end",)
        and all(word == ("continue",) for word in words[1:-1])
    )


def add_labels(
    note: Element, shown: AnnotatedNote, options: ScoreOptions, role_words: Mapping[str, str]
) -> None:
    """Add the role and the degree of a note below it, each on a line of its own. A note of a line that its
    rules do not have any more has no role."""
    labels = []
    if options.roles and shown.role in role_words:
        labels.append(("role", role_words[shown.role]))
    if options.degrees:
        labels.append(("degree", music_signs(shown.degree)))
    for number, (name, text) in enumerate(labels, 1):
        lyric = add(note, "lyric", number=str(number), name=name)
        add(lyric, "syllabic", "single")
        add(lyric, "text", text)


def add_room(note: Element) -> None:
    """Add a syllable that keeps room below the labels, in a document that will be drawn."""
    lyric = add(note, "lyric", number="3", name="room")
    add(lyric, "syllabic", "single")
    add(lyric, "text", "o")
