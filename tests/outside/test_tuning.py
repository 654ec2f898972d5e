"""Pitch numbers against the tuning of the guitar."""

import pytest

from everyline.rules.pitch import parse_pitch

# MusicXML tablature tutorial (W3C): standard tuning; MIDI numbers as music21 (BSD licence) gives them.
STANDARD = {"E2": 40, "A2": 45, "D3": 50, "G3": 55, "B3": 59, "E4": 64}


@pytest.mark.parametrize("name", STANDARD)
def test_open_strings(name: str) -> None:
    assert parse_pitch(name) == STANDARD[name]


def test_open_strings_in_music21() -> None:
    instrument = pytest.importorskip("music21.instrument")
    assert [pitch.midi for pitch in instrument.Guitar().stringPitches] == list(STANDARD.values())


def test_fretted_notes() -> None:
    """Same tutorial: string 3 (G3), fret 5 is C4 and fret 7 D4."""
    assert parse_pitch("G3") + 5 == parse_pitch("C4")
    assert parse_pitch("G3") + 7 == parse_pitch("D4")


def test_every_pitch_number_agrees_with_music21() -> None:
    """music21 (BSD licence), pitch.Pitch: letters, accidentals and octaves, Cb4 below C4 included."""
    pitch = pytest.importorskip("music21.pitch")
    for letter in "CDEFGAB":
        for accidental in ("bb", "b", "", "#", "##"):
            for octave in range(8):
                theirs = pitch.Pitch(f"{letter}{accidental.replace('b', '-')}{octave}")
                assert parse_pitch(f"{letter}{accidental}{octave}") == theirs.ps
