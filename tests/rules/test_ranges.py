"""Ranges: fretboards, positions, instruments."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.corpora.errors import InputError
from everyline.rules.pitch import parse_pitch
from everyline.rules.ranges import Fretboard
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Position, Rules
from tests.rules.limit_cases import corpus


def guitar() -> Fretboard:
    fretboard = Fretboard.of(corpus().instruments["guitar"])
    assert fretboard is not None
    return fretboard


def read(**table: object) -> Rules:
    tables = {"changes": "Dm7 | G7 | Cmaj7", "range": table, "ending": {"use": ["plain"]}}
    return parse_rules(tables, corpus())


def test_guitar_strings_and_frets() -> None:
    """MusicXML tablature tutorial (w3.org): tuning E2 A2 D3 G3 B3 E4; string 3 fret 5 is C4, fret 7 is D4."""
    board = guitar()
    assert [board.at(string, 0) for string in (6, 5, 4, 3, 2, 1)] == [40, 45, 50, 55, 59, 64]
    assert board.at(3, 5) == parse_pitch("C4")
    assert board.at(3, 7) == parse_pitch("D4")


def test_a_position_is_as_many_frets_as_its_span() -> None:
    # Common practice: fifth position is frets 5 to 8, one finger a fret.
    rules = read(instrument="guitar", position=5, span=4)
    assert rules.position == Position(5, (1, 2, 3, 4, 5, 6), 4)
    assert min(rules.pitches) == parse_pitch("A2") and max(rules.pitches) == parse_pitch("C5")
    # Four frets on strings a fourth apart, five semitones, leave one semitone out between them.
    assert parse_pitch("C#3") not in rules.pitches
    assert rules.range_text == "guitar, position 5 (frets 5 to 8), strings 1, 2, 3, 4, 5 and 6"


@pytest.mark.parametrize("span", range(1, 7))
@pytest.mark.parametrize("fret", range(23))
def test_no_fret_is_named_that_the_neck_does_not_have(fret: int, span: int) -> None:
    board = guitar()
    text = read(instrument="guitar", position=fret, span=span).range_text
    assert board.frets == 22
    named = [int(word) for word in re.findall(r"\d+", text.partition("(")[2].partition(")")[0])]
    last = min(fret + span - 1, 22)
    assert named == ([fret, last] if last > fret else [fret])
    assert ("(frets" in text) == (last > fret)


def test_strings_alone_are_played_over_their_whole_length() -> None:
    rules = read(instrument="guitar", strings=[1])
    board = guitar()
    assert rules.pitches == frozenset(range(board.at(1, 0), board.at(1, board.frets) + 1))


@given(st.integers(0, 12), st.sets(st.integers(1, 6), min_size=1), st.integers(1, 6))
def test_position_holds_what_can_be_fretted_in_it(fret: int, strings: set[int], span: int) -> None:
    pitches = read(instrument="guitar", position=fret, strings=sorted(strings), span=span).pitches
    board = guitar()
    plain = {board.at(string, at) for string in strings for at in range(fret, fret + span)}
    assert pitches == plain


def test_instrument_gives_its_comfortable_range() -> None:
    for name, instrument in corpus().instruments.items():
        rules = read(instrument=name)
        low, high = map(parse_pitch, instrument.comfortable)
        assert rules.pitches == frozenset(range(low, high + 1))
        assert rules.instrument == instrument and rules.position is None


def test_what_is_stated_goes_beyond_the_comfortable_range_as_far_as_the_instrument_does() -> None:
    # The guitar sounds E2 to D6; E2 to G5 is comfortable.
    assert max(read(instrument="guitar", highest="C6").pitches) == parse_pitch("C6")
    assert max(read(instrument="guitar", highest="C7").pitches) == parse_pitch("D6")
    assert min(read(instrument="alto-saxophone", lowest="Db3").pitches) == parse_pitch("Db3")
    rules = read(instrument="guitar", lowest="A3")
    assert (min(rules.pitches), max(rules.pitches)) == (parse_pitch("A3"), parse_pitch("G5"))


def test_two_pitches_are_both_included() -> None:
    assert read(lowest="E3", highest="E5").pitches == frozenset(range(52, 77))
    assert read(lowest="C4", highest="C4").pitches == {60}


def test_pitches_beside_an_instrument_or_a_position_narrow_it() -> None:
    guitar_alone = read(instrument="guitar").pitches
    rules = read(instrument="guitar", lowest="A3", highest="F5")
    assert rules.pitches == {pitch for pitch in guitar_alone if 57 <= pitch <= 77}
    assert rules.range_text.endswith("from A3 up to F5")
    fifth = read(instrument="guitar", position=5, strings=[1, 2]).pitches
    rules = read(instrument="guitar", position=5, strings=[1, 2], lowest="G4")
    assert rules.pitches == {pitch for pitch in fifth if pitch >= 67} < fifth
    assert rules.position is not None


def test_a_position_or_strings_alone_mean_the_guitar() -> None:
    assert read(position=5) == read(instrument="guitar", position=5)
    assert read(strings=[1, 2]) == read(instrument="guitar", strings=[1, 2])


def test_a_position_covers_five_frets() -> None:
    # Common practice: four frets and a stretch; in fourths, four frets of six strings leave pitches out.
    place = read(instrument="guitar", position=5)
    assert place.position is not None and place.position.span == 5
    assert place.pitches == frozenset(range(min(place.pitches), max(place.pitches) + 1))


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ({"lowest": "E5", "highest": "E3"}, ('lowest = "E5"', "empty", "swap")),
        ({"lowest": "E3"}, ("lowest stands alone", "highest")),
        ({"highest": "E3"}, ("highest stands alone", "lowest")),
        ({"lowest": "E3", "highest": "H5"}, ('highest = "H5"', "letter A to G")),
        ({"lowest": "E3", "highest": "E"}, ('highest = "E"', "octave is missing")),
        ({"lowest": "E5", "highest": "E3", "instrument": "guitar"}, ('lowest = "E5"', "swap")),
        ({"lowest": "E7", "instrument": "guitar"}, ("no pitch of guitar, E2 to", "from E7")),
        ({"highest": "C3", "instrument": "guitar", "position": 12}, ("no pitch of", "up to C3")),
        ({"instrument": "gitar"}, ('instrument = "gitar"', 'Did you mean "guitar"?')),
        ({"instrument": "flute", "position": 5}, ("flute", "no frets", "guitar")),
        ({"instrument": "guitar", "span": 5}, ("span = 5", "position")),
        ({"instrument": "guitar", "position": 5, "strings": [7]}, ("strings = [7]", "1 (the highest) to 6")),
        ({"instrument": "guitar", "position": 50}, ("position = 50", "frets")),
        ({"instrument": "guitar", "position": -1}, ("position = -1", "at least 0")),
        ({"instrument": "guitar", "position": 5, "span": 0}, ("span = 0", "from 1 to 12")),
        ({"instrument": "guitar", "position": 5, "strings": []}, ("strings = []", "empty")),
        ({"loest": "E3"}, ('"loest"', 'Did you mean "lowest"?')),
    ],
)
def test_fault_is_explained(table: dict[str, object], says: tuple[str, ...]) -> None:
    with pytest.raises(InputError) as caught:
        read(**table)
    for words in ("rule file, [range]", *says):
        assert words in str(caught.value)
