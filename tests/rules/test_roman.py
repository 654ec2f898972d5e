"""Roman numerals. Readings are common practice."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.corpora.errors import InputError
from everyline.rules.roman import is_roman, roman_to_chord


@pytest.mark.parametrize(
    ("token", "key", "symbol"),
    [
        ("ii7", "C", "Dm7"),
        ("V7", "C", "G7"),
        ("Imaj7", "C", "Cmaj7"),
        ("I", "C", "C"),
        ("vi7", "C", "Am7"),
        ("iiø7", "C", "Dm7b5"),
        ("iim7b5", "C", "Dm7b5"),
        ("iim7", "C", "Dm7"),
        ("ii-7", "C", "Dm7"),
        ("IIm7", "C", "Dm7"),
        ("iimaj7", "C", "Dm(maj7)"),
        ("i6", "C", "Cm6"),
        ("I6/9", "C", "C6/9"),
        ("i6/9", "C", "Cm6/9"),
        ("I/E", "C", "C/E"),
        ("bVII7", "C", "Bb7"),
        ("♭VII7", "C", "Bb7"),
        ("#ivdim7", "C", "F#dim7"),
        ("#iv°7", "C", "F#dim7"),
        ("V7sus4", "C", "G7sus4"),
        ("V7alt", "C", "G7alt"),
        ("V7(b9,#5)", "C", "G7#5b9"),
        ("Vb9", "C", "G(b9)"),
        ("V+7", "C", "G7#5"),
        ("bII7", "C", "Db7"),
        # Secondary dominants: the chord a fifth above its target.
        ("V7/ii", "C", "A7"),
        ("V7b9/ii", "C", "A7b9"),
        ("V7/V", "C", "D7"),
        ("ii7/V", "C", "Am7"),
        ("iiø7/ii", "C", "Em7b5"),
        ("V7/V/V", "C", "A7"),
        ("V7/vi", "Eb", "G7"),
        # Minor keys: natural minor, flats from the major scale, leading-tone chords raised.
        ("i7", "Cm", "Cm7"),
        ("im(maj7)", "Cm", "Cm(maj7)"),
        ("iiø7", "C minor", "Dm7b5"),
        ("III", "Cm", "Eb"),
        ("VImaj7", "Cm", "Abmaj7"),
        ("VII7", "Cm", "Bb7"),
        ("bIII", "Cm", "Eb"),
        ("bVImaj7", "Cm", "Abmaj7"),
        ("bVII7", "Cm", "Bb7"),
        ("viidim7", "Cm", "Bdim7"),
        ("viø7", "Cm", "Am7b5"),
        ("vi7b5", "Cm", "Am7b5"),
        ("#viidim7", "Cm", "Bdim7"),
        ("viidim7", "F#m", "E#dim7"),
        ("VI", "Ebm", "Cb"),
        # Roots are what a lead sheet shows.
        ("bII7", "Bb", "B7"),
        ("bII7", "Eb", "E7"),
        ("IVmaj7", "Gb", "Cbmaj7"),
        ("bVI7", "Gb", "D7"),
        ("bII7", "Gb", "G7"),
        ("#ivdim7", "B", "E#dim7"),
    ],
)
def test_numerals(token: str, key: str, symbol: str) -> None:
    assert is_roman(token)
    assert roman_to_chord(token, key).symbol == symbol


@pytest.mark.parametrize(
    "token", ["Dm7", "Bb7", "C", "A", "verse", "Intro", "%", "/", "", "b7", "Vex", "invalid"]
)
def test_what_is_no_numeral(token: str) -> None:
    assert not is_roman(token)
    with pytest.raises(InputError):
        roman_to_chord(token, "C")


@pytest.mark.parametrize(
    ("token", "key", "says"),
    [
        ("V7x", "C", '"x" is not'),
        ("Vmja7", "C", '"Vmja7" is not a chord symbol: "Gmj" is understood'),
        ("ii7", "H", '"H" is not a key'),
        ("ii7", "c", 'Did you mean "C"'),
        ("ii7", "G#", "Write Ab"),
        ("ii7", "", '"" is not a key'),
        ("VIII7", "C", "is not a roman numeral"),
    ],
)
def test_refusals(token: str, key: str, says: str) -> None:
    with pytest.raises(InputError) as refusal:
        roman_to_chord(token, key)
    assert says in str(refusal.value)


KEYS = ["C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "Cb", "G", "D", "A", "E", "B", "F#", "C#"]
NUMERALS = ["I", "ii", "iii", "IV", "V", "vi", "bII", "bIII", "#iv", "bVI", "bVII", "vii"]


@given(st.sampled_from(NUMERALS), st.sampled_from(KEYS), st.sampled_from(KEYS))
def test_a_numeral_keeps_its_distance_from_the_tonic_in_every_key(numeral: str, one: str, other: str) -> None:
    def distance(key: str) -> int:
        return (roman_to_chord(f"{numeral}7", key).root_class - roman_to_chord("I", key).root_class) % 12

    assert distance(one) == distance(other)
    chord = roman_to_chord(f"{numeral}7", one)
    assert chord.quality == ("m7" if numeral.lstrip("b#").islower() else "7")
    assert len(chord.root) <= 2, "no double accidental in a root"


@given(st.sampled_from(KEYS))
def test_diatonic_roots_use_each_letter_once(key: str) -> None:
    roots = [roman_to_chord(numeral, key).root for numeral in ("I", "ii", "iii", "IV", "V", "vi", "viidim7")]
    assert sorted(root[0] for root in roots) == list("ABCDEFG")


@given(st.text(alphabet="iIvV7b#/°ømaj95()", max_size=10), st.sampled_from(["C", "Ebm"]))
def test_any_text_is_read_or_refused(text: str, key: str) -> None:
    try:
        assert roman_to_chord(text, key).tones
    except InputError as refusal:
        assert str(refusal)
