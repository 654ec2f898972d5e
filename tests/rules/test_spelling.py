"""Spelling of single pitches by their function, and keys."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.corpora.errors import InputError
from everyline.rules.chord_table import QUALITIES, Quality
from everyline.rules.chords import parse_chord
from everyline.rules.pitch import parse_note_name, parse_pitch, split_pitch
from everyline.rules.roman import roman_to_chord
from everyline.rules.scales import SCALES
from everyline.rules.spelling import key_signature, parse_key, spell, spell_degree


@pytest.mark.parametrize(
    ("note", "chord", "name", "reason"),
    [
        ("Ab4", "G7b9", "Ab4", "the flat ninth is a chord tone on the letter of the ninth"),
        ("Ab4", "G7", "Ab4", "chromatic over a dominant: the flat ninth"),
        ("D#4", "G7#5", "D#4", "the sharp fifth keeps the letter of the fifth"),
        ("D#4", "G7alt", "D#4", "7alt names the sharp fifth"),
        ("Db4", "G7alt", "Db4", "the flat fifth of the altered scale"),
        ("Eb4", "G7b9", "Eb4", "b13 in the fifth mode of harmonic minor"),
        ("A#4", "G7#9", "A#4", "the sharp ninth keeps the letter of the ninth"),
        ("C#5", "G7#11", "C#5", "the sharp eleventh keeps the letter of the fourth"),
        ("Db5", "G7b5", "Db5", "the flat fifth keeps the letter of the fifth"),
        ("F4", "Dm7", "F4", "minor third"),
        ("Cb5", "Db7", "Cb5", "the seventh of Db7 is on C; the octave follows the letter"),
        ("B3", "C#m7", "B3", "the seventh of C#m7"),
        ("B#3", "C#maj7", "B#3", "the seventh of C#maj7 is on B; the octave follows the letter"),
        ("E#4", "C#7", "E#4", "the third of C#7 is on E"),
        ("Fb4", "Dbm7", "Fb4", "the third of Dbm7 is on F"),
        ("A4", "Cdim7", "A4", "bb7 of C would be Bbb: the plain name stands for it"),
        ("D5", "B7#9", "D5", "#9 of B would be C##: the plain name stands for it"),
        ("A4", "Ebm7b5", "A4", "b5 of Eb would be Bbb: the plain name stands for it"),
        ("G#4", "Dm7", "G#4", "#11 over a minor seventh"),
        ("E4", "Ab7", "E4", "no part of chord or scale, so not Fb"),
        ("C5", "F#7", "C5", "no part of chord or scale, so not B#"),
        ("B4", "Bb7", "B4", "no part of chord or scale, so not Cb"),
        ("Cb5", "Bb7b9", "Cb5", "the flat ninth that the chord has"),
        ("B3", "Cm7b5", "B3", "no part of chord or scale: the natural seventh"),
    ],
)
def test_functions(note: str, chord: str, name: str, reason: str) -> None:
    assert spell(parse_pitch(note), parse_chord(chord)) == name, reason


def test_a_chord_scale_of_the_rule_file_decides() -> None:
    g7 = parse_chord("G7")
    assert spell(parse_pitch("Db5"), g7, SCALES["altered"]) == "Db5"
    assert spell(parse_pitch("C#5"), g7, SCALES["lydian dominant"]) == "C#5"
    assert spell(parse_pitch("D#4"), g7, SCALES["altered"]) == "D#4"
    assert spell(parse_pitch("Eb4"), g7, SCALES["mixolydian b13"]) == "Eb4"


def test_a_key_spells_what_chord_and_scale_leave_open() -> None:
    g7 = parse_chord("G7")
    assert spell(parse_pitch("A#4"), g7) == "A#4"
    assert spell(parse_pitch("A#4"), g7, key="Cm") == "Bb4"
    assert spell(parse_pitch("C#5"), g7, key="Ab") == "Db5"
    assert spell(parse_pitch("B4"), parse_chord("Dm7"), key="C") == "B4"


# The notes that an Ionian ii-V-I line is made of, as the signature writes them.
SIGNATURES = {
    "Db": ["Db", "Eb", "F", "Gb", "Ab", "Bb", "C"],
    "Gb": ["Gb", "Ab", "Bb", "Cb", "Db", "Eb", "F"],
    "B": ["B", "C#", "D#", "E", "F#", "G#", "A#"],
    "F#": ["F#", "G#", "A#", "B", "C#", "D#", "E#"],
    "C": ["C", "D", "E", "F", "G", "A", "B"],
    "Eb": ["Eb", "F", "G", "Ab", "Bb", "C", "D"],
}


@pytest.mark.parametrize("key", SIGNATURES)
def test_the_scale_of_a_key_reads_as_its_signature_over_ii_v_i(key: str) -> None:
    for numeral in ("ii7", "V7", "Imaj7", "vi7"):
        chord = roman_to_chord(numeral, key)
        for name in SIGNATURES[key]:
            if numeral != "vi7":  # whose own scale has another sixth
                assert spell(60 + parse_note_name(name), chord)[:-1] == name
            assert spell(60 + parse_note_name(name), chord, key=key)[:-1] == name


ROOTS = [letter + sign for letter in "CDEFGAB" for sign in ("", "b", "#")]


@given(
    st.sampled_from(ROOTS),
    st.sampled_from(QUALITIES),
    st.integers(1, 126),
    st.sampled_from([None, "C", "Gb", "F#", "Ebm", "C#m"]),
    st.sampled_from([None, *SCALES.values(), (0, 1, 2, 3)]),
)
def test_a_name_sounds_its_pitch_without_double_accidentals(
    root: str, quality: Quality, pitch: int, key: str | None, scale: tuple[int, ...] | None
) -> None:
    chord = parse_chord(f"{root}({quality.name})")
    name = spell(pitch, chord, scale, key)
    assert parse_pitch(name) == pitch
    parts = split_pitch(name)
    assert parts is not None and len(parts[1]) <= 1


def test_octaves_follow_the_letter() -> None:
    assert spell(59, parse_chord("Db7")) == "Cb4"
    assert spell(60, parse_chord("C#maj7")) == "B#3"
    assert spell(0, parse_chord("C")) == "C-1"


@pytest.mark.parametrize(
    ("key", "fifths"),
    [
        *[("C", 0), ("G", 1), ("F", -1), ("Eb", -3), ("F#", 6), ("Gb", -6), ("C#", 7), ("Cb", -7)],
        *[("Am", 0), ("Cm", -3), ("C minor", -3), ("c minor", -3), ("F#m", 3), ("Ebm", -6), ("D♭ major", -5)],
    ],
)
def test_signatures_in_fifths(key: str, fifths: int) -> None:
    assert key_signature(key) == fifths
    signed = [name for name in parse_key(key).names if len(name) > 1]
    assert len(signed) == abs(fifths)
    assert all(name[1] == ("#" if fifths > 0 else "b") for name in signed)


@pytest.mark.parametrize(
    ("key", "says"),
    [
        ("", "is not a key"),
        ("H", "is not a key"),
        ("c", 'Did you mean "C"'),
        ("eb", 'Did you mean "Eb"'),
        ("C dorian", "is not a key"),
        ("G#", "Write Ab,"),
        ("D#", "Write Eb,"),
        ("Fb", "Write E,"),
        ("Dbm", "Write C#m,"),
    ],
)
def test_keys_that_cannot_be_used(key: str, says: str) -> None:
    with pytest.raises(InputError) as refusal:
        parse_key(key)
    assert says in str(refusal.value)


def test_degrees_above_a_root() -> None:
    assert spell_degree("G", "b9") == "Ab"
    assert spell_degree("G", "#5") == "D#"
    assert spell_degree("Db", "b7") == "Cb"
    assert spell_degree("B", "#9") == "D"
