"""The rule files of the corpus: where they are, in which order a course takes them, and their own words.

What a rule file means is not read here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from everyline.corpora.errors import InputError, did_you_mean
from everyline.corpora.loader import LARGEST_FILE, TableKey, merge, read_entries, read_toml, shown, toml_files
from everyline.corpora.progressions import LEVELS

_LEVEL_KEYS = {
    "level": TableKey("integer", allowed=LEVELS),
    "title": TableKey("text"),
    "files": TableKey("texts"),
}


@dataclass(frozen=True, slots=True)
class RuleFileEntry:
    """A rule file of the corpus. ``level`` is 1 (first lessons) to 5, or None where no levels file names it.

    ``title`` is the file's own title (its name where it has none), ``remark`` the comment at its top.
    """

    name: str
    path: Path
    title: str
    level: int | None
    remark: str

    def text(self) -> str:
        """The file as it stands. Raises InputError where it cannot be read."""
        return _text(self.path)


def _text(path: Path) -> str:
    try:
        with open(path, encoding="utf-8") as file:
            return file.read(LARGEST_FILE)
    except (OSError, UnicodeDecodeError):
        raise InputError(f"{path}: cannot be read as UTF-8 text.") from None


def leading_comment(text: str) -> str:
    """The comment lines at the top of a file, joined as sentences."""
    lines: list[str] = []
    for line in text.splitlines():
        if not line.startswith("#"):
            break
        lines.append(line.lstrip("#").strip())
    return " ".join(line for line in lines if line)


def _levels(path: Path, names: Iterable[str]) -> list[tuple[str, int]]:
    names = list(names)
    found: list[tuple[str, int]] = []
    for level, files in read_entries(path, "level", _LEVEL_KEYS, lambda t: (t["level"], t["files"])):
        for name in files:
            if name not in names:
                raise InputError(
                    f"{path}, level {level}: there is no rule file {shown(name)} in the rulefiles folder."
                    f"{did_you_mean(name, names)}"
                )
            found.append((name, level))
    return found


def read_rulefiles(folder: Path) -> list[tuple[Path, list[tuple[str, RuleFileEntry]]]]:
    """List the rule files of one corpora folder, in the order of its levels.toml, those not in it last.

    Raises InputError where a file is not TOML or levels.toml names one that does not exist.
    """
    paths = {path.stem: path for path in toml_files(folder / "rulefiles")}
    levels_path = folder / "levels.toml"
    graded = _levels(levels_path, paths) if levels_path in toml_files(folder) else []
    levels = merge([(levels_path, graded)], "rule file")
    made: list[tuple[Path, list[tuple[str, RuleFileEntry]]]] = []
    for name in [*levels, *(name for name in paths if name not in levels)]:
        path = paths[name]
        title = read_toml(path).get("title", name)
        if not isinstance(title, str):
            raise InputError(f"{path}: title = {shown(title)} does not fit; it holds text in quotes.")
        entry = RuleFileEntry(name, path, title, levels.get(name), leading_comment(_text(path)))
        made.append((path, [(name, entry)]))
    return made
