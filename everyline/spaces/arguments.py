"""What a caller in Python hands in: a wrong type or value is one sentence here and no fault further in."""

from __future__ import annotations

import os
from operator import index
from pathlib import Path
from typing import Any

from everyline.corpora.errors import InputError


def whole(name: str, value: object, least: int | None = None) -> int:
    """A whole number, ``least`` or more. Raises InputError with the name for anything else."""
    number = _index(value)
    if number is None or (least is not None and number < least):
        bound = "" if least is None else f", {least} or more"
        raise InputError(f"{name} = {value!r}: it must be a whole number{bound}.")
    return number


def whole_or_none(name: str, value: object, least: int) -> int | None:
    """The same, where None stands for no bound or for the usual value."""
    return None if value is None else whole(name, value, least)


def part(value: slice) -> slice:
    """A slice that a range takes: whole numbers or None, and a step that is not 0. Raises InputError."""
    ends = {name: getattr(value, name) for name in ("start", "stop", "step")}
    for name, end in ends.items():
        if end is not None and _index(end) is None:
            raise InputError(f"slice {name} {end!r}: it must be a whole number, or be left out.")
    if ends["step"] == 0:
        raise InputError("slice step 0: it must be a whole number other than 0, such as 1 or -1.")
    return value


def path(value: object, what: str) -> Path:
    """The path of a file. Raises InputError for what is no path."""
    if isinstance(value, str) or (isinstance(value, os.PathLike) and isinstance(value.__fspath__(), str)):
        return Path(value)
    raise InputError(f"{value!r} is not the path of a {what}; give it as text or as a Path.")


def _index(value: Any) -> int | None:
    """The value as a whole number; None where it is none. True and False are none here."""
    try:
        return None if isinstance(value, bool) else index(value)
    except TypeError:
        return None
