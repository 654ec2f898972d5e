"""The rhythm notation of endings: ``8 8 8 8 | 4.``.

A token is a note value (1 2 4 8 16 32: the part of a whole note), up to two dots, and ``t`` for a
triplet value; ``r`` before it makes it a rest. The first ``|`` is the bar line before the resolution;
later ones are only for the eye. Lengths are in ticks, 480 to a quarter note.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from math import gcd
from types import MappingProxyType

from everyline.corpora.errors import InputError

TICKS_PER_QUARTER = 480
TICKS_PER_WHOLE = 4 * TICKS_PER_QUARTER
NOTE_VALUES = (1, 2, 4, 8, 16, 32)
MOST_DOTS = 2
BAR_LINE = "|"
ALLOWED = (
    "a note value 1, 2, 4, 8, 16 or 32, with up to two dots (4.), t for a triplet (8t), "
    "and r in front for a rest (r8)"
)

_TOKEN = re.compile(r"(r?)(\d{1,2})(\.{0,2})(t?)")
_COUNTED = {0: "", 240: "&", 160: "trip", 320: "let", 120: "e", 360: "a"}


def counted_aloud(ticks: int) -> str:
    """How a place in a beat of 480 ticks is counted after the beat's number: ``&``, ``trip``, ``e``.

    Nothing on the beat itself; a place that musicians have no word for is a fraction of the beat, ``+1/6``.
    """
    whole = gcd(ticks, TICKS_PER_QUARTER)
    return _COUNTED.get(ticks, f"+{ticks // whole}/{TICKS_PER_QUARTER // whole}")


@dataclass(frozen=True, slots=True)
class Beat:
    """One token of a rhythm: its length in ticks, and whether it is a rest."""

    ticks: int
    rest: bool = False


@dataclass(frozen=True, slots=True)
class Rhythm:
    """A rhythm on both sides of the first bar line (``bar_line`` is False where none is written)."""

    before: tuple[Beat, ...]
    after: tuple[Beat, ...]
    bar_line: bool = True

    @property
    def ticks_before(self) -> int:
        """Ticks from the first token to the bar line."""
        return sum(beat.ticks for beat in self.before)

    @property
    def ticks_after(self) -> int:
        """Ticks from the bar line to the end of the last token."""
        return sum(beat.ticks for beat in self.after)


@lru_cache(maxsize=256)
def parse_value(token: str) -> Beat:
    """Read one rhythm token, ``4.`` or ``r8t``, as a length in ticks (480 to a quarter).

    A dot adds half of the value, a second dot a quarter of it; a triplet value is two thirds.
    Raises InputError for anything else.
    """
    match = _TOKEN.fullmatch(token)
    if match is None or int(match[2]) not in NOTE_VALUES:
        raise InputError(f'"{token}" is not a rhythm value: write {ALLOWED}.')
    whole = TICKS_PER_WHOLE // int(match[2])
    ticks = 2 * whole - whole // 2 ** len(match[3])
    if match[4]:
        ticks = ticks * 2 // 3
    return Beat(ticks, rest=bool(match[1]))


def _build_table() -> dict[int, str]:
    table: dict[int, str] = {}
    for triplet in ("", "t"):
        for dots in range(MOST_DOTS + 1):
            for value in NOTE_VALUES:
                token = f"{value}{'.' * dots}{triplet}"
                table.setdefault(parse_value(token).ticks, token)
    return table


VALUE_NAMES: Mapping[int, str] = MappingProxyType(_build_table())
"""The token of each length in ticks that one value shows."""


def format_value(ticks: int, rest: bool = False) -> str | None:
    """The token for a length in ticks, plain values before dotted and triplet ones; None if there is none."""
    name = VALUE_NAMES.get(ticks)
    return None if name is None else ("r" if rest else "") + name


def parse_rhythm(text: str) -> Rhythm:
    """Read a rhythm. Raises InputError, naming the token, for what is not in the notation."""
    before: list[Beat] = []
    after: list[Beat] = []
    side, bar_line = before, False
    for token in text.replace(BAR_LINE, f" {BAR_LINE} ").split():
        if token == BAR_LINE:
            side, bar_line = after, True
        else:
            try:
                side.append(parse_value(token))
            except InputError as error:
                raise InputError(f'rhythm "{text}": {error}') from None
    if not before and not after:
        raise InputError(f'rhythm "{text}" holds no value: write {ALLOWED}.')
    return Rhythm(tuple(before), tuple(after), bar_line)


def format_rhythm(rhythm: Rhythm) -> str:
    """The rhythm as text that parse_rhythm reads back. Raises ValueError for a length without a token."""

    def side(beats: tuple[Beat, ...]) -> str:
        names = [format_value(beat.ticks, beat.rest) for beat in beats]
        if None in names:
            raise ValueError(f"a length in {beats} has no note value")
        return " ".join(name for name in names if name)

    if not rhythm.bar_line:
        return side(rhythm.before)
    return f"{side(rhythm.before)} {BAR_LINE} {side(rhythm.after)}".strip()
