"""Chord symbols: spellings, tones, names of degrees. Spellings are common practice."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.corpora.errors import InputError
from everyline.rules.chord_table import ADDITIONS, FIFTHS, QUALITIES, STACK, SUSPENSIONS, Quality
from everyline.rules.chords import parse_chord
from everyline.rules.degrees import DEGREES
from everyline.rules.pitch import parse_note_name

ROOTS = [letter + accidental for letter in "CDEFGAB" for accidental in ("", "b", "#")]

SPELLINGS = {
    "": ["", "maj", "M"],
    "m": ["m", "-", "min", "mi"],
    "dim": ["dim", "o", "°", "m(b5)", "mb5"],
    "aug": ["aug", "+", "(#5)"],
    "sus4": ["sus", "sus4", "(sus4)"],
    "sus2": ["sus2"],
    "7": ["7", "dom7"],
    "maj7": ["maj7", "M7", "Δ7", "△7", "∆", "Δ", "ma7", "j7", "(maj7)"],
    "m7": ["m7", "-7", "min7", "mi7", "−7"],
    "m7b5": ["m7b5", "ø7", "ø", "Ø", "-7b5", "min7b5", "mi7(b5)", "m7-5", "m7♭5", "m7(♭5)"],
    "dim7": ["dim7", "o7", "°7", "º7"],
    "m(maj7)": ["m(maj7)", "mmaj7", "-Δ7", "-Δ", "mM7", "minmaj7", "mΔ7", "mi(maj7)", "-(maj7)"],
    "6": ["6", "maj6"],
    "m6": ["m6", "-6", "min6"],
    "6/9": ["6/9", "69", "6(9)", "6add9"],
    "m6/9": ["m6/9", "-69", "m6(9)"],
    "7sus4": ["7sus4", "7sus", "7(sus4)", "sus7"],
    "9sus4": ["9sus4", "9sus", "7sus4(9)"],
    "13sus4": ["13sus4", "13sus"],
    "7sus4b9": ["7sus4b9", "7b9sus4", "7sus(b9)"],
    "7#5": ["7#5", "+7", "aug7", "7+", "7(#5)", "7+5", "7♯5"],
    "7b5": ["7b5", "7-5", "7(b5)", "7♭5"],
    "7alt": ["7alt", "alt", "7(alt)"],
    "add9": ["add9", "(add9)", "add2", "2"],
    "madd9": ["madd9", "m(add9)"],
    "9": ["9", "7(9)", "7add9"],
    "11": ["11", "7(11)"],
    "13": ["13", "7(13)"],
    "maj9": ["maj9", "M9", "Δ9", "maj7(9)", "ma9"],
    "maj13": ["maj13", "M13"],
    "m9": ["m9", "-9", "min9", "m7(9)"],
    "m11": ["m11", "-11", "m7(11)"],
    "m13": ["m13", "-13"],
    "7b9": ["7b9", "7(b9)", "7-9", "7♭9"],
    "7#9": ["7#9", "7(#9)", "7+9"],
    "7#11": ["7#11", "7(#11)", "7+11", "7#4"],
    "7b13": ["7b13", "7(b13)"],
    "7#5b9": ["7(b9,#5)", "7#5b9", "7(#5)(b9)", "7(b9, #5)", "+7b9"],
    "7b9b13": ["7b9b13", "7(b9)(b13)", "7b13b9"],
    "7#9b13": ["7(#9)(b13)", "7#9b13"],
    "13b9": ["13b9", "13(b9)", "7b9(13)"],
    "13#11": ["13#11", "13(#11)"],
    "9#11": ["9#11", "9(#11)"],
    "9#5": ["9#5", "+9", "aug9"],
    "maj7#11": ["maj7#11", "Δ#11", "M7(#11)", "maj7(♯11)"],
    "maj7#5": ["maj7#5", "+maj7", "M7+5", "augmaj7"],
}


@pytest.mark.parametrize(("quality", "spelling"), [(q, s) for q, all_ in SPELLINGS.items() for s in all_])
def test_every_usual_spelling_gives_one_quality(quality: str, spelling: str) -> None:
    for root in ("C", "Bb", "F#"):
        symbol = root + spelling
        chord = parse_chord(symbol)
        assert (chord.symbol, chord.root, chord.quality) == (symbol, root, quality)


@pytest.mark.parametrize("quality", QUALITIES, ids=lambda q: q.name)
def test_every_row_of_the_table(quality: Quality) -> None:
    for spelling in quality.spellings:
        chord = parse_chord(f"A{spelling}")
        assert (chord.quality, chord.degrees) == (quality.name, quality.degrees)
    assert tuple(sorted(quality.degrees, key=STACK.index)) == quality.degrees
    assert parse_chord(f"A{quality.name}").degrees == quality.degrees


def test_no_spelling_stands_for_two_qualities() -> None:
    spellings = [spelling for quality in QUALITIES for spelling in quality.spellings]
    assert len(spellings) == len(set(spellings))


@pytest.mark.parametrize(
    ("symbol", "degrees"),
    [
        ("Dm7", "1 b3 5 b7"),
        ("G7", "1 3 5 b7"),
        ("Cmaj7", "1 3 5 7"),
        ("Bm7b5", "1 b3 b5 b7"),
        ("Bdim7", "1 b3 b5 bb7"),
        ("Cm(maj7)", "1 b3 5 7"),
        ("C6", "1 3 5 6"),
        ("Cm6", "1 b3 5 6"),
        ("G7sus4", "1 4 5 b7"),
        ("G7#5", "1 3 #5 b7"),
        ("G7b5", "1 3 b5 b7"),
        ("G7alt", "1 3 #5 b7"),
        ("C", "1 3 5"),
        ("Cm", "1 b3 5"),
        ("G7b9", "1 3 5 b7 b9"),
        ("C9", "1 3 5 b7 9"),
        ("C13", "1 3 5 b7 13"),
        ("Cm11", "1 b3 5 b7 11"),
        ("Cmaj9", "1 3 5 7 9"),
        ("C6/9", "1 3 5 6 9"),
        ("G13b9", "1 3 5 b7 b9 13"),
        ("C(b5)", "1 3 b5"),
        ("Bm11b5", "1 b3 b5 b7 11"),
    ],
)
def test_chord_tones(symbol: str, degrees: str) -> None:
    chord = parse_chord(symbol)
    assert chord.degrees == tuple(degrees.split())
    assert chord.tones == tuple(DEGREES[name] for name in degrees.split())


@pytest.mark.parametrize(
    ("symbol", "root", "quality", "bass"),
    [
        ("Am7b5/Eb", "A", "m7b5", "Eb"),
        ("C6/9", "C", "6/9", None),
        ("C6/9/E", "C", "6/9", "E"),
        ("C/E", "C", "", "E"),
        ("F#7/A#", "F#", "7", "A#"),
        ("E♭maj7/B♭", "Eb", "maj7", "Bb"),
        ("Bbm7", "Bb", "m7", None),
        ("Bb7#5", "Bb", "7#5", None),
        ("Ab", "Ab", "", None),
        ("Bbbmaj7", "Bbb", "maj7", None),
    ],
)
def test_root_and_slash_bass(symbol: str, root: str, quality: str, bass: str | None) -> None:
    chord = parse_chord(symbol)
    assert (chord.root, chord.quality, chord.bass) == (root, quality, bass)
    assert chord.root_class == parse_note_name(root)
    assert chord.degrees == parse_chord(root + (f"({quality})" if quality else "")).degrees, (
        "a bass adds no chord tone"
    )


def test_same_chord_whatever_the_spelling() -> None:
    assert parse_chord("Dm7").key == parse_chord("D-7").key == parse_chord(" D min7 ").key
    assert parse_chord("C#7").key != parse_chord("Db7").key
    assert parse_chord("C7").key != parse_chord("C7/E").key
    assert parse_chord("G7alt").key != parse_chord("G7#5").key
    assert parse_chord("D-7/C").name == "Dm7/C"
    assert parse_chord("C7altsus4").name == parse_chord(parse_chord("C7altsus4").name).name == "C7altsus4"


@given(
    st.sampled_from(ROOTS),
    st.sampled_from(QUALITIES),
    st.lists(st.sampled_from([*ADDITIONS, *FIFTHS, *SUSPENSIONS]), max_size=3),
)
def test_canonical_name_reads_back_as_the_same_chord(root: str, quality: Quality, changes: list[str]) -> None:
    try:
        chord = parse_chord(f"{root}({quality.name}{''.join(changes)})")
    except InputError:
        assert changes, "every quality of the table is read"
        return
    assert parse_chord(chord.name).key == chord.key
    assert parse_chord(chord.name).degrees == chord.degrees
    assert len(set(chord.tones)) == len(chord.tones) >= 3
    assert chord.tone_classes == {(chord.root_class + tone) % 12 for tone in chord.tones}


@given(st.text(alphabet="ABCDGabmM#jij7913+-()/ °ø♭susdltΔ", max_size=10))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        chord = parse_chord(text)
    except InputError as refusal:
        assert text.strip() in str(refusal)
    else:
        assert parse_chord(chord.name).key == chord.key


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("H7", "must begin with its root"),
        ("dm7", 'Did you mean "Dm7"'),
        ("", "must begin with its root"),
        ("C7x", '"C7" is understood, "x" is not'),
        ("Cmaj7z", '"z" is not'),
        ("Gmja7", 'Did you mean "Gmaj7"'),
        ("C5", "is not a chord symbol"),
        ("Cm7#9", "the same tone twice"),
        ("C7b5#11", "the same tone twice"),
        ("Csus4sus4", "cannot be suspended"),
        ("Cdim9", "whether it has a seventh"),
    ],
)
def test_refusals_say_what_is_wrong(text: str, says: str) -> None:
    with pytest.raises(InputError) as refusal:
        parse_chord(text)
    assert says in str(refusal.value)


@pytest.mark.parametrize(
    ("symbol", "names"),
    [
        ("G7", "1 b9 9 #9 3 11 #11 5 b13 13 b7 7"),
        ("G7alt", "1 b9 9 #9 3 11 b5 5 #5 13 b7 7"),
        ("Dm7", "1 b9 9 b3 3 11 #11 5 b13 13 b7 7"),
        ("Cmaj7", "1 b9 9 #9 3 11 #11 5 b13 13 b7 7"),
        ("C6", "1 b9 9 #9 3 11 #11 5 b6 6 b7 7"),
        ("Bm7b5", "1 b9 9 b3 3 11 b5 5 b13 13 b7 7"),
        ("Bdim7", "1 b9 9 b3 3 11 b5 5 b13 bb7 b7 7"),
    ],
)
def test_names_of_all_degrees_over_a_chord(symbol: str, names: str) -> None:
    chord = parse_chord(symbol)
    assert [chord.degree_of(60 + chord.root_class + tone) for tone in range(12)] == names.split()


@given(st.sampled_from(QUALITIES), st.sampled_from(ROOTS), st.integers(0, 127))
def test_a_degree_name_stands_for_its_pitch(quality: Quality, root: str, pitch: int) -> None:
    chord = parse_chord(f"{root}({quality.name})")
    name = chord.degree_of(pitch)
    assert (chord.root_class + DEGREES[name] - pitch) % 12 == 0
    assert (name in chord.degrees) == (pitch % 12 in chord.tone_classes)
