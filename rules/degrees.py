"""Degrees: semitones above a chord's root, by the names that musicians use."""

from __future__ import annotations

from everyline.corpora.errors import InputError, did_you_mean
from everyline.rules.pitch import ascii_accidentals

DEGREES: dict[str, int] = {
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
"""Every degree name and its semitones above the root (0..11)."""


def degree_name(text: str) -> str:
    """The degree in its ASCII spelling: ``♭9`` gives ``b9``. Raises InputError for any other text."""
    name = ascii_accidentals(text.strip())
    if name not in DEGREES:
        allowed = " ".join(DEGREES)
        raise InputError(f'"{text}" is not a degree. Use one of: {allowed}.{did_you_mean(name, DEGREES)}')
    return name


def parse_degree(text: str) -> int:
    """Semitones above the root (0..11) of a degree name. Raises InputError."""
    return DEGREES[degree_name(text)]


def degree_number(name: str) -> int:
    """The number in a degree name, folded into one octave: ``b9`` gives 2, ``#11`` 4, ``13`` 6."""
    number = int(name.lstrip("b#"))
    return number - 7 if number > 7 else number
