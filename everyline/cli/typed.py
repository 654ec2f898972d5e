"""What is typed on a command line as it is meant: lists, ranges of numbers, changes, written pitch."""

from __future__ import annotations

import argparse
import re
from typing import Any

from everyline.cli.messages import say
from everyline.corpora.errors import InputError
from everyline.rules.typed_changes import plainly

NUMBERS = {
    "subdivision",
    "position",
    "span",
    "turns",
    "skips",
    "reach",
    "after",
    "lead_in",
    "pickup",
    "strings",
}


def add_written(parser: argparse.ArgumentParser) -> None:
    """The option of commands that read or print a line as text."""
    parser.add_argument(
        "--written",
        action="store_true",
        help="read and print pitches and chords as a transposing instrument has them on paper; the rules "
        "themselves stay at sounding pitch",
    )


def check_written(arguments: argparse.Namespace, text: str | None = None) -> None:
    """Raises InputError where written pitch is asked for in data, which is at sounding pitch, or for a file,
    which states its own transposition."""
    if not arguments.written:
        return
    if getattr(arguments, "format", "text") != "text":
        raise InputError(f"--written goes with text; {arguments.format} holds sounding pitches.")
    from everyline.reading.fitted import is_file

    if text is not None and is_file(text):
        raise InputError("--written is for notes that are typed; a file states its own transposition.")


def read_changes(data: dict[str, Any]) -> None:
    """Reads commas and dashes between chords as they are meant, and says so."""
    written = data.get("changes")
    if not isinstance(written, str):
        return
    read = plainly(written)
    if read != written:
        data["changes"] = read
        say(f'the changes were read as "{read}".')


def items(option: str, texts: list[str]) -> list[str] | list[int]:
    """The items of a list option: parted by commas or spaces, the option given once or several times.

    A rhythm cell has spaces in itself, so that cells are parted by commas alone.
    """
    if option == "cells":
        return [cell.strip() for text in texts for cell in text.split(",")]
    words = [word for text in texts for word in text.replace(",", " ").split()]
    if option not in NUMBERS:
        return words
    try:
        return [number for word in words for number in _whole_numbers(word)]
    except ValueError:
        raise InputError(
            f'--{option} "{" ".join(words)}": write whole numbers, such as "1 3" or 1-3.'
        ) from None


def _whole_numbers(word: str) -> list[int]:
    """The number that a word is, or those of a range such as 1-4. Raises ValueError."""
    span = re.fullmatch(r"(\d{1,3})[-\N{EN DASH}](\d{1,3})", word)
    if span is None:
        return [int(word)]
    first, last = int(span[1]), int(span[2])
    return list(range(first, last + 1)) or list(range(first, last - 1, -1))
