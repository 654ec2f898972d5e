"""What a drill set is made from: one small TOML file, or the same as options."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from everyline.corpora import read_toml
from everyline.corpora.errors import InputError, did_you_mean
from everyline.drill.exercises import KINDS
from everyline.rules.schema import FileKey, KeyType, Where, check_table
from everyline.rules.transpose import LEVEL_SIGNS
from everyline.solver.classes import check_traits

SAMPLINGS: Mapping[str, str] = {
    "uniform": "every line of a rule file and key as likely as any other",
    "balanced": "every value of the traits as often as every other",
    "pairs": "the fewest lines in which every two values of the traits that can occur together do",
    "smoothest": "the smoothest lines of all",
    "varied": "smooth lines that are unlike each other",
    "taste": "drawn by taste, so that what a style prefers comes more often",
}
ORDERS: Mapping[str, str] = {
    "drawn": "as they were chosen",
    "easiest": "easiest first",
    "one-thing": "one value of a trait after another, easiest first within each",
    "interleaved": "the values of a trait in turn",
}
KEY_ORDERS = ("home", "all", "cycle", "chromatic", "random", *(f"level-{level}" for level in LEVEL_SIGNS))
"""``home`` is the rule file's own key alone, ``all`` the twelve keys, in the order of ``cycle``."""

SOURCE_TRAITS = ("rules", "key", "instrument", "position")
"""Traits that whole rule files have, beside those of single lines: file, key, instrument, fretboard position
asked for."""

MOST_LINES = 1_000_000
FORMATS = ("text", "musicxml")


@dataclass(frozen=True, slots=True)
class Spec:
    """A drill set. ``lines`` may be left out for pairs; ``by`` is the trait that an order goes by."""

    rules: tuple[str, ...]
    lines: int | None = None
    keys: tuple[str, ...] = ("home",)
    instruments: tuple[str, ...] = ()
    positions: tuple[int, ...] = ()
    sampling: str = "uniform"
    traits: tuple[str, ...] = ()
    order: str = "drawn"
    by: str = "figure"
    kinds: tuple[str, ...] = ("play",)
    blanks: int = 3
    completions: int = 8
    seed: int = 1
    formats: tuple[str, ...] = FORMATS
    title: str = ""

    def __post_init__(self) -> None:
        """Check every value. Raises InputError."""
        if not self.rules:
            raise InputError(
                "no rule file is given: name one at least, as a path or by its name in the corpora."
            )
        for name, table in (("sampling", SAMPLINGS), ("order", ORDERS)):
            _one_of(name, getattr(self, name), tuple(table))
        for kind in self.kinds:
            _one_of("kinds", kind, tuple(KINDS))
        for form in self.formats:
            _one_of("formats", form, FORMATS)
        check_traits(name for name in (*self.traits, self.by) if name not in SOURCE_TRAITS)
        self._check_sizes()

    def _check_sizes(self) -> None:
        if not self.kinds:
            raise InputError("kinds is empty; name one at least: " + ", ".join(KINDS) + ".")
        if self.lines is None and self.sampling != "pairs":
            raise InputError("how many lines? Give a number; only pairs finds its own.")
        if self.lines is not None and not 1 <= self.lines <= MOST_LINES:
            raise InputError(f"{self.lines} lines cannot be written; 1 to {MOST_LINES} can.")
        if self.sampling in ("balanced", "pairs") and not self.traits:
            raise InputError(f"{self.sampling} needs traits, such as start-degree and ending.")
        if not self.keys:
            raise InputError(f"keys is empty; name keys, or one of {', '.join(KEY_ORDERS)}.")
        for name in ("blanks", "completions"):
            if getattr(self, name) < 1:
                raise InputError(f"{name} = {getattr(self, name)}: it must be 1 or more.")
        if self.positions and len(self.instruments) != 1:
            raise InputError("positions need one instrument, such as guitar.")

    @property
    def text(self) -> str:
        """One canonical line of JSON: two sets are the same when it is."""
        return json.dumps(asdict(self), sort_keys=True, ensure_ascii=False)


def _one_of(name: str, value: str, allowed: tuple[str, ...]) -> None:
    if value not in allowed:
        raise InputError(f'{name} "{value}" is none of: {", ".join(allowed)}.{did_you_mean(value, allowed)}')


KEYS: Mapping[str, FileKey] = MappingProxyType(
    {
        key.name: key
        for key in (
            FileKey("rules", KeyType.RULE_FILES, "rule files, as paths or by name", required=True),
            FileKey("lines", KeyType.NUMBER, "how many lines", least=1, most=MOST_LINES),
            FileKey(
                "keys",
                KeyType.NAMES,
                "keys by name, or: home, all, cycle, chromatic, random, level-1 to level-5",
            ),
            FileKey("instruments", KeyType.NAMES, "instruments, in place of the rule files' own ranges"),
            FileKey("positions", KeyType.NUMBERS, "fretboard positions on one instrument"),
            FileKey("sampling", KeyType.CHOICE, "how lines are chosen", choices=tuple(SAMPLINGS)),
            FileKey("traits", KeyType.NAMES, "traits to balance or to pair, such as start-degree ending key"),
            FileKey("order", KeyType.CHOICE, "in which order", choices=tuple(ORDERS)),
            FileKey("by", KeyType.TEXT, "the trait that one-thing and interleaved go by"),
            FileKey("kinds", KeyType.NAMES, f"kinds of exercise in turn: {', '.join(KINDS)}"),
            FileKey("blanks", KeyType.NUMBER, "notes left blank in an exercise to complete", least=1),
            FileKey("completions", KeyType.NUMBER, "ways to fill them in, at most", least=1),
            FileKey("seed", KeyType.NUMBER, "the same seed gives the same set"),
            FileKey("formats", KeyType.NAMES, f"what to write beside the manifest: {', '.join(FORMATS)}"),
            FileKey("title", KeyType.TEXT, "title of the scores"),
        )
    }
)
"""The keys of a drill file, which are the options of the command too."""


def spec_of(data: Mapping[str, Any], where: str) -> Spec:
    """A drill set from the keys of its file. Raises InputError, naming the place."""
    checked = check_table(data, KEYS, Where(where))
    given: dict[str, Any] = {
        name: tuple(value) if isinstance(value, list) else value
        for name, value in checked.items()
        if value is not None
    }
    try:
        return Spec(**given)
    except InputError as error:
        raise InputError(f"{where}: {error}") from None


def read_spec(path: Path, changed: Mapping[str, Any] | None = None) -> Spec:
    """The drill set of a file, with some keys changed. Rule files are found from the file's own folder.
    Raises InputError."""
    data = dict(read_toml(path))
    names = data.get("rules")
    if isinstance(names, list):
        data["rules"] = [_beside(path, name) if isinstance(name, str) else name for name in names]
    return spec_of(data | dict(changed or {}), str(path))


def _beside(path: Path, name: str) -> str:
    near = path.parent / name
    return str(near) if near.is_file() else name
