"""How the words of options become numbers and paths that are such."""

from __future__ import annotations

import argparse
from math import isfinite
from pathlib import Path


def a_number(text: str) -> float:
    """A number that is one: no infinity. Raises ValueError."""
    value = float(text)
    if not isfinite(value):
        raise ValueError(text)
    return value


def a_path(text: str) -> Path:
    """A path. Raises ArgumentTypeError for one that no system can hold."""
    if "\0" in text:
        raise argparse.ArgumentTypeError(f"{text!r} holds a null byte, which no path can")
    return Path(text)


def a_text(text: str) -> str:
    """A text to be written or printed. Raises ArgumentTypeError for bytes that are none."""
    from everyline.rules.schema import is_text

    if not is_text(text):
        raise argparse.ArgumentTypeError(f"{text!r} holds bytes that are not UTF-8 text; write it in UTF-8")
    return text


READERS = {float: a_number, Path: a_path, str: a_text}
"""What reads the words of an option, by the type that its parser states. Where it states none, any bytes are
taken: names of files need not be text."""
