"""Errors of the whole program, under one base class."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


class EverylineError(Exception):
    """Base of every error this program raises on purpose: one clear sentence for the user."""


class Stopped(EverylineError):
    """A limit of time or memory that the user set has ended the work (exit code 3)."""


class InputError(EverylineError):
    """What was typed or written in a file is wrong (exit code 2)."""


def did_you_mean(value: str, allowed: Iterable[str]) -> str:
    """Return ``' Did you mean "x"?'`` for the nearest allowed value, or ``''`` when none is near."""
    folded: dict[str, str] = {}
    for name in allowed:
        folded.setdefault(name.casefold(), name)
    near = difflib.get_close_matches(value.casefold(), folded, n=1, cutoff=0.6)
    if not near or folded[near[0]] == value:
        return ""
    return f' Did you mean "{folded[near[0]]}"?'
