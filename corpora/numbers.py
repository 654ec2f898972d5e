"""Whole numbers in text: read only where they are not absurdly long, since the time that takes grows with the
square of their digits."""

from __future__ import annotations

from everyline.corpora.errors import InputError

MOST_DIGITS = 1000
"""Digits that a number may have: far more than any count of lines that a rule file has had."""


def whole(text: str) -> int:
    """The whole number that a text is. Raises InputError for one of too many digits, ValueError for none."""
    if len(text) > MOST_DIGITS:
        raise InputError(
            f"a number of {len(text)} digits is too long; {MOST_DIGITS} digits are read at most."
        )
    return int(text)
