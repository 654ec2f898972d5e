"""Errors of the whole program, under one base class."""

from __future__ import annotations

import difflib
import errno
import re
from collections.abc import Iterable, Sequence

from everyline.corpora.counted import choice


class EverylineError(Exception):
    """Base of every error this program raises on purpose: one clear sentence for the user."""


class Stopped(EverylineError):
    """A limit of time, memory or size, or the loss of a process, has ended the work (exit code 3)."""


class InputError(EverylineError):
    """What was typed or written in a file is wrong (exit code 2)."""


NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
"""What the system says where a disk, a share of it, or a file may not grow any more."""


def reason(error: OSError | ValueError) -> str:
    """What the system says of a path that it cannot open, or Python of one with a null byte."""
    return getattr(error, "strerror", None) or str(error)


MOST_NEAR = 4
"""Names that a sentence suggests at most; where more are as near, none of them is worth naming."""
LEAST_NEAR, SURE = 0.6, 0.85
"""How alike (``difflib``'s ratio) a name must be to be suggested at all, and to be a slip of the pen."""


def did_you_mean(value: str, allowed: Iterable[str]) -> str:
    """``' Did you mean "x"?'`` with the allowed values that are nearest, or nothing where none is near.

    A slip of the pen goes before a part of a longer name. Values that are as near as each other are all
    named.
    """
    near = nearest(value, allowed)
    return "" if value in near else suggestion(near)


def suggestion(names: Sequence[str]) -> str:
    """``' Did you mean "x" or "y"?'``; nothing where there is no name."""
    words = choice(f'"{name}"' for name in names)
    return f" Did you mean {words}?" if names else ""


def nearest(value: str, allowed: Iterable[str]) -> list[str]:
    """The allowed values that are nearest, at most MOST_NEAR that are as near as each other, or none."""
    names: dict[str, str] = {}
    for name in allowed:
        names.setdefault(name.casefold(), name)
    near = _near(value.casefold(), names)
    return [names[each] for each in near] if len(near) <= MOST_NEAR else []


def _near(value: str, names: Iterable[str]) -> list[str]:
    if value in names:
        return [value]
    words = _words(value)
    reordered = [name for name in names if words and sorted(_words(name)) == sorted(words)]
    if reordered:
        return reordered
    ratios = {name: difflib.SequenceMatcher(None, name, value).ratio() for name in names}
    best = max(ratios.values(), default=0.0)
    alike = [name for name, ratio in ratios.items() if ratio == best and best >= LEAST_NEAR]
    alike = [name for name in alike if sorted(name) == sorted(value)] or alike
    if best >= SURE:
        return alike
    begun = [name for name in names if len(value) >= 3 and name.startswith(value)]
    begun = [name for name in begun if all(each.startswith(name) for each in begun)] or begun
    holding = [name for name in names if set(words) <= set(_words(name)) and words]
    return next((found for found in (begun, holding) if 0 < len(found) <= MOST_NEAR), alike)


def _words(name: str) -> list[str]:
    return re.findall(r"\w+", name.replace("_", " "))
