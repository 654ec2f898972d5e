"""Keys, and the spelling of pitches: which letter and accidental a player expects to read.

A single pitch is spelled by its function: a chord tone and a tone of the chord scale take the letter of their
degree (the sharp fifth of G7#5 is D#), any other the name in the key, or that of the usual tension (the flat
ninth of G7 is Ab). The notes of a line, which may lead somewhere, are named in ``everyline.rules.names``. A
double accidental is never written: the plain name of the same key of the piano stands for it, as lead sheets
do. A note that belongs to neither chord, chord scale nor key is not called Cb, Fb, E# or B# either.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from everyline.corpora.errors import InputError, did_you_mean
from everyline.rules.chords import Chord
from everyline.rules.degrees import DEGREES, degree_number
from everyline.rules.pitch import (
    ACCIDENTALS,
    LETTERS,
    letter_above,
    note_name,
    parse_note_name,
    split_note_name,
)
from everyline.rules.scales import SCALE_DEGREES, SCALES, default_scale, default_scale_degrees

_FIFTHS = "FCGDAEB"
_SIGNS = {semitones: sign for sign, semitones in ACCIDENTALS.items()}
_SHARP = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_FLAT = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
PLAIN_NAMES = {"Cb": "B", "Fb": "E", "E#": "F", "B#": "C"}
"""The names that only a key, chord or scale that has them makes plain, and what stands for them elsewhere."""
_MODES = {"": False, "major": False, "maj": False, "m": True, "minor": True, "min": True, "-": True}


@dataclass(frozen=True, slots=True)
class Key:
    """A key: spelled tonic, whether it is minor, and its signature in fifths (sharps positive, -7..7)."""

    tonic: str
    minor: bool
    fifths: int

    @property
    def names(self) -> tuple[str, ...]:
        """The seven note names of the signature, from C (or its altered form) up."""
        return tuple(self._signed(letter) for letter in LETTERS)

    def _signed(self, letter: str) -> str:
        place = _FIFTHS.index(letter)
        if self.fifths >= 0:
            return letter + ("#" if place < self.fifths else "")
        return letter + ("b" if 6 - place < -self.fifths else "")


@lru_cache(maxsize=256)
def parse_key(text: str) -> Key:
    """Read a key: ``Eb``, ``Eb major``, ``Cm``, ``C minor``. Raises InputError, also beyond seven signs."""
    written = " ".join(text.split())
    for length in range(min(3, len(written)), 0, -1):
        head, tail = written[:length], written[length:].strip()
        mode = tail if tail in ("m", "M") else tail.casefold()
        if split_note_name(head) is None or mode not in _MODES:
            continue
        if head[0].islower() and len(tail) < 2:
            break
        return _key(text, note_name(head), _MODES[mode])
    near = did_you_mean(written, (written[:1].upper() + written[1:],)) if written[:1] in "abcdefg" else ""
    raise InputError(
        f'"{text}" is not a key. Write a capital letter, its accidental, and m (or minor) for a minor key, '
        f"such as C, Eb, F# or Cm.{near}"
    )


def _key(text: str, tonic: str, minor: bool) -> Key:
    fifths = _FIFTHS.index(tonic[0]) - 1 + 7 * ACCIDENTALS[tonic[1:]] - (3 if minor else 0)
    if abs(fifths) > 7:
        other = (_FLAT if fifths > 0 else _SHARP)[parse_note_name(tonic)]
        raise InputError(
            f'"{text}" would need {abs(fifths)} accidentals in its signature, and seven is the most. '
            f"Write {other}{'m' if minor else ''}, which sounds the same."
        )
    return Key(tonic, minor, fifths)


def key_signature(key: str) -> int:
    """Signature of a key in fifths: sharps positive, flats negative (``Eb`` is -3). Raises InputError."""
    return parse_key(key).fifths


def plain_name(letter: str, semitones: int) -> str:
    """A note name from a letter and its alteration in semitones, without double accidentals."""
    if abs(semitones) < 2:
        return letter + _SIGNS[semitones]
    return (_SHARP if semitones > 0 else _FLAT)[(LETTERS[letter] + semitones) % 12]


def spell_degree(root: str, degree: str) -> str:
    """Note name of a degree above a spelled root: ``b9`` of ``G`` is ``Ab``, ``#9`` of ``B`` is ``D``."""
    letter = letter_above(root[0], degree_number(degree) - 1)
    return plain_name(letter, _alteration(letter, parse_note_name(root) + DEGREES[degree]))


def _alteration(letter: str, pitch: int) -> int:
    """Semitones (-6..5) by which a letter must be altered to sound a pitch or pitch class."""
    return (pitch - LETTERS[letter] + 6) % 12 - 6


def with_octave(name: str, pitch: int) -> str:
    """The name with its octave; the octave follows the letter, so MIDI 59 is ``B3`` and ``Cb4``."""
    return f"{name}{(pitch - ACCIDENTALS[name[1:]]) // 12 - 1}"


@lru_cache(maxsize=65536)
def spell(pitch: int, chord: Chord, scale: tuple[int, ...] | None = None, key: str | None = None) -> str:
    """Spell one pitch (MIDI number) over a chord, whatever follows it: ``spell(68, G7)`` is ``Ab4``.

    ``scale`` is the chord scale in semitones above the root, when it is not the default one. The notes of a
    line are named by ``everyline.rules.names``. Raises InputError for a key that is none.
    """
    return with_octave(palette(chord, scale, key).usual[pitch % 12], pitch)


@dataclass(frozen=True, slots=True)
class Palette:
    """The names that pitch classes may have over a chord.

    ``fixed`` holds those which chord and chord scale decide, ``usual`` the name of each pitch class where
    nothing else decides, ``rare`` the names among Cb, Fb, E# and B# that key, chord or chord scale has.
    """

    root: str
    fixed: dict[int, str]
    usual: tuple[str, ...]
    rare: frozenset[str]

    def options(self, pitch_class: int) -> tuple[str, ...]:
        """The names that a pitch class may have."""
        plain = dict.fromkeys((_SHARP[pitch_class], _FLAT[pitch_class]))
        return (*plain, *(name for name in sorted(self.rare) if parse_note_name(name) == pitch_class))


@lru_cache(maxsize=4096)
def palette(chord: Chord, scale: tuple[int, ...] | None, key: str | None) -> Palette:
    """The names over a chord with its scale (None for the default one) in a key. Raises InputError for no
    key."""
    in_key = parse_key(key).names if key is not None else ()
    degrees = _scale_degrees(chord, scale)
    in_chord = {DEGREES[degree]: spell_degree(chord.root, degree) for degree in chord.degrees}
    in_scale = {DEGREES[degree]: spell_degree(chord.root, degree) for degree in degrees} | in_chord
    letters = [name[0] for name in in_scale.values()]
    single = {
        tone: name
        for tone, name in in_scale.items()
        if letters.count(name[0]) == 1 or name in in_key or tone in in_chord
    }
    rare = frozenset(name for name in (*in_key, *single.values()) if name in PLAIN_NAMES)
    names = {}
    for tone in range(12):
        name = spell_degree(chord.root, chord.degree_of(chord.root_class + tone))
        names[tone] = PLAIN_NAMES.get(name, name)
    names |= {(parse_note_name(name) - chord.root_class) % 12: name for name in in_key}
    names |= {tone: name if name in rare else PLAIN_NAMES.get(name, name) for tone, name in in_scale.items()}
    return Palette(
        chord.root,
        {(chord.root_class + tone) % 12: name for tone, name in single.items()},
        tuple(names[(pitch_class - chord.root_class) % 12] for pitch_class in range(12)),
        rare,
    )


def _scale_degrees(chord: Chord, scale: tuple[int, ...] | None) -> tuple[str, ...]:
    """Degree names of a chord scale; a scale without a name in the trade gives none."""
    if scale is None or set(scale) == set(default_scale(chord)):
        return default_scale_degrees(chord.quality, chord.degrees)
    tones = {tone % 12 for tone in scale}
    return next((SCALE_DEGREES[name] for name, held in SCALES.items() if set(held) == tones), ())
