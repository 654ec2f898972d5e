"""Pitches and note names.

A pitch is a MIDI number in semitones, sounding (concert) pitch, C4 = 60. A pitch class is 0..11, C = 0.
"""

from __future__ import annotations

import re

from everyline.corpora.errors import InputError

LETTERS: dict[str, int] = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
"""Pitch class of each natural note."""

_ON_STAFF = "".join(LETTERS)

ACCIDENTALS: dict[str, int] = {"bb": -2, "b": -1, "": 0, "#": 1, "##": 2}
"""Semitones of each accidental, in the ASCII spelling used throughout."""

LOWEST, HIGHEST = 0, 127
"""The MIDI range: C-1 to G9."""

_SIGNS = {"♭": "b", "♯": "#", "𝄫": "bb", "𝄪": "##", "x": "##", "♮": ""}
_NAME = re.compile(r"([A-Ga-g])(bb|##|b|#|)")
_PITCH = re.compile(_NAME.pattern + r"(-?\d{1,2})")


def ascii_accidentals(text: str) -> str:
    """Write every accidental sign of a note name in ASCII: ``B♭`` gives ``Bb``, ``Fx`` gives ``F##``."""
    for sign, plain in _SIGNS.items():
        text = text.replace(sign, plain)
    return text


def _begins_with_letter(text: str) -> bool:
    """Whether a letter comes first, before signs are written in ASCII: a lone flat sign is no note B."""
    return text.strip()[:1].isascii()


def split_note_name(text: str) -> tuple[str, str] | None:
    """Split ``Eb`` into (``E``, ``b``), accidentals in ASCII; None when it is not a note name."""
    found = _NAME.fullmatch(ascii_accidentals(text.strip())) if _begins_with_letter(text) else None
    return (found[1].upper(), found[2]) if found else None


def split_pitch(text: str) -> tuple[str, str, int] | None:
    """Split ``Eb4`` into (``E``, ``b``, 4), accidentals in ASCII; None when it is not a pitch."""
    found = _PITCH.fullmatch(ascii_accidentals(text.strip())) if _begins_with_letter(text) else None
    return (found[1].upper(), found[2], int(found[3])) if found else None


def is_pitch(text: str) -> bool:
    """Whether the text names a pitch with its octave (``D4``), which may still be out of MIDI range."""
    return split_pitch(text) is not None


def is_note_name(text: str) -> bool:
    """Whether the text is a note name without an octave (``D``, ``E♭``)."""
    return split_note_name(text) is not None


def parse_pitch(text: str) -> int:
    """MIDI number of a pitch in scientific notation: ``D4`` is 62, ``Cb4`` 59.

    Raises InputError when the text is not a pitch or lies outside MIDI 0..127.
    """
    parts = split_pitch(text)
    if parts is None:
        hint = " The octave is missing." if is_note_name(text) else ""
        raise InputError(
            f'"{text}" is not a pitch.{hint} Write a letter A to G, an accidental (b # bb ##) if there is '
            f"one, and an octave, such as D4, Eb4 or F#3 (C4 is middle C)."
        )
    letter, accidental, octave = parts
    number = 12 * (octave + 1) + LETTERS[letter] + ACCIDENTALS[accidental]
    if not LOWEST <= number <= HIGHEST:
        raise InputError(f'"{text}" is out of reach: pitches go from C-1 to G9 (MIDI 0 to 127).')
    return number


def parse_note_name(text: str) -> int:
    """Pitch class (0..11) of a note name without octave: ``Eb`` is 3. Raises InputError."""
    parts = split_note_name(text)
    if parts is None:
        hint = " Leave the octave out." if is_pitch(text) else ""
        raise InputError(
            f'"{text}" is not a note name.{hint} Write a letter A to G and an accidental (b # bb ##) if '
            f"there is one, such as D, Eb or F#."
        )
    return (LETTERS[parts[0]] + ACCIDENTALS[parts[1]]) % 12


def note_name(text: str) -> str:
    """The note name in its usual spelling: upper-case letter, ASCII accidental. Raises InputError."""
    parse_note_name(text)
    parts = split_note_name(text)
    assert parts is not None
    return parts[0] + parts[1]


def letter_steps(low: str, high: str) -> int:
    """Steps up the staff (0 to 6) from the letter of one note name to that of another."""
    return (_ON_STAFF.index(high[0]) - _ON_STAFF.index(low[0])) % 7


def letter_above(letter: str, steps: int) -> str:
    """The letter so many steps up the staff, or down it where they are below 0."""
    return _ON_STAFF[(_ON_STAFF.index(letter) + steps) % 7]
