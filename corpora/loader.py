"""Reading and checking TOML: every fault is one InputError with file, key, value and what is allowed."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from everyline.corpora.errors import InputError, did_you_mean, nearest, suggestion
from everyline.corpora.numbers import MOST_DIGITS

LARGEST_FILE = 1_000_000
"""Bytes that a TOML file may have: hundreds of times the largest of ours, so that junk is refused at once."""

MOST_DOTS = 50
_UNREADABLE = re.compile(
    rf"(?<![0-9A-Za-z_])[0-9][0-9A-Fa-f_xob]{{{MOST_DIGITS}}}"
    rf"|(?<![\w.-])(?:[\w-]++[ \t]*+\.[ \t]*+){{{MOST_DOTS}}}"
)
"""What takes a reader of TOML a time that grows with the square of its length, or faster."""

T = TypeVar("T")


class Required:
    """Marks a key without which an entry makes no sense."""


REQUIRED = Required()


@dataclass(frozen=True, slots=True)
class TableKey:
    """What one key of a table may hold. ``default`` stands for a key left out, REQUIRED forbids that."""

    kind: str
    default: Any = REQUIRED
    allowed: tuple[Any, ...] = ()


def _is_int(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _is_name(value: object) -> bool:
    return isinstance(value, str) and value == " ".join(value.split()) and value.isprintable() and value != ""


def _list_of(check: Callable[[object], bool]) -> Callable[[object], bool]:
    return lambda value: isinstance(value, list) and all(map(check, value))


_KINDS: Mapping[str, tuple[str, Callable[[object], bool]]] = {
    "text": ("text in quotes", lambda value: isinstance(value, str)),
    "name": ("a name in quotes, neither empty nor with spaces around it", _is_name),
    "integer": ("a whole number", _is_int),
    "flag": ("true or false", lambda value: isinstance(value, bool)),
    "texts": ('a list of texts, ["a", "b"]', _list_of(lambda value: isinstance(value, str))),
    "integers": ("a list of whole numbers, [1, 2]", _list_of(_is_int)),
    "table": ("a table of names and values", lambda value: isinstance(value, dict)),
    "tables": ("a list of tables, each under its own [[...]]", _list_of(lambda v: isinstance(v, dict))),
}


def shown(value: object, most: int = 60) -> str:
    """A value as it looks in a file, cut to a length that a message can hold."""
    text = f'"{value}"' if isinstance(value, str) else str(value)
    if isinstance(value, bool):
        text = text.lower()
    return text if len(text) <= most else text[: most - 3] + "..."


def read_toml(path: Path) -> dict[str, Any]:
    """Read one TOML file as tables. Raises InputError, naming the file, whatever is wrong with it."""
    return parse_toml(read_bytes(path, "TOML"), str(path))


def read_bytes(path: Path, kind: str) -> bytes:
    """The bytes of one file of a kind (``TOML``, ``JSON``). Raises InputError, naming the file, where there
    is none, or it cannot be read or is far too large."""
    try:
        with open(path, "rb") as file:
            data = file.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise InputError(f"{path}: there is no such file.{_near_file(path, kind)}") from None
    except IsADirectoryError:
        raise InputError(f"{path}: this is a folder; name a {kind} file in it.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f"{path}: cannot be read ({reason.lower()}); name a {kind} file.") from None
    if len(data) > LARGEST_FILE:
        raise InputError(
            f"{path}: larger than {LARGEST_FILE:,} bytes, so hardly the {kind} file that is meant."
        )
    return data


def parse_toml(data: bytes | str, name: str) -> dict[str, Any]:
    """Parse a TOML file's bytes or text; ``name`` is what a message calls it. Raises InputError."""
    if isinstance(data, str):
        # Half a character, which a text can hold and a file cannot, is then refused like any other byte.
        data = data.encode("utf-8", "surrogatepass")
    try:
        text = data.decode("utf-8").removeprefix("\N{BYTE ORDER MARK}")
    except UnicodeDecodeError as error:
        raise InputError(
            f"{name}: byte {error.start + 1} is not UTF-8 text, so this is not a TOML file; save it as UTF-8."
        ) from None
    if _UNREADABLE.search(text):
        raise InputError(
            f"{name}: it holds a number of more than {MOST_DIGITS} digits, or a key of more than {MOST_DOTS} "
            "parts, and is not read; write a shorter one."
        )
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(
            _quotes_wrong(text, name) or f"{name}: not valid TOML: {str(error)[:200]}."
        ) from None
    except (RecursionError, ValueError):
        raise InputError(f"{name}: not valid TOML: it nests too deeply or holds too long a number.") from None


_CURLY = str.maketrans(dict.fromkeys("“”„‟", '"') | dict.fromkeys("‘’", "'"))
_BARE = re.compile(r"\s*([A-Za-z_-]+)\s*=\s*([^\s\"'\[{][^\"'\[{]*)")


def _quotes_wrong(text: str, name: str) -> str:
    """What to say of the first line whose quotes are curly or missing, where that alone is wrong with it."""
    for number, line in enumerate(text.splitlines(), 1):
        try:
            tomllib.loads(line)
            continue
        except tomllib.TOMLDecodeError:
            pass
        straight, bare = line.translate(_CURLY), _BARE.fullmatch(line)
        if bare is not None and straight == line:
            straight = f'{bare[1]} = "{bare[2].strip()}"'
        try:
            tomllib.loads(straight)
        except tomllib.TOMLDecodeError:
            continue
        kind = (
            "curly quotes, which TOML does not know" if bare is None or "“" in line else "text without quotes"
        )
        return f"{name}: line {number} has {kind}; write {straight.strip()}"
    return ""


def _near_file(path: Path, kind: str) -> str:
    suffix = f".{kind.lower()}"
    try:
        # By what comes before the suffix: all files of a kind are alike in that.
        names = {entry.stem: entry.name for entry in path.parent.iterdir() if entry.suffix == suffix}
    except OSError:
        return ""
    return suggestion([names[stem] for stem in nearest(path.stem, names)])


def check_table(table: Mapping[str, Any], keys: Mapping[str, TableKey], where: str) -> dict[str, Any]:
    """Check a table against its keys and fill in the defaults.

    ``where`` names file and table for messages. Raises InputError for an unknown or missing key, a wrong
    type, or a value that is not among those allowed.
    """
    for name in table:
        if name not in keys:
            raise InputError(
                f'{where}: unknown key "{name}" (value {shown(table[name])}); allowed are '
                f"{', '.join(keys)}.{did_you_mean(name, keys)}"
            )
    checked: dict[str, Any] = {}
    for name, key in keys.items():
        if name in table:
            checked[name] = _check_value(table[name], key, name, where)
        elif isinstance(key.default, Required):
            raise InputError(f'{where}: the key "{name}" is missing; it holds {_KINDS[key.kind][0]}.')
        else:
            checked[name] = key.default
    return checked


def _check_value(value: Any, key: TableKey, name: str, where: str) -> Any:
    words, fits = _KINDS[key.kind]
    if not fits(value):
        raise InputError(f"{where}: {name} = {shown(value)} does not fit; it holds {words}.")
    if key.allowed and key.kind != "tables":
        for item in value if isinstance(value, list) else [value]:
            if item not in key.allowed:
                allowed = ", ".join(map(str, key.allowed))
                near = did_you_mean(str(item), [str(one) for one in key.allowed])
                raise InputError(f"{where}: {name} = {shown(item)}; allowed are {allowed}.{near}")
    return tuple(value) if isinstance(value, list) else value


def read_entries(
    path: Path, heading: str, keys: Mapping[str, TableKey], build: Callable[[dict[str, Any]], T]
) -> list[T]:
    """Read every ``[[heading]]`` table of a file that holds nothing else, and build an object from each."""
    tables = check_table(read_toml(path), {heading: TableKey("tables", ())}, str(path))
    return build_entries(path, heading, tables[heading], keys, build)


def build_entries(
    path: Path,
    heading: str,
    tables: Iterable[dict[str, Any]],
    keys: Mapping[str, TableKey],
    build: Callable[[dict[str, Any]], T],
) -> list[T]:
    """Check each table under a heading and build an object from it.

    An InputError from ``build`` gets the file and the entry's name in front.
    """
    made: list[T] = []
    for number, table in enumerate(tables, start=1):
        label = f"{heading} {shown(table.get('name', number))}"
        checked = check_table(table, keys, f"{path}, {label}")
        try:
            made.append(build(checked))
        except InputError as error:
            detail = str(error) if str(error).startswith(label) else f"{label}: {error}"
            raise InputError(f"{path}, {detail}") from None
    return made


def merge(groups: Iterable[tuple[Path, Iterable[tuple[str, T]]]], what: str) -> dict[str, T]:
    """Join named things from several files. Raises InputError, naming both places, where a name clashes."""
    found: dict[str, T] = {}
    places: dict[str, Path] = {}
    for path, named in groups:
        for name, thing in named:
            if name in found:
                raise InputError(
                    f'the {what} "{name}" is in {places[name]} and again in {path}: rename one of the two.'
                )
            found[name] = thing
            places[name] = path
    return found


def toml_files(folder: Path) -> list[Path]:
    """The TOML files directly in a folder, by name; none where the folder does not exist."""
    return files_of(folder, ".toml")


def files_of(folder: Path, suffix: str) -> list[Path]:
    """The files with a suffix directly in a folder, by name; none where the folder does not exist."""
    try:
        names = sorted(name for name in os.listdir(folder) if name.endswith(suffix))
    except FileNotFoundError:
        return []
    except OSError as error:
        raise InputError(
            f"{folder}: cannot be read as a folder ({(error.strerror or '').lower()})."
        ) from None
    return [folder / name for name in names if not name.startswith(".")]
