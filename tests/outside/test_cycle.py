"""ii-V-I in twelve keys, the cycle of keys, roman numerals, signatures."""

from itertools import pairwise

import pytest

from everyline.rules.pitch import parse_note_name
from everyline.rules.progression import parse_progression
from everyline.rules.roman import roman_to_chord
from everyline.rules.spelling import key_signature

# guitar-chord.org, table of ii-V-I in all keys.
TWO_FIVE = {
    "C": "Dm7 G7",
    "F": "Gm7 C7",
    "Bb": "Cm7 F7",
    "Eb": "Fm7 Bb7",
    "Ab": "Bbm7 Eb7",
    "Db": "Ebm7 Ab7",
    "Gb": "Abm7 Db7",
    "B": "C#m7 F#7",
    "E": "F#m7 B7",
    "A": "Bm7 E7",
    "D": "Em7 A7",
    "G": "Am7 D7",
}

# learnjazzstandards.com, the cycle of keys.
CYCLE = "C F Bb Eb Ab Db Gb B E A D G".split()


@pytest.mark.parametrize("key", TWO_FIVE)
def test_two_five_one_in_every_key(key: str) -> None:
    progression = parse_progression("ii7 | V7 | Imaj7", key=key)
    assert [chord.symbol for chord in progression.chords] == [*TWO_FIVE[key].split(), f"{key}maj7"]


def test_minor_two_five_one() -> None:
    """guitar-chord.org, minor ii-V-I: Bm7b5 E7 Am7."""
    progression = parse_progression("iiø7 | V7 | i7", key="Am")
    assert [chord.symbol for chord in progression.chords] == ["Bm7b5", "E7", "Am7"]


def test_the_cycle_is_a_chain_of_dominants() -> None:
    assert list(TWO_FIVE) == CYCLE
    for key, following in pairwise([*CYCLE, CYCLE[0]]):
        dominant = roman_to_chord("V7", following)
        assert dominant.root_class == parse_note_name(key)


@pytest.mark.parametrize("figure", ["I", "ii7", "iii7", "IV", "V7", "vi7", "viio7", "V7/ii", "V7/V", "iv"])
def test_music21_roman_numerals_in_major_keys(figure: str) -> None:
    """music21 (BSD licence), roman.RomanNumeral; it writes a flat as a minus sign."""
    roman = pytest.importorskip("music21.roman")
    for key in CYCLE:
        theirs = roman.RomanNumeral(figure, key.replace("b", "-"))
        ours = roman_to_chord(figure, key)
        assert ours.tone_classes == {pitch.pitchClass for pitch in theirs.pitches}
        assert ours.root == theirs.root().name.replace("-", "b")


@pytest.mark.parametrize("figure", ["i", "III", "iv7", "V7", "VI", "VII", "viio7"])
def test_music21_roman_numerals_in_minor_keys(figure: str) -> None:
    """music21 (BSD licence), roman.RomanNumeral: III, VI and VII by natural minor, vii diminished raised."""
    roman = pytest.importorskip("music21.roman")
    for key in ("a", "d", "g", "c", "f", "b-", "e", "b", "f#"):
        theirs = roman.RomanNumeral(figure, key)
        ours = roman_to_chord(figure, f"{key.replace('-', 'b').capitalize()}m")
        assert ours.tone_classes == {pitch.pitchClass for pitch in theirs.pitches}
        assert ours.root == theirs.root().name.replace("-", "b")


def test_music21_key_signatures() -> None:
    """music21 (BSD licence), key.Key: sharps of every key of the cycle, major and minor."""
    keys = pytest.importorskip("music21.key")
    for tonic in CYCLE:
        assert key_signature(tonic) == keys.Key(tonic.replace("b", "-")).sharps
    for tonic in "C F Bb Eb G# C# F# B E A D G".split():
        assert key_signature(f"{tonic}m") == keys.Key(tonic.replace("b", "-").lower()).sharps
