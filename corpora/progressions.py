"""Progressions: lead-sheet text in a stated key, and the same in roman numerals."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.corpora.loader import TableKey, read_entries

LEVELS = (1, 2, 3, 4, 5)
"""Grades of difficulty for progressions and rule files: 1 is a first lesson, 5 is advanced."""

_KEYS = {
    "name": TableKey("name"),
    "title": TableKey("text"),
    "key": TableKey("text"),
    "changes": TableKey("text"),
    "numerals": TableKey("text"),
    "bars": TableKey("integer"),
    "turns_round": TableKey("flag", False),
    "meter": TableKey("text", "4/4"),
    "level": TableKey("integer", allowed=LEVELS),
    "remark": TableKey("text", ""),
}


@dataclass(frozen=True, slots=True)
class ProgressionEntry:
    """A progression as text. ``changes`` in ``key`` and ``numerals`` name the same chords.

    ``key`` is a note name for a major key, with ``m`` for a minor one. ``bars`` is the length of the form;
    where it ``turns_round``, the text has one bar more: bar 1 of the next time round, which resolves it.
    """

    name: str
    title: str
    key: str
    changes: str
    numerals: str
    bars: int
    turns_round: bool = False
    meter: str = "4/4"
    level: int = 1
    remark: str = ""


def written_bars(text: str) -> list[str]:
    """The bars of a lead-sheet text, as written between bar lines.

    A line break is a bar line, a bar line may lead or trail, and ``||`` is one double bar line. Raises
    InputError for a bar with nothing in it.
    """
    bars: list[str] = []
    for line in text.replace("||", "|").splitlines():
        inside = line.strip().removeprefix("|").removesuffix("|")
        for bar in inside.split("|") if inside else ():
            if not bar.strip():
                raise InputError(_empty_bar(bars))
            bars.append(bar.strip())
    return bars


def _empty_bar(before: list[str]) -> str:
    if not before:
        return "bar 1 of the changes is empty; begin with a chord."
    return (
        f'bar {len(before) + 1} of the changes is empty, after "{before[-1]}"; write / in it to hold the '
        "chord for one more bar, or % to repeat the bar before."
    )


def count_bars(text: str) -> int:
    """How many bars a lead-sheet text has. Raises InputError for an empty one."""
    return len(written_bars(text))


def one_line(text: str) -> str:
    """The text with one bar line between bars and one space between chords. Raises InputError."""
    return " | ".join(" ".join(bar.split()) for bar in written_bars(text))


def _build(table: dict[str, Any]) -> ProgressionEntry:
    for key in ("changes", "numerals"):
        table[key] = one_line(table[key])
        found, wanted = count_bars(table[key]), table["bars"] + table["turns_round"]
        if found != wanted:
            more = " and bar 1 of the next time round" if table["turns_round"] else ""
            raise InputError(
                f"{key} has {plural(found, 'bar')}, but bars = {table['bars']}{more} makes {wanted}."
            )
    return ProgressionEntry(**table)


def read_progressions(path: Path) -> list[ProgressionEntry]:
    """Read a progressions file. Raises InputError."""
    return read_entries(path, "progression", _KEYS, _build)
