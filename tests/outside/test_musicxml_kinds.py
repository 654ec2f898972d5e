"""Chord symbols in MusicXML, held against the standard and against music21's reading of them.

Sources: MusicXML 4.0, kind-value and degree-alter (W3C, musicxml.xsd and its reference pages): an added
degree is counted from a dominant chord, so an added seventh of alter 0 is a minor one. music21 (BSD) reads
it as major where the kind is not dominant, so chords with an added seventh are left out of that comparison.
"""

import re
from pathlib import Path
from xml.etree.ElementTree import tostring

import pytest
from lxml import etree

from everyline.paper.elements import harmony_element
from everyline.paper.instrument_part import part_for
from everyline.paper.kinds import KINDS, kind_of
from everyline.rules.chord_table import QUALITIES
from everyline.rules.chords import parse_chord
from everyline.rules.degrees import DEGREES

music21 = pytest.importorskip("music21")
SCHEMA = Path(__file__).resolve().parents[1] / "schema" / "musicxml.xsd"
CONCERT = part_for(None, [60])
ALTERED = (
    "7b9",
    "7#9",
    "7b9b13",
    "7#11",
    "13b9",
    "13#11",
    "9#11",
    "maj7#11",
    "7#5#9",
    "m9b5",
    "6/9#11",
    "add11",
)
NAMES = [quality.name for quality in QUALITIES] + list(ALTERED)
ROOTS = ("C", "Eb", "F#", "Bb")
# An eleventh or thirteenth chord implies the tones between; the symbol here asks for its own tone alone.
IMPLIED = {"dominant-11th", "minor-11th", "dominant-13th", "major-13th", "minor-13th"}


def test_every_kind_is_one_of_the_standard() -> None:
    listed = re.search(r'name="kind-value".*?</xs:simpleType>', SCHEMA.read_text("utf-8"), re.DOTALL)
    assert listed is not None
    assert set(KINDS) <= set(re.findall(r'enumeration value="([^"]+)"', listed[0]))


# From the annotation of kind-value in the schema, in degrees.
STATED = {
    "major": "1 3 5", "minor": "1 b3 5", "augmented": "1 3 #5", "diminished": "1 b3 b5",
    "dominant": "1 3 5 b7",
    "major-seventh": "1 3 5 7", "minor-seventh": "1 b3 5 b7", "diminished-seventh": "1 b3 b5 bb7",
    "augmented-seventh": "1 3 #5 b7", "half-diminished": "1 b3 b5 b7", "major-minor": "1 b3 5 7",
    "major-sixth": "1 3 5 6", "minor-sixth": "1 b3 5 6", "dominant-ninth": "1 3 5 b7 9",
    "major-ninth": "1 3 5 7 9", "minor-ninth": "1 b3 5 b7 9", "suspended-second": "1 2 5",
    "suspended-fourth": "1 4 5",
}  # fmt: skip


@pytest.mark.parametrize("kind", STATED)
def test_kinds_have_the_tones_that_the_standard_states(kind: str) -> None:
    assert KINDS[kind] == STATED[kind]


@pytest.mark.parametrize(
    ("symbol", "kind", "degrees"),
    [
        ("G7", "dominant", []),
        ("Bm7b5", "half-diminished", []),
        ("Bø7", "half-diminished", []),
        ("G7alt", "dominant", [(5, 1, "alter")]),
        ("G7sus4", "suspended-fourth", [(7, 0, "add")]),
        ("G7b9", "dominant", [(9, -1, "add")]),
        ("G7#5", "augmented-seventh", []),
        ("G7b5", "dominant", [(5, -1, "alter")]),
        ("C6/9", "major-sixth", [(9, 0, "add")]),
        ("Cm(maj7)", "major-minor", []),
        ("C13", "dominant-13th", []),
        ("C13b9", "dominant-13th", [(9, -1, "alter")]),
        ("Cadd9", "major", [(9, 0, "add")]),
        ("C7#9b13", "dominant", [(9, 1, "add"), (13, -1, "add")]),
    ],
)
def test_named_cases(symbol: str, kind: str, degrees: list[tuple[int, int, str]]) -> None:
    found = kind_of(parse_chord(symbol))
    assert (found.value, [(d.value, d.alter, d.type) for d in found.degrees]) == (kind, degrees)


@pytest.mark.parametrize("name", NAMES)
def test_music21_hears_the_same_chord(name: str) -> None:
    for root in ROOTS:
        chord = parse_chord(root + name)
        kind = kind_of(chord)
        if any(degree.value == 7 for degree in kind.degrees):
            continue
        element = harmony_element(chord, CONCERT, 0, 0)
        read = music21.musicxml.xmlToM21.MeasureParser().xmlToChordSymbol(element)
        heard = {pitch.pitchClass for pitch in read.pitches}
        extra = {(chord.root_class + tone) % 12 for tone in (2, 5)} if kind.value in IMPLIED else set()
        altered = {(chord.root_class + tone) % 12 for tone in (1, 3, 6)} if kind.value in IMPLIED else set()
        assert chord.tone_classes <= heard <= chord.tone_classes | extra | altered, chord.symbol


@pytest.mark.parametrize("name", [q.name for q in QUALITIES])
def test_kind_and_degrees_add_up_to_the_chord(name: str) -> None:
    """The same without any reader: the kind's tones with its degrees applied, by the standard's own rule."""
    chord = parse_chord("C" + name)
    kind = kind_of(chord)
    tones = {int(tone.lstrip("b#")): DEGREES[tone] for tone in KINDS[kind.value].split()}
    dominant = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 10, 9: 2, 11: 5, 13: 9}
    for degree in kind.degrees:
        base = tones[degree.value] if degree.type == "alter" else dominant[degree.value]
        tones[degree.value] = (base + degree.alter) % 12
    implied = {9, 11} - {int(d.lstrip("b#")) for d in chord.degrees} if kind.value in IMPLIED else set()
    assert {tone for number, tone in tones.items() if number not in implied} == set(chord.tones)


def test_the_text_is_what_the_teacher_wrote() -> None:
    for symbol, text in (("D-7", "-7"), ("CΔ", "Δ"), ("Bb7b9", "7♭9"), ("F#m7b5", "m7♭5"), ("Am7/G", "m7")):
        element = harmony_element(parse_chord(symbol), CONCERT, 0, 0)
        kind = etree.fromstring(tostring(element)).find("kind")
        assert kind.get("text") == text
