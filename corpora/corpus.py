"""The corpus as a whole: our files, and those of the user's own folder added to them."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

from everyline.corpora.endings import Ending, make_ending
from everyline.corpora.errors import InputError, did_you_mean
from everyline.corpora.figures import STEPS, Family, Figure, parse_steps
from everyline.corpora.instruments import Instrument, read_instruments
from everyline.corpora.loader import (
    TableKey,
    build_entries,
    check_table,
    merge,
    read_entries,
    read_toml,
    toml_files,
)
from everyline.corpora.progressions import ProgressionEntry, read_progressions
from everyline.corpora.rulefiles import RuleFileEntry, read_rulefiles
from everyline.corpora.tastes import taste_paths

OWN_FOLDER = Path(__file__).resolve().parent
FOLDER_VARIABLE = "EVERYLINE_CORPORA"
"""Environment variable that names the user's own folder."""

FILES = ("figures.toml", "instruments.toml", "levels.toml", "progressions.toml")
FOLDERS = ("endings", "rulefiles")
TASTES = "tastes"
"""The folder of taste files, which are JSON."""

T = TypeVar("T")

_FIGURE_KEYS = {"name": TableKey("name"), "steps": TableKey("text"), "remark": TableKey("text", "")}
_FAMILY_KEYS = {
    "name": TableKey("name"),
    "size": TableKey("integer", allowed=(2, 3, 4)),
    "steps": TableKey("texts", allowed=tuple(step for step in STEPS if step[1] != "d")),
    "remark": TableKey("text", ""),
}
_ENDING_KEYS = {
    "name": TableKey("name"),
    "notes": TableKey("text"),
    "rhythm": TableKey("text", None),
    "over": TableKey("texts", None),
    "colour": TableKey("flag", False),
    "remark": TableKey("text", ""),
}


def _build_figure(table: dict[str, Any]) -> Figure:
    return Figure(table["name"], parse_steps(table["steps"]), table["remark"])


class Corpus:
    """All vocabulary, read file by file when first asked for. Mappings are by name, in the files' order."""

    def __init__(self, folders: tuple[Path, ...]) -> None:
        self.folders = folders

    @cached_property
    def _figure_tables(self) -> list[tuple[Path, dict[str, Any]]]:
        allowed = {"figure": TableKey("tables", ()), "family": TableKey("tables", ())}
        return [
            (path, check_table(read_toml(path), allowed, str(path))) for path in self._paths("figures.toml")
        ]

    @cached_property
    def figures(self) -> MappingProxyType[str, Figure]:
        """The catalogue of approach figures."""
        return self._named(self._figure_groups("figure", _FIGURE_KEYS, _build_figure), "figure")

    @cached_property
    def families(self) -> MappingProxyType[str, tuple[Figure, ...]]:
        """The families of figures, each with its members."""
        groups = self._figure_groups("family", _FAMILY_KEYS, lambda table: Family(**table))
        families: MappingProxyType[str, Family] = self._named(groups, "family")
        figures = self._figure_groups("figure", _FIGURE_KEYS, _build_figure)
        self._named([*figures, *groups], "figure or family")
        return MappingProxyType({name: family.members for name, family in families.items()})

    @cached_property
    def endings(self) -> MappingProxyType[str, Ending]:
        """The stock endings."""
        return self._named(
            (
                (path, read_entries(path, "ending", _ENDING_KEYS, lambda table: make_ending(**table)))
                for folder in self.folders
                for path in toml_files(folder / "endings")
            ),
            "ending",
        )

    @cached_property
    def progressions(self) -> MappingProxyType[str, ProgressionEntry]:
        """The progressions."""
        return self._named(self._files("progressions.toml", read_progressions), "progression")

    @cached_property
    def instruments(self) -> MappingProxyType[str, Instrument]:
        """The instruments."""
        return self._named(self._files("instruments.toml", read_instruments), "instrument")

    @cached_property
    def tastes(self) -> MappingProxyType[str, Path]:
        """Where the file of each taste is; ``read_taste`` reads it."""
        return MappingProxyType(taste_paths(self.folders))

    @cached_property
    def rulefiles(self) -> MappingProxyType[str, RuleFileEntry]:
        """The graded rule files."""
        groups = (group for folder in self.folders for group in read_rulefiles(folder))
        return MappingProxyType(merge(groups, "rule file"))

    def _figure_groups(
        self, heading: str, keys: dict[str, TableKey], build: Callable[[dict[str, Any]], T]
    ) -> list[tuple[Path, list[T]]]:
        return [
            (path, build_entries(path, heading, tables[heading], keys, build))
            for path, tables in self._figure_tables
        ]

    def _files(self, name: str, read: Callable[[Path], list[T]]) -> list[tuple[Path, list[T]]]:
        return [(path, read(path)) for path in self._paths(name)]

    def _paths(self, name: str) -> list[Path]:
        return [path for folder in self.folders for path in toml_files(folder) if path.name == name]

    def _named(self, groups: Iterable[tuple[Path, Iterable[Any]]], what: str) -> MappingProxyType[str, Any]:
        return MappingProxyType(
            merge(((path, ((thing.name, thing) for thing in things)) for path, things in groups), what)
        )


def load(folder: Path | str | None = None) -> Corpus:
    """The corpus, with the user's own folder added: ``folder``, else the one that EVERYLINE_CORPORA names.

    The folder holds files of the same names and format as ours; whatever it adds keeps its own name. Raises
    InputError for a folder that does not exist, or holds a TOML file that would not be read.
    """
    origin = ""
    if folder is None and os.environ.get(FOLDER_VARIABLE):
        folder, origin = Path(os.environ[FOLDER_VARIABLE]), f" (from {FOLDER_VARIABLE})"
    if folder is None:
        return Corpus((OWN_FOLDER,))
    folder = Path(folder)
    if not os.path.isdir(folder):
        raise InputError(f"{folder}{origin}: there is no such folder of corpora.")
    if os.path.realpath(folder) == str(OWN_FOLDER):
        return Corpus((OWN_FOLDER,))
    _check_folder(folder)
    return Corpus((OWN_FOLDER, folder))


def _check_folder(folder: Path) -> None:
    """Refuse TOML files that would never be read, so that a misspelt name is not silently passed over."""
    allowed = f"allowed are {', '.join(FILES)}, TOML files in the folders {' and '.join(FOLDERS)}, "
    allowed += f"and JSON files in the folder {TASTES}"
    for path in toml_files(folder):
        if path.name not in FILES:
            raise InputError(f"{path}: not a file of the corpora; {allowed}.{did_you_mean(path.name, FILES)}")
    for entry in sorted(os.scandir(folder), key=lambda entry: entry.name):
        other = entry.name not in FOLDERS and not entry.name.startswith(".")
        if other and entry.is_dir() and toml_files(Path(entry.path)):
            raise InputError(
                f"{entry.path}: TOML files in a folder that is not read; {allowed}."
                f"{did_you_mean(entry.name, FOLDERS)}"
            )
