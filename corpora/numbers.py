"""Whole numbers in text: read only where they are not absurdly long, since the time that takes grows with the
square of their digits."""

from __future__ import annotations

import re

from everyline.corpora.errors import InputError

MOST_DIGITS = 1000
"""Digits that a number may have: far more than any count of lines that a rule file has had."""
_LONG = re.compile(rf"[0-9]{{{MOST_DIGITS + 1},}}")


def refuse_long_numbers(text: str) -> None:
    """Raises InputError for a text with a number of more than MOST_DIGITS digits anywhere in it."""
    found = _LONG.search(text)
    if found:
        raise InputError(
            f"a number of {len(found[0])} digits is too long; {MOST_DIGITS} digits are read at most."
        )


def whole(text: str) -> int:
    """The whole number that a text is. Raises InputError for one that is too long, ValueError for none."""
    refuse_long_numbers(text)
    return int(text)
