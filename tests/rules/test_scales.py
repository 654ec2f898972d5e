"""Scales and chord scales. Which scale goes with which chord is common practice of jazz teaching."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.corpora.errors import InputError
from everyline.rules.chord_table import ADDITIONS, QUALITIES, Quality
from everyline.rules.chords import parse_chord
from everyline.rules.degrees import DEGREES
from everyline.rules.scales import (
    ALIASES,
    CHORD_SCALES,
    SCALE_DEGREES,
    SCALES,
    default_scale,
    default_scale_name,
    default_scales,
    parse_scale,
)

DEFAULTS = {
    "ionian": ["maj7", "6", "", "maj9", "maj13", "6/9", "add9"],
    "lydian": ["maj7#11", "maj9#11"],
    "lydian augmented": ["maj7#5"],
    "mixolydian": ["7", "9", "13", "7sus4", "9sus4", "13sus4", "sus4", "sus2"],
    "lydian dominant": ["7#11", "9#11", "13#11"],
    "dorian": ["m7", "m9", "m11", "m13", "m"],
    "locrian": ["m7b5"],
    "whole-half diminished": ["dim7", "dim"],
    "melodic minor": ["m(maj7)", "m6", "m6/9", "m(maj9)"],
    "fifth mode of harmonic minor": ["7b9", "7b9b13"],
    "mixolydian b13": ["7b13"],
    "whole tone": ["7#5", "7b5", "9#5", "9b5", "aug"],
    "half-whole diminished": ["7#9", "13b9", "13#9", "7b9#11"],
    "altered": ["7alt", "7#5b9", "7#5#9", "7b5b9", "7b5#9"],
}


@pytest.mark.parametrize(("scale", "quality"), [(s, q) for s, all_ in DEFAULTS.items() for q in all_])
def test_default_scale_of_a_quality(scale: str, quality: str) -> None:
    chord = parse_chord(f"C{quality}")
    assert default_scale_name(chord) == scale
    assert default_scale(chord) == SCALES[scale]


@pytest.mark.parametrize("quality", [q.name for q in QUALITIES])
def test_a_default_scale_holds_the_chord(quality: str) -> None:
    chord = parse_chord(f"C{quality}")
    assert set(chord.tones) <= set(SCALES[default_scale_name(chord)])


FIFTH_MODE = "fifth mode of harmonic minor"


@pytest.mark.parametrize(
    ("changes", "scale"),
    [
        *((f"A7 | D{minor}", FIFTH_MODE) for minor in ("m", "m7", "m6", "m9", "m(maj7)", "m11")),
        *((f"A7 | D{other}", "mixolydian") for other in ("m7b5", "dim7", "maj7", "7", "7#9", "sus4", "")),
        *((f"A{other} | Dm7", "mixolydian") for other in ("9", "13", "7sus4")),
        ("A7b9 | Dm7", FIFTH_MODE),
        ("A7alt | Dm7", "altered"),
        ("A7/C# | Dm7", FIFTH_MODE),
        ("Eb7 | Dm7", "mixolydian"),
        ("A7 | G7 | Dm7", "mixolydian"),
        ("Bbb7 | Ebbm7", FIFTH_MODE),
    ],
)
def test_the_scale_of_a_dominant_before_minor(changes: str, scale: str) -> None:
    """Common practice: the dominant of a minor key is the fifth degree of its harmonic minor scale."""
    chords = [parse_chord(symbol) for symbol in changes.split(" | ")]
    assert default_scales(chords)[0] == SCALES[scale]
    assert default_scales(chords)[-1] == default_scale(chords[-1])


@given(st.sampled_from(QUALITIES), st.sampled_from(sorted(ADDITIONS)), st.sampled_from(sorted(ADDITIONS)))
def test_any_chord_lies_in_its_scale(quality: Quality, first: str, second: str) -> None:
    try:
        chord = parse_chord(f"C({quality.name}{first}{second})")
    except InputError:
        return
    scale = default_scale(chord)
    assert set(chord.tones) <= set(scale)
    assert list(scale) == sorted(set(scale))


def test_every_row_names_a_scale_that_holds_its_degrees() -> None:
    for degrees, scale in CHORD_SCALES:
        if degrees == "3 b7 b13 #9":
            continue  # No scale in the trade has both ninths, a natural fifth and b13; the #9 is added to it.
        assert {DEGREES[name] for name in degrees.split()} <= set(SCALES[scale]), (degrees, scale)


def test_every_row_decides_for_some_chord() -> None:
    """A row that an earlier one always overrules would be dead."""
    for degrees, scale in CHORD_SCALES:
        needed = set(degrees.split())
        first = next(row for row in CHORD_SCALES if set(row[0].split()) <= needed)
        assert first == (degrees, scale)


@pytest.mark.parametrize("name", SCALES)
def test_scales_rise_from_the_root_within_an_octave(name: str) -> None:
    scale = SCALES[name]
    assert scale[0] == 0 and list(scale) == sorted(set(scale)) and scale[-1] < 12
    assert len(SCALE_DEGREES[name]) == len(scale)


def test_no_two_names_stand_for_one_scale_save_as_alias() -> None:
    assert len(set(SCALES.values())) == len(SCALES)
    assert set(ALIASES.values()) <= set(SCALES)
    assert not set(ALIASES) & set(SCALES)


def mode(name: str, step: int) -> tuple[int, ...]:
    """The scale that starts on a step (from 1) of another."""
    scale = SCALES[name]
    return tuple(sorted((tone - scale[step - 1]) % 12 for tone in scale))


@pytest.mark.parametrize(
    ("name", "parent", "step"),
    [
        ("dorian", "ionian", 2),
        ("phrygian", "ionian", 3),
        ("lydian", "ionian", 4),
        ("mixolydian", "ionian", 5),
        ("aeolian", "ionian", 6),
        ("locrian", "ionian", 7),
        ("dorian b2", "melodic minor", 2),
        ("lydian augmented", "melodic minor", 3),
        ("lydian dominant", "melodic minor", 4),
        ("mixolydian b13", "melodic minor", 5),
        ("locrian natural 2", "melodic minor", 6),
        ("altered", "melodic minor", 7),
        ("fifth mode of harmonic minor", "harmonic minor", 5),
        ("half-whole diminished", "whole-half diminished", 2),
        ("minor pentatonic", "major pentatonic", 5),
        ("major blues", "blues", 2),
    ],
)
def test_modes_are_the_rotations_that_their_names_say(name: str, parent: str, step: int) -> None:
    assert SCALES[name] == mode(parent, step)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("altered", "altered"),
        ("Altered scale", "altered"),
        ("Phrygian dominant", "fifth mode of harmonic minor"),
        ("fifth mode of melodic minor", "mixolydian b13"),
        ("Whole Half Diminished", "whole-half diminished"),
        ("whole-tone", "whole tone"),
        ("Lydian ♭7", "lydian dominant"),
        ("melodic_minor", "melodic minor"),
    ],
)
def test_names_are_read_whatever_case_and_hyphens(text: str, name: str) -> None:
    scale = parse_scale(text)
    assert (scale.name, scale.degrees, scale.degree_names) == (name, SCALES[name], SCALE_DEGREES[name])


@pytest.mark.parametrize("name", [*SCALES, *ALIASES])
def test_every_name_is_read(name: str) -> None:
    assert parse_scale(name).name == ALIASES.get(name, name)


def test_an_unknown_scale_is_refused_with_the_nearest_name() -> None:
    with pytest.raises(InputError, match=r'"dorain" is not a scale.*Did you mean "dorian"'):
        parse_scale("dorain")


def test_a_tone_that_no_scale_holds_is_added() -> None:
    chord = parse_chord("G7#9b13")
    assert default_scale(chord) == (0, 1, 3, 4, 5, 7, 8, 10)
