"""Parts: written pitches and keys, by the transpositions of the trade, and accidentals in a bar."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from everyline import parse
from everyline.corpora import load
from everyline.paper.accidentals import accidentals, signature
from everyline.paper.bars import bars_of
from everyline.paper.instrument_part import Part, interval_words, moved_name, part_for
from everyline.rules.chords import parse_chord
from everyline.rules.pitch import parse_note_name, parse_pitch
from everyline.rules.spelling import parse_key
from everyline.rules.transpose import CYCLE, keys_in_order

INSTRUMENTS = load().instruments
NAMES = [f"{letter}{sign}" for letter in "CDEFGAB" for sign in ("", "b", "#")]


def part(name: str, concert: bool = False) -> Part:
    return part_for(INSTRUMENTS[name], [60, 72], concert)


# Common practice: a guitar is written an octave above its sound, a B flat trumpet a major second, an alto
# a major sixth, a tenor a major ninth, a baritone an octave and a major sixth.
@pytest.mark.parametrize(
    ("instrument", "sounding", "written", "clef"),
    [
        ("trumpet", "Bb3", "C4", "treble"),
        ("clarinet", "Bb3", "C4", "treble"),
        ("alto-saxophone", "Eb4", "C5", "treble"),
        ("tenor-saxophone", "Bb3", "C5", "treble"),
        ("baritone-saxophone", "Eb3", "C5", "treble"),
        ("flute", "C5", "C5", "treble"),
        ("viola", "C4", "C4", "alto"),
        ("trombone", "Bb2", "Bb2", "bass"),
    ],
)
def test_written_pitch(instrument: str, sounding: str, written: str, clef: str) -> None:
    found = part(instrument)
    assert found.written(sounding, found.steps("C")).name == written
    assert found.clef == clef


@pytest.mark.parametrize(
    ("instrument", "octaves"), [("guitar", -1), ("bass-guitar", -1), ("tenor-voice", -1)]
)
def test_octave_instruments_have_an_octave_clef(instrument: str, octaves: int) -> None:
    found = part(instrument)
    assert (found.octaves, found.semitones) == (octaves, 0)
    assert found.remark == "written an octave above its sound"


@pytest.mark.parametrize(
    ("instrument", "sounding", "written"),
    [
        ("trumpet", "Bb", "C"),
        ("trumpet", "F", "G"),
        ("trumpet", "B", "Db"),  # C sharp would have seven sharps
        ("trumpet", "Gb", "Ab"),
        ("alto-saxophone", "Eb", "C"),
        ("alto-saxophone", "E", "Db"),
        ("alto-saxophone", "B", "Ab"),  # G sharp does not exist as a signature
        ("tenor-saxophone", "Am", "Bm"),
        ("baritone-saxophone", "C#m", "Bbm"),
    ],
)
def test_written_key(instrument: str, sounding: str, written: str) -> None:
    found = part(instrument)
    assert found.written_key(sounding, found.steps(sounding)) == written
    assert found.written_fifths(sounding, found.steps(sounding)) == parse_key(written).fifths


@pytest.mark.parametrize("instrument", INSTRUMENTS)
@pytest.mark.parametrize("key", [*CYCLE, *keys_in_order(CYCLE, minor=True)])
def test_no_written_key_needs_more_than_six_accidentals(instrument: str, key: str) -> None:
    found = part(instrument)
    assert abs(found.written_fifths(key, found.steps(key))) <= 6


@given(
    st.sampled_from(sorted(INSTRUMENTS)), st.sampled_from(NAMES), st.integers(2, 5), st.sampled_from(CYCLE)
)
def test_written_pitch_sounds_as_the_note(instrument: str, name: str, octave: int, key: str) -> None:
    found = part(instrument)
    pitch = found.written(f"{name}{octave}", found.steps(key))
    assert pitch.midi - found.semitones == parse_pitch(f"{name}{octave}")
    assert abs(pitch.alter) < 2


@given(st.sampled_from(NAMES), st.integers(-13, 24), st.integers(-7, 14))
def test_moved_names_keep_their_interval(name: str, semitones: int, steps: int) -> None:
    usual = round(semitones * 7 / 12)
    if abs(steps - usual) > 1:
        return
    moved = moved_name(name, semitones, steps)
    assert parse_note_name(moved) == (parse_note_name(name) + semitones) % 12


def test_without_a_key_the_roots_decide() -> None:
    chords = [parse_chord(symbol) for symbol in ("C#m7", "F#7", "Bmaj7")]
    trumpet = part("trumpet")
    steps = trumpet.steps(None, chords)
    assert [trumpet.written_root(chord.root, steps) for chord in chords] == ["Eb", "Ab", "Db"]


def test_concert_parts_choose_their_clef_by_where_they_lie() -> None:
    assert part_for(None, [40, 50]).clef == "bass"
    assert part_for(None, [52, 76]).clef == "treble"
    assert part("baritone-saxophone", concert=True).semitones == 0


def test_intervals_in_words() -> None:
    assert [interval_words(size) for size in (2, 9, 12, 14, 21)] == [
        "a major second", "a major sixth", "an octave", "an octave and a major second",
        "an octave and a major sixth",
    ]  # fmt: skip


# -- accidentals ---------------------------------------------------------------------------------------------


def signs(notes: str, key: str = "C", courtesy: bool = True) -> list[str]:
    """Printed accidentals of four-eighth bars, ``(natural)`` in brackets where they are a courtesy."""
    space = parse('changes = "Dm7 | G7 | Cmaj7"\n[ending]\nuse = ["plain"]')
    line = space[0]
    from dataclasses import replace

    names = notes.split()
    events = tuple(
        replace(line.notes[0], onset=240 * place, length=240, name=name, pitch=parse_pitch(name))
        for place, name in enumerate(names)
    )
    line = replace(line, notes=events)
    concert = part_for(None, [60])
    rows = accidentals(
        bars_of(line), [concert.written(name, 0) for name in names], parse_key(key).fifths, courtesy
    )
    found = [each for bar, row in zip(bars_of(line), rows, strict=True)
             for each, written in zip(row, bar.written, strict=True) if written.note is not None]  # fmt: skip
    return ["" if each is None else f"({each.name})" if each.courtesy else each.name for each in found]


def test_an_accidental_holds_to_the_end_of_its_bar() -> None:
    assert signs("G#4 A4 G#4 G4 A4 A4 A4 A4") == ["sharp", "", "", "natural", "", "", "", ""]


def test_it_ends_at_the_bar_line_and_a_courtesy_says_so() -> None:
    bar = "G#4 A4 A4 A4 A4 A4 A4 A4"
    assert signs(f"{bar} G4")[-1] == "(natural)"
    assert signs(f"{bar} G#4")[-1] == "sharp"
    assert signs(f"{bar} G4", courtesy=False)[-1] == ""


def test_it_holds_in_its_own_octave_and_a_courtesy_helps_in_another() -> None:
    assert signs("F#4 F5 F#5") == ["sharp", "(natural)", "sharp"]


def test_the_signature_counts() -> None:
    assert signs("F#4 F4 Bb4 B4", key="D") == ["", "natural", "flat", "natural"]
    assert signature(-3) == {"F": 0, "C": 0, "G": 0, "D": 0, "A": -1, "E": -1, "B": -1}
    assert signature(2) == {"F": 1, "C": 1, "G": 0, "D": 0, "A": 0, "E": 0, "B": 0}
