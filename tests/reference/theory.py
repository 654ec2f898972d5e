"""Pitch names, degrees, chords and scales, as tables.  Pitches are MIDI numbers (C4 = 60)."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}

# The rules say: "Degrees are semitones above a chord's root."
DEGREES = {
    "1": 0,
    "b2": 1,
    "b9": 1,
    "2": 2,
    "9": 2,
    "#2": 3,
    "#9": 3,
    "b3": 3,
    "3": 4,
    "4": 5,
    "11": 5,
    "#4": 6,
    "#11": 6,
    "b5": 6,
    "5": 7,
    "#5": 8,
    "b6": 8,
    "b13": 8,
    "6": 9,
    "13": 9,
    "bb7": 9,
    "b7": 10,
    "7": 11,
}

SCALES = {
    "ionian": (0, 2, 4, 5, 7, 9, 11),
    "dorian": (0, 2, 3, 5, 7, 9, 10),
    "phrygian": (0, 1, 3, 5, 7, 8, 10),
    "lydian": (0, 2, 4, 6, 7, 9, 11),
    "mixolydian": (0, 2, 4, 5, 7, 9, 10),
    "aeolian": (0, 2, 3, 5, 7, 8, 10),
    "locrian": (0, 1, 3, 5, 6, 8, 10),
    "melodic minor": (0, 2, 3, 5, 7, 9, 11),
    "fifth mode of harmonic minor": (0, 1, 4, 5, 7, 8, 10),
    "whole tone": (0, 2, 4, 6, 8, 10),
    "altered": (0, 1, 3, 4, 6, 8, 10),
    "whole-half diminished": (0, 2, 3, 5, 6, 8, 9, 11),
}

# quality: (tones, scale).  The rules say: "Chord tones are the tones that the symbol names. Seventh
# chords have four ...; triads three; a named extension adds its tone (G7b9 adds b9, C9 adds 9)."
# The scale of 7b5 is not named by the rules; none is given here, so a diatonic step from it fails.
QUALITIES: dict[str, tuple[str, str]] = {
    "": ("1 3 5", "ionian"),
    "maj7": ("1 3 5 7", "ionian"),
    "maj9": ("1 3 5 7 9", "ionian"),
    "6": ("1 3 5 6", "ionian"),
    "7": ("1 3 5 b7", "mixolydian"),
    "9": ("1 3 5 b7 9", "mixolydian"),
    "13": ("1 3 5 b7 13", "mixolydian"),
    "7sus4": ("1 4 5 b7", "mixolydian"),
    "m": ("1 b3 5", "dorian"),
    "m7": ("1 b3 5 b7", "dorian"),
    "m9": ("1 b3 5 b7 9", "dorian"),
    "m7b5": ("1 b3 b5 b7", "locrian"),
    "dim7": ("1 b3 b5 bb7", "whole-half diminished"),
    "m(maj7)": ("1 b3 5 7", "melodic minor"),
    "m6": ("1 b3 5 6", "melodic minor"),
    "7b9": ("1 3 5 b7 b9", "fifth mode of harmonic minor"),
    "7#5": ("1 3 #5 b7", "whole tone"),
    "7b5": ("1 3 b5 b7", ""),
    "7alt": ("1 3 #5 b7", "altered"),
}

# The rules say: "where that next chord is minor (m, m7, m6, m9, m(maj7))"; "m7b5 is not minor for the scale
# of a plain 7".
MINOR = ("m", "m7", "m6", "m9", "m(maj7)")

# The default of `over`.  The rules say: "default 7 9 7b9 7#5 7b5 7alt 7sus4".
DOMINANT = ("7", "9", "7b9", "7#5", "7b5", "7alt", "7sus4")

# roman numeral: semitones above the key note
ROMAN = {"I": 0, "II": 2, "III": 4, "IV": 5, "V": 7, "VI": 9, "VII": 11}

# String number to the pitch of the open string (standard tuning).
GUITAR = {1: 64, 2: 59, 3: 55, 4: 50, 5: 45, 6: 40}


def pitch_class(name: str) -> int:
    """`Bb` -> 10."""
    return (LETTERS[name[0]] + name.count("#") - name[1:].count("b")) % 12


def pitch_number(name: str) -> int:
    """`C4` -> 60.  The rules say: "C4 = MIDI 60"."""
    found = re.fullmatch(r"([A-G])([#b]*)(-?\d+)", name)
    if not found:
        raise ValueError(f"{name!r} is not a pitch")
    letter, accidentals, octave = found.groups()
    alter = accidentals.count("#") - accidentals.count("b")
    return LETTERS[letter] + alter + 12 * (int(octave) + 1)


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord of the progression; `tones` and `scale` are semitones above the root."""

    symbol: str
    root: int
    quality: str
    tones: frozenset[int]
    scale: tuple[int, ...]

    @property
    def degrees(self) -> list[str]:
        """The degrees of the chord tones, as the table of qualities has them."""
        return QUALITIES[self.quality][0].split()

    def has(self, pitch: int) -> bool:
        """Whether a pitch is a chord tone."""
        return (pitch - self.root) % 12 in self.tones

    def has_colour(self, pitch: int) -> bool:
        """The decisions say: "a colour tone of the last chord: a tone of its chord scale that does not lie a
        semitone above a chord tone"."""
        return self.in_scale(pitch) and not self.has(pitch) and not self.has(pitch - 1)

    def is_degree(self, pitch: int, degree: str) -> bool:
        return (pitch - self.root) % 12 == DEGREES[degree]

    def rung(self, pitch: int, way: int) -> int:
        """The next pitch of the ladder above (way +1) or below (way -1).

        The rules say: "The ladder of a chord is every pitch whose pitch class is a chord tone, in order."
        """
        pitch += way
        while not self.has(pitch):
            pitch += way
        return pitch

    def neighbour(self, pitch: int, way: int) -> int:
        """The next pitch of the chord scale above or below."""
        pitch += way
        while not self.in_scale(pitch):
            pitch += way
        return pitch

    def in_scale(self, pitch: int) -> bool:
        if not self.scale:
            raise ValueError(f"no chord scale is known for {self.symbol}")
        return (pitch - self.root) % 12 in self.scale

    def guides(self) -> list[str]:
        """Third and seventh: 3 or b3 (4 for sus); 7, b7 or bb7 (6 where there is a sixth but no seventh)."""
        have = self.degrees
        third = [d for d in have if d in ("3", "b3")] or [d for d in have if d == "4"]
        seventh = [d for d in have if d in ("7", "b7", "bb7")] or [d for d in have if d == "6"]
        return third + seventh


def parse_chord(symbol: str, key: str | None, scales: dict[str, str]) -> Chord:
    """Read a chord symbol, or a roman numeral when a key is given."""
    letters = re.fullmatch(r"([A-G][#b]?)(.*)", symbol)
    roman = re.fullmatch(r"([#b]?)(VII|VI|IV|V|III|II|I|vii|vi|iv|v|iii|ii|i)(.*)", symbol)
    if letters:
        root, quality = pitch_class(letters[1]), letters[2]
    elif roman and key:
        alter = {"": 0, "#": 1, "b": -1}[roman[1]]
        root = (pitch_class(key) + ROMAN[roman[2].upper()] + alter) % 12
        quality = roman[3]
        if roman[2].islower() and quality in ("", "6", "7", "9"):
            quality = "m" + quality
    else:
        raise ValueError(f"{symbol!r} is not a chord")
    if quality not in QUALITIES:
        raise ValueError(f"{quality!r} of {symbol!r} is not a chord quality that is known here")
    # The rules say: "Unless the file says otherwise: maj7, 6 and major triads Ionian; ..."
    scale_name = scales.get(symbol, QUALITIES[quality][1])
    tones = frozenset(DEGREES[degree] for degree in QUALITIES[quality][0].split())
    return Chord(symbol, root, quality, tones, SCALES[scale_name] if scale_name else ())


def scale_before(chord: Chord, following: Chord) -> Chord:
    """The rules say: "A plain 7 whose root lies a fifth above the next chord's root takes the fifth mode of
    harmonic minor where that next chord is minor"."""
    fifth_above = (chord.root - following.root) % 12 == 7
    if chord.quality == "7" and fifth_above and following.quality in MINOR:
        return replace(chord, scale=SCALES["fifth mode of harmonic minor"])
    return chord


def between(p: int, q: int) -> list[int]:
    """Every pitch strictly between two, in order from the first."""
    return list(range(p + 1, q)) if p < q else list(range(p - 1, q, -1))
