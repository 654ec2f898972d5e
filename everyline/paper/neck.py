"""The fretboard under a line: where each note is fretted, in which order and in what role.

The strings lie as on the tablature, string 1 on top, the low frets to the left; for a left-handed player the
picture is mirrored, as that neck is. Every note has the shape of its role (filled or hollow like the marks
under the staff, so that no colour is needed) with its place in the line inside; the hand's position is
outlined. A line that comes back to a place too often, or moves the hand too far, goes on on a second neck.
Lengths are in hundredths of a millimetre, y downward.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from xml.etree.ElementTree import Element, SubElement, fromstring, tostring

from everyline.paper.fingering import Fingering, Fretted, finger, fretboard_of
from everyline.paper.neck_drawing import Drawing, Neck, NeckOptions, Stretch
from everyline.paper.score_options import ScoreOptions
from everyline.rules.annotate import AnnotatedLine

MOST_AT_A_PLACE, MOST_POSITIONS = 3, 2
APART, UNITS_PER_MM = 500, 100


def neck_options(
    score: ScoreOptions, colour: bool = True, prefix: str = "", width: float = 180
) -> NeckOptions:
    """The look of the fretboard in a score, fingered as its tablature is."""
    return NeckOptions(score.fretboard == "left", colour, score.roles, score.hand, prefix, width)


def necks(
    line: AnnotatedLine,
    look: NeckOptions | None = None,
    *,
    blanks: frozenset[int] = frozenset(),
    number: int = 1,
) -> tuple[Neck, ...]:
    """The fretboards of a line, one or more.

    ``blanks`` are notes (by index) that the student is to find: they are left out. Each note is a group of
    class ``note`` with the id ``f`` + line ``number`` + ``-`` + index. Raises InputError where the rules'
    instrument has no frets or the line cannot be fingered as asked.
    """
    look = look or NeckOptions()
    board = fretboard_of(line.rules)
    fingering = finger(line, board, look.hand)
    return tuple(
        Drawing(line, board, fingering, stretch, look, number).neck(blanks)
        for stretch in _stretches(line, fingering)
    )


def neck_svg(
    line: AnnotatedLine, look: NeckOptions | None = None, *, blanks: frozenset[int] = frozenset()
) -> str:
    """The fretboards of a line, one below another, as one SVG picture with a title for those who hear it.
    Raises InputError as ``necks`` does."""
    look = look or NeckOptions()
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "role": "img"})
    SubElement(root, "title").text = neck_words(line, look, blanks=blanks)
    width, height = put_necks(root, necks(line, look, blanks=blanks), round(look.width * UNITS_PER_MM))
    root.set("viewBox", f"0 0 {width} {height}")
    root.set("width", f"{width / UNITS_PER_MM:g}mm")
    root.set("height", f"{height / UNITS_PER_MM:g}mm")
    return tostring(root, encoding="unicode")


def picture_width(picture: str) -> float:
    """How many millimetres wide a picture of ``neck_svg`` is."""
    return float(fromstring(picture).get("width", "0mm").removesuffix("mm"))


def picture_height(picture: str) -> float:
    """How many millimetres high a picture of ``neck_svg`` is."""
    return float(fromstring(picture).get("height", "0mm").removesuffix("mm"))


def put_necks(parent: Element, drawn: Sequence[Neck], room: int, top: int = 0) -> tuple[int, int]:
    """Put necks beside each other as far as there is room, the rest below; answers the width they take and
    where they end."""
    x = widest = deepest = 0
    y = top
    for neck in drawn:
        if x and x + neck.width > room:
            x, y = 0, deepest + APART // 2
        move = {"transform": f"translate({x} {y})"} if x or y else {}
        SubElement(parent, "g", move).extend(neck.elements)
        widest, deepest = max(widest, x + neck.width), max(deepest, y + neck.height)
        x += neck.width + APART
    return widest, deepest


def neck_words(
    line: AnnotatedLine, look: NeckOptions | None = None, *, blanks: frozenset[int] = frozenset()
) -> str:
    """The fretboard in words: each note with its string and fret, and where the hand is."""
    look = look or NeckOptions()
    board = fretboard_of(line.rules)
    fingering = finger(line, board, look.hand)
    said, hand = [], None
    for index, (note, place) in enumerate(zip(line.notes, fingering.notes, strict=True)):
        if index in blanks:
            continue
        moved = f"position {place.position}: " if place.fret and place.position != hand else ""
        hand = place.position if place.fret else hand
        fret = f"fret {place.fret}" if place.fret else "open"
        said.append(f"{moved}{index + 1} {note.name}, string {place.string}, {fret}")
    return f"On the {board.name}, " + "; ".join(said)


# -- which notes go on one neck ------------------------------------------------------------------------------


def _stretches(line: AnnotatedLine, fingering: Fingering) -> Iterator[Stretch]:
    """The line cut at chord changes where a neck would be too full."""
    groups: list[list[int]] = []
    before = None
    for index, note in enumerate(line.notes):
        chord = line.rules.progression.chord_index(max(0, note.onset) // line.rules.slot_ticks)
        if chord != before:
            groups.append([])
        groups[-1].append(index)
        before = chord
    held: list[int] = []
    for group in groups:
        if held and _too_full([*held, *group], fingering.notes):
            yield Stretch(tuple(held), _positions(held, fingering.notes))
            held = []
        held += group
    yield Stretch(tuple(held), _positions(held, fingering.notes))


def _too_full(indices: Sequence[int], notes: Sequence[Fretted]) -> bool:
    visits = Counter((notes[index].string, notes[index].fret) for index in indices)
    places = {position for position, _, _ in _positions(indices, notes)}
    return max(visits.values()) > MOST_AT_A_PLACE or len(places) > MOST_POSITIONS


def _positions(indices: Sequence[int], notes: Sequence[Fretted]) -> tuple[tuple[int, int, int], ...]:
    """Each hand position in turn with its first and last note; open strings belong to the one before."""
    found: list[list[int]] = []
    for index in indices:
        note = notes[index]
        if note.fret and (not found or found[-1][0] != note.position):
            found.append([note.position, index + 1, index + 1])
        elif found:
            found[-1][2] = index + 1
    return tuple((position, first, last) for position, first, last in found)
