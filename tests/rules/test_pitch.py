"""Pitch and note names, degrees."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline.corpora.errors import EverylineError, InputError, did_you_mean
from everyline.rules.degrees import DEGREES, degree_number, parse_degree
from everyline.rules.pitch import (
    ACCIDENTALS,
    LETTERS,
    is_note_name,
    is_pitch,
    note_name,
    parse_note_name,
    parse_pitch,
)


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("C4", 60),
        ("D4", 62),
        ("d4", 62),
        ("Bb3", 58),
        ("bb3", 58),
        ("b3", 59),
        ("B♭3", 58),
        ("F#4", 66),
        ("F♯4", 66),
        ("Fx4", 67),
        ("F##4", 67),
        ("F𝄪4", 67),
        ("Bbb3", 57),
        ("B𝄫3", 57),
        ("Cb4", 59),
        ("B#3", 60),
        ("C-1", 0),
        ("G9", 127),
        (" E4 ", 64),
    ],
)
def test_pitch_in_scientific_notation(text: str, number: int) -> None:
    assert parse_pitch(text) == number


@pytest.mark.parametrize(
    "text", ["", "H4", "4", "D", "D4x", "Dbbb4", "D#b4", "D 4", "Cb-1", "G#9", "A10", "D4.5"]
)
def test_what_is_not_a_pitch_is_refused_with_its_text(text: str) -> None:
    with pytest.raises(InputError) as refusal:
        parse_pitch(text)
    assert f'"{text}"' in str(refusal.value)


def test_a_missing_octave_is_said() -> None:
    with pytest.raises(InputError, match="octave is missing"):
        parse_pitch("D")
    with pytest.raises(InputError, match="Leave the octave out"):
        parse_note_name("D4")


@given(st.sampled_from(sorted(LETTERS)), st.sampled_from(sorted(ACCIDENTALS)), st.integers(0, 7))
def test_pitch_is_note_name_plus_octave(letter: str, accidental: str, octave: int) -> None:
    name = letter + accidental
    number = parse_pitch(f"{name}{octave}")
    assert number % 12 == parse_note_name(name)
    assert parse_pitch(f"{name}{octave + 1}") == number + 12
    assert note_name(name.lower()) == name
    assert is_note_name(name) and not is_pitch(name)
    assert is_pitch(f"{name}{octave}") and not is_note_name(f"{name}{octave}")


@given(st.text(max_size=6))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        assert 0 <= parse_pitch(text) <= 127
        assert is_pitch(text)
    except InputError as refusal:
        assert "\n" not in str(refusal) or "\n" in text


@pytest.mark.parametrize("name", DEGREES)
def test_degrees_in_either_spelling(name: str) -> None:
    assert parse_degree(name) == DEGREES[name]
    assert parse_degree(name.replace("b", "♭").replace("#", "♯")) == DEGREES[name]


@pytest.mark.parametrize("name", DEGREES)
def test_a_degree_is_its_major_scale_step_altered(name: str) -> None:
    step = (0, 2, 4, 5, 7, 9, 11)[degree_number(name) - 1]
    assert DEGREES[name] == step + name.count("#") - name.count("b")


@pytest.mark.parametrize("text", ["", "8", "b1", "#7", "3b", "flat 9", "b 9"])
def test_what_is_not_a_degree_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="Use one of: 1 b2 b9 2 9"):
        parse_degree(text)


def test_near_match_is_named_and_a_far_one_is_not() -> None:
    assert did_you_mean("enclosre-2", ["enclosure-2", "plain"]) == ' Did you mean "enclosure-2"?'
    assert did_you_mean("DORIAN", ["dorian"]) == ' Did you mean "dorian"?'
    assert did_you_mean("zzz", ["enclosure-2", "plain"]) == ""
    assert did_you_mean("plain", ["plain"]) == ""
    assert did_you_mean("x", []) == ""


def test_wrong_input_has_the_common_base() -> None:
    assert issubclass(InputError, EverylineError)
