"""Chord tones against published lists of chord kinds."""

import pytest

from everyline.rules.chords import parse_chord

# MusicXML 4.0 (W3C), musicxml.xsd, simple type kind-value: each kind with the intervals that its annotation
# gives, here as semitones above the root.
KINDS = {
    "major": ("C", (0, 4, 7)),
    "minor": ("Cm", (0, 3, 7)),
    "augmented": ("Caug", (0, 4, 8)),
    "diminished": ("Cdim", (0, 3, 6)),
    "dominant": ("C7", (0, 4, 7, 10)),
    "major-seventh": ("Cmaj7", (0, 4, 7, 11)),
    "minor-seventh": ("Cm7", (0, 3, 7, 10)),
    "diminished-seventh": ("Cdim7", (0, 3, 6, 9)),
    "augmented-seventh": ("C7#5", (0, 4, 8, 10)),
    "half-diminished": ("Cm7b5", (0, 3, 6, 10)),
    "major-minor": ("Cm(maj7)", (0, 3, 7, 11)),
    "major-sixth": ("C6", (0, 4, 7, 9)),
    "minor-sixth": ("Cm6", (0, 3, 7, 9)),
    "dominant-ninth": ("C9", (0, 4, 7, 10, 2)),
    "major-ninth": ("Cmaj9", (0, 4, 7, 11, 2)),
    "minor-ninth": ("Cm9", (0, 3, 7, 10, 2)),
    "suspended-second": ("Csus2", (0, 2, 7)),
    "suspended-fourth": ("Csus4", (0, 5, 7)),
}


@pytest.mark.parametrize("kind", KINDS)
def test_musicxml_kinds(kind: str) -> None:
    symbol, tones = KINDS[kind]
    assert parse_chord(symbol).tones == tones


def test_musicxml_kinds_exist_in_the_schema() -> None:
    """The names above are those of the schema that the musicxml package carries."""
    schema = pytest.importorskip("musicxml.xsd.xsdsimpletype")
    for kind in KINDS:
        schema.XSDSimpleTypeKindValue(kind)
    with pytest.raises(ValueError, match="dominant-seventh"):
        schema.XSDSimpleTypeKindValue("dominant-seventh")


# music21 (BSD licence), harmony.CHORD_TYPES: kind, and our symbol for it. Kinds on an eleventh or thirteenth
# are left out: music21 stacks every extension below, here a named extension adds its own tone only.
MUSIC21 = {
    "major": "C",
    "minor": "Cm",
    "augmented": "Caug",
    "diminished": "Cdim",
    "dominant-seventh": "C7",
    "major-seventh": "Cmaj7",
    "minor-major-seventh": "Cm(maj7)",
    "minor-seventh": "Cm7",
    "augmented-major-seventh": "Cmaj7#5",
    "augmented-seventh": "C7#5",
    "half-diminished-seventh": "Cm7b5",
    "diminished-seventh": "Cdim7",
    "seventh-flat-five": "C7b5",
    "major-sixth": "C6",
    "minor-sixth": "Cm6",
    "major-ninth": "Cmaj9",
    "dominant-ninth": "C9",
    "minor-major-ninth": "Cm(maj9)",
    "minor-ninth": "Cm9",
    "augmented-dominant-ninth": "C9#5",
    "suspended-second": "Csus2",
    "suspended-fourth": "Csus4",
    "suspended-fourth-seventh": "C7sus4",
}


def test_music21_chord_types() -> None:
    harmony = pytest.importorskip("music21.harmony")
    for kind, symbol in MUSIC21.items():
        degrees = tuple(part.replace("-", "b") for part in harmony.CHORD_TYPES[kind][0].split(","))
        assert parse_chord(symbol).degrees == degrees, kind


def test_music21_abbreviations_are_read_alike() -> None:
    """Each abbreviation that music21 lists for these kinds means the same chord here."""
    harmony = pytest.importorskip("music21.harmony")
    read = 0
    for kind, symbol in MUSIC21.items():
        for abbreviation in harmony.CHORD_TYPES[kind][1]:
            if abbreviation in ("Maj9", "dom9", "dom7dim5"):
                continue  # Not in lead-sheet use.
            assert parse_chord(f"C{abbreviation}").key == parse_chord(symbol).key, abbreviation
            read += 1
    assert read >= 30


@pytest.mark.parametrize("root", ["C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G"])
@pytest.mark.parametrize("quality", ["maj7", "7", "m7", "dim7", "mM7", "6", "m6", "9", "7sus4", "7+"])
def test_music21_chord_symbols_sound_the_same(root: str, quality: str) -> None:
    """music21 (BSD licence), harmony.ChordSymbol; it writes a flat as a minus sign."""
    harmony = pytest.importorskip("music21.harmony")
    theirs = harmony.ChordSymbol(root.replace("b", "-") + quality)
    assert parse_chord(root + quality).tone_classes == {pitch.pitchClass for pitch in theirs.pitches}


def test_flat_nine_adds_its_tone() -> None:
    """music21 (BSD licence), harmony.ChordSymbol("C7b9"): C E G Bb Db."""
    harmony = pytest.importorskip("music21.harmony")
    theirs = harmony.ChordSymbol("C7b9")
    assert parse_chord("C7b9").tone_classes == {pitch.pitchClass for pitch in theirs.pitches}


def test_diatonic_seventh_chords_of_a_major_key() -> None:
    """Open Music Theory (openmusictheory.com, triads and seventh chords): maj7 m7 m7 maj7 7 m7 m7b5."""
    scale = (0, 2, 4, 5, 7, 9, 11)
    for step, quality in enumerate(["maj7", "m7", "m7", "maj7", "7", "m7", "m7b5"]):
        thirds = {scale[(step + third) % 7] for third in (0, 2, 4, 6)}
        assert parse_chord("CDEFGAB"[step] + quality).tone_classes == thirds
