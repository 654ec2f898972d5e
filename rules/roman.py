"""Roman numerals: chords by their place in a key."""

from __future__ import annotations

import re

from corpora.errors import InputError
from rules.chords import Chord

_ROMAN = re.compile(r"(bb|##|b|#|♭|♯|)(VII|VI|IV|V|III|II|I|vii|vi|iv|v|iii|ii|i)(.*)")


def is_roman(token: str) -> bool:
    """Whether a token is a roman numeral rather than a chord symbol."""
    return _ROMAN.fullmatch(token.strip()) is not None


def roman_to_chord(token: str, key: str) -> Chord:
    """Placeholder until numerals are read."""
    raise InputError(f'"{token}" in {key}: roman numerals are not read yet; write chord symbols.')
