"""The fretboard: each note where the tablature has it, told by shape what it does, by number when."""

from __future__ import annotations

import re
from itertools import pairwise
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import pytest

from everyline import parse, parse_plan
from everyline.corpora import load
from everyline.corpora.errors import InputError
from everyline.paper.look import MARKS
from everyline.paper.musicxml import write
from everyline.paper.neck import NeckOptions, neck_svg, neck_words
from everyline.paper.neck_drawing import SHAPES
from everyline.paper.neck_text import neck_text
from everyline.paper.picture import svg
from everyline.paper.score_options import ScoreOptions
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.ranges import Fretboard

FRETTED = [name for name, each in load().instruments.items() if each.fretted]
GUITAR = 'changes = "Dm7 | G7alt | Cmaj7"\nkey = "C"\n[range]\ninstrument = "guitar"\n'


def line_on(instrument: str) -> AnnotatedLine:
    space = parse(f'changes = "Dm7 | G7 | Cmaj7"\n[range]\ninstrument = "{instrument}"\n')
    return space[space.count // 3]


def attribute(element: Element, name: str) -> tuple[int, int]:
    found = re.search(r"translate\((-?\d+) (-?\d+)\)", element.get(name, "translate(0 0)"))
    assert found is not None
    return int(found[1]), int(found[2])


def places(picture: str) -> dict[int, tuple[int, int]]:
    """String and fret of each note, read off a picture: the string whose line it is on, the fret whose wires
    it is between; what is beyond the nut is open."""
    found: dict[int, tuple[int, int]] = {}
    root = ElementTree.fromstring(picture)
    for neck in [each for each in root if each.tag.endswith("g")]:
        wood, notes = list(neck)
        frets = [each for each in wood if each.get("class") == "fret"]
        wires = [int(re.findall(r"M(-?\d+)", each.get("d", ""))[0]) for each in frets]
        strings = [
            int(re.findall(r"M-?\d+ (\d+)", each.get("d", ""))[0])
            for each in wood
            if each.get("class") == "string"
        ]
        first = 1 if int(frets[0].get("stroke-width", "0")) > 30 else None
        for note in notes:
            x, y = attribute(note, "transform")
            inside = [i for i, (a, b) in enumerate(pairwise(wires)) if min(a, b) < x < max(a, b)]
            index = int(note.get("id", "").rpartition("-")[2])
            fret = inside[0] + 1 if inside else 0
            found[index] = strings.index(y) + 1, fret if first or not fret else fret - 1000
    return found


def written(line: AnnotatedLine, hand: ScoreOptions) -> list[tuple[int, int]]:
    """String and fret of each note as MusicXML has them, ties and staves left out."""
    score = ElementTree.fromstring(write([line], hand))
    found = []
    for note in score.iter("note"):
        technical = note.find("notations/technical")
        stops = [each.get("type") for each in note.findall("tie")]
        if technical is not None and "stop" not in stops:
            found.append((int(technical.findtext("string", "0")), int(technical.findtext("fret", "0"))))
    return found


@pytest.mark.parametrize("left_handed", [False, True])
@pytest.mark.parametrize("instrument", FRETTED)
def test_every_note_lies_where_the_tablature_has_it(instrument: str, left_handed: bool) -> None:
    line = line_on(instrument)
    board = Fretboard.of(load().instruments[instrument])
    assert board is not None
    found = places(neck_svg(line, NeckOptions(left_handed)))
    tab = written(line, ScoreOptions(staves="tab"))
    assert len(found) == len(line.notes) == len(tab)
    for index, note in enumerate(line.notes):
        string, fret = found[index]
        # Without the nut in the picture, frets count from the first one that is drawn.
        sounding = board.open[string - 1] + tab[index][1]
        assert sounding == note.pitch and string == tab[index][0]
        if fret >= 0:
            assert fret == tab[index][1]
    if min(fret for _, fret in found.values()) < 0:
        shift = {tab[index][1] - fret for index, (_, fret) in found.items()}
        assert len(shift) == 1


def test_role_by_shape_and_order_by_number() -> None:
    assert SHAPES.keys() == MARKS.keys()
    assert len(set(SHAPES.values())) == len(SHAPES)
    line = line_on("guitar")
    notes = {
        each.get("id"): each[0]
        for each in ElementTree.fromstring(neck_svg(line, NeckOptions(colour=False))).iter()
        if each.get("class") == "note"
    }
    assert set(notes) == {f"f1-{index}" for index in range(len(line.notes))}
    for index, note in enumerate(line.notes):
        shape = notes[f"f1-{index}"]
        assert shape.get("d") == SHAPES[note.role]
        assert ("hollow" in shape.get("class", "").split()) == MARKS[note.role].hollow
        assert {shape.get("fill"), shape.get("stroke")} <= {"#fff", "#000", "none"}


def test_what_is_to_be_found_is_not_shown() -> None:
    line = line_on("guitar")
    picture = neck_svg(line, blanks=frozenset({2, 3}))
    assert "f1-1" in picture and "f1-2" not in picture and "f1-3" not in picture
    assert f" 3 {line.notes[2].name}," not in neck_words(line, blanks=frozenset({2, 3}))


def test_words_for_those_who_hear_it() -> None:
    line = parse(GUITAR + "position = 5")[1000]
    words = neck_words(line)
    assert words.startswith("On the guitar, position 5: 1 ") and words.count("position") == 1
    title = ElementTree.fromstring(neck_svg(line))[0]
    assert title.text == words


def test_a_chorus_takes_several_necks_and_keeps_its_numbers() -> None:
    plan = (
        'changes = "F7 | Bb7 | F7 | F7"\nkey = "F"\n[range]\ninstrument = "bass-guitar"\n'
        '[[phrase]]\nbars = "1-2"\n[[phrase]]\nbars = "3-4"\n'
    )
    line = parse_plan(plan).line(10**6)
    found = re.findall(r'id="f1-(\d+)"', neck_svg(line))
    assert [int(each) for each in found] == list(range(len(line.notes)))


def test_below_the_line_in_a_picture() -> None:
    line = line_on("guitar")
    plain, right, left = (svg([line], ScoreOptions(fretboard=hand)) for hand in (None, "right", "left"))
    assert "f1-0" not in plain and "f1-0" in right and right != left
    with pytest.raises(InputError, match="right, left"):
        ScoreOptions(fretboard="both")


def test_no_fretboard_without_frets() -> None:
    line = parse('changes = "Dm7 | G7 | Cmaj7"\n[range]\ninstrument = "trumpet"\n')[0]
    with pytest.raises(InputError, match="the trumpet has no frets"):
        neck_svg(line)


def test_as_text() -> None:
    line = parse(GUITAR + "position = 5")[1000]
    rows = neck_text(line).splitlines()
    assert rows[0] == "fretboard of the guitar, position 5"
    assert [row[:1] for row in rows[1:7]] == list("EBGDAE")
    numbers = sorted(int(each) for row in rows[1:7] for each in re.findall(r"\d+", row))
    assert numbers == list(range(1, len(line.notes) + 1))
    mirrored = neck_text(line, left_handed=True).splitlines()
    assert [row[-1] for row in mirrored[1:7]] == list("EBGDAE")
