"""Keys, and the spelling of pitches: which letter and accidental a player expects to read.

A note is spelled by its function. A chord tone and a tone of the chord scale take the letter of their degree
(the flat ninth of G7 is Ab, its sharp fifth D#); an approach note takes the letter next to its target, so
that the figure steps on the staff (G# to A from below, Bb to A from above). A double accidental is never
written: the plain name of the same key of the piano stands for it, as lead sheets do. A note that belongs to
neither chord, chord scale nor key is not called Fb, E# or B# either.
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
    note_name,
    parse_note_name,
    parse_pitch,
    split_note_name,
)
from everyline.rules.pitch import split_pitch as _split_pitch
from everyline.rules.scales import SCALE_DEGREES, SCALES, default_scale, default_scale_degrees

_ORDER = "CDEFGAB"
_FIFTHS = "FCGDAEB"
_SIGNS = {semitones: sign for sign, semitones in ACCIDENTALS.items()}
_SHARP = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_FLAT = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
_WHITE = {"Fb": "E", "E#": "F", "B#": "C"}
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
        return tuple(self._signed(letter) for letter in _ORDER)

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
    letter = _ORDER[(_ORDER.index(root[0]) + degree_number(degree) - 1) % 7]
    return plain_name(letter, _alteration(letter, parse_note_name(root) + DEGREES[degree]))


def _alteration(letter: str, pitch: int) -> int:
    """Semitones (-6..5) by which a letter must be altered to sound a pitch or pitch class."""
    return (pitch - LETTERS[letter] + 6) % 12 - 6


def with_octave(name: str, pitch: int) -> str:
    """The name with its octave; the octave follows the letter, so MIDI 59 is ``B3`` and ``Cb4``."""
    return f"{name}{(pitch - ACCIDENTALS[name[1:]]) // 12 - 1}"


@lru_cache(maxsize=65536)
def spell(
    pitch: int,
    chord: Chord,
    scale: tuple[int, ...] | None = None,
    key: str | None = None,
    target: str | None = None,
    step: int | str | None = None,
) -> str:
    """Spell a pitch (MIDI number) over a chord: ``spell(68, G7)`` is ``Ab4``.

    ``scale`` is the chord scale in semitones above the root, when it is not the default one. An approach note
    gives its ``target`` as spelled (``A4``), and may give its ``step`` as the figure writes it (-1, ``+d``),
    which then decides the side where target and pitch alone leave it open. Raises InputError for a key or a
    target that is none.
    """
    if target is not None:
        beside = _beside(pitch, target, step)
        if beside is not None:
            return with_octave(beside, pitch)
    return with_octave(_names(chord, scale, key)[pitch % 12], pitch)


def _beside(pitch: int, target: str, step: int | str | None) -> str | None:
    """Name of an approach note on the letter next to its target; None for one further than a whole step."""
    parts = _split_pitch(target)
    if parts is None:
        raise InputError(f'"{target}" is not a target to spell toward; write its pitch, such as A4.')
    distance = pitch - parse_pitch(target)
    if step is not None and _side(step) * distance < 0:
        raise InputError(
            f"step {step} cannot lead from MIDI {pitch} to {target}: the note is on its other side."
        )
    if distance == 0 or abs(distance) > 2:
        return None
    letter = _ORDER[(_ORDER.index(parts[0]) + (1 if distance > 0 else -1)) % 7]
    return plain_name(letter, _alteration(letter, pitch))


def _side(step: int | str) -> int:
    """1 for a step above the target, -1 for one below."""
    return -1 if str(step).strip().startswith(("-", "−")) else 1


@lru_cache(maxsize=4096)
def _names(chord: Chord, scale: tuple[int, ...] | None, key: str | None) -> tuple[str, ...]:
    """The name of each pitch class over a chord, in order from C."""
    names = {}
    for tone in range(12):
        name = spell_degree(chord.root, chord.degree_of(chord.root_class + tone))
        names[tone] = _WHITE.get(name, name)
    if key is not None:
        for name in parse_key(key).names:
            names[(parse_note_name(name) - chord.root_class) % 12] = name
    for degree in (*_scale_degrees(chord, scale), *chord.degrees):
        names[DEGREES[degree]] = spell_degree(chord.root, degree)
    return tuple(names[(pitch_class - chord.root_class) % 12] for pitch_class in range(12))


def _scale_degrees(chord: Chord, scale: tuple[int, ...] | None) -> tuple[str, ...]:
    """Degree names of a chord scale; a scale without a name in the trade gives none."""
    if scale is None or set(scale) == set(default_scale(chord)):
        return default_scale_degrees(chord.quality, chord.degrees)
    tones = {tone % 12 for tone in scale}
    return next((SCALE_DEGREES[name] for name, held in SCALES.items() if set(held) == tones), ())
