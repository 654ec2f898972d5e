"""A student's folder as one JSON file, to be kept as a copy or carried to another machine."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from everyline.corpora.errors import InputError, reason
from everyline.corpora.numbers import whole
from everyline.files.writing import writing
from everyline.practice.copies import line_id, mark
from everyline.practice.folder import Entry, Folder, in_order, line_of, placed, plain, round_of, student_name
from everyline.practice.records import GivenLine, Grade, Kind, Practised
from everyline.rules.schema import FileKey, KeyType, Where, check_table, is_text

FORMAT = 1
"""Raised when the meaning of any part of the file changes."""
LARGEST = 256 << 20
"""Bytes of a file that is read: many times what a life of practice needs."""

T = TypeVar("T", GivenLine, Practised)


def _keys(*keys: FileKey) -> Mapping[str, FileKey]:
    return {key.name: key for key in keys}


def _text(name: str, what: str, required: bool = True) -> FileKey:
    return FileKey(name, KeyType.TEXT, what, required=required, default=None if required else "")


_ENTRY = (
    _text("changed", "the moment of the last change, in UTC"),
    FileKey("taken_back", KeyType.FLAG, "whether it was taken back", default=False),
)
_HEAD = _keys(
    FileKey(
        "everyline_student",
        KeyType.NUMBER,
        "the version of the format",
        required=True,
        least=FORMAT,
        most=FORMAT,
    ),
    _text("name", "the student"),
    _text("instrument", "the student's instrument", required=False),
    _text("changed", "when name and instrument were last changed"),
    FileKey("rule_files", KeyType.TABLE, "every rule file in full, by its mark", required=True),
    FileKey("lines", KeyType.TABLES, "the lines", required=True, default=[]),
    FileKey("rounds", KeyType.TABLES, "the rounds", required=True, default=[]),
)
_LINE = _keys(
    _text("id", "what names the line"),
    FileKey("place", KeyType.NUMBER, "its number in the folder", required=True, least=1, most=10**9),
    _text("title", "its title", required=False),
    _text("tune", "what it has in common with its copies"),
    _text("notes", "its notes"),
    _text("rules_name", "what its rule file was called"),
    _text("rule_file", "the mark of its rule file"),
    _text("fingerprint", "the fingerprint of its rules"),
    FileKey("number", KeyType.TEXT, "its number under them"),
    FileKey("strangeness", KeyType.NUMBER, "its strangeness in sixteenths of a bit"),
    _text("given", "the day on which it was given"),
    _text("key", "the key of the rule file"),
    FileKey("beats", KeyType.NUMBER, "how long the changes are", required=True, least=1, most=10**6),
    _text("instrument", "the instrument of the rules", required=False),
    FileKey("level", KeyType.NUMBER, "the level of the rule file", least=1, most=5),
    FileKey("altered", KeyType.FLAG, "whether options changed the rule file", default=False),
    *_ENTRY,
)
_ROUND = _keys(
    _text("id", "what names the round"),
    _text("line", "the id of the line"),
    _text("on", "the day"),
    _text("key", "the key that it was played in"),
    FileKey("kind", KeyType.CHOICE, "what was done", required=True, choices=tuple(k.value for k in Kind)),
    FileKey("tempo", KeyType.NUMBER, "beats a minute"),
    FileKey("grade", KeyType.CHOICE, "how it went", required=True, choices=tuple(g.value for g in Grade)),
    *_ENTRY,
)


def folder_text(folder: Folder) -> str:
    """The folder as JSON: the same text for the same folder. What is empty is left out, and a rule file
    stands there once, however many lines are from it."""
    texts = {mark(entry.value.rules_text): entry.value.rules_text for entry in folder.lines}
    lines = []
    for entry in folder.lines:
        row = _row(entry)
        row["rule_file"] = mark(row.pop("rules_text"))
        lines.append({name: row[name] for name in _LINE if name in row})
    data = {
        "everyline_student": FORMAT,
        "name": folder.name,
        **({"instrument": folder.instrument} if folder.instrument else {}),
        "changed": folder.changed,
        "rule_files": dict(sorted(texts.items())),
        "lines": lines,
        "rounds": [_row(entry) for entry in folder.rounds],
    }
    return json.dumps(data, ensure_ascii=False, indent=1) + "\n"


def _row(entry: Entry[T]) -> dict[str, Any]:
    row = plain(entry.value) | {"changed": entry.changed, "taken_back": entry.taken_back}
    return {name: value for name, value in row.items() if value not in (None, "") and value is not False}


def write_folder(folder: Folder, path: Path) -> None:
    """Write the JSON file, whole or not at all. Raises InputError."""
    text = folder_text(folder)
    with writing(path) as file:
        file.write(text)


def read_folder(path: Path) -> Folder:
    """The folder in a JSON file. Raises InputError with the place and what is allowed."""
    try:
        with open(path, "rb") as file:
            data = file.read(LARGEST + 1)
    except (OSError, ValueError) as error:
        raise InputError(f"{path} cannot be read: {reason(error)}.") from None
    if len(data) > LARGEST:
        raise InputError(f"{path} is larger than {LARGEST >> 20} MB, so it is no student's folder.")
    return parse_folder(data, str(path))


def parse_folder(data: bytes | str, name: str) -> Folder:
    """The folder in a JSON text; ``name`` is what messages call it. Raises InputError."""
    try:
        tables = json.loads(data, parse_int=whole)
    except InputError as error:
        raise InputError(f"{name}: {error}") from None
    except (ValueError, RecursionError):
        raise InputError(
            f"{name} is no JSON, so it is no student's folder; name what everyline student NAME export wrote."
        ) from None
    head = check_table(tables, _HEAD, Where(name))
    texts = head["rule_files"]
    for each, text in texts.items():
        if not isinstance(text, str) or mark(text) != each or not is_text(text):
            raise InputError(f"{name}, rule_files {each[:MARK_SHOWN]}: the text is not that of its mark.")
    lines = tuple(_lines(head["lines"], texts, name))
    rounds = tuple(_rounds(head["rounds"], {entry.value.id for entry in lines}, name))
    try:
        student = student_name(head["name"])
    except InputError as error:
        raise InputError(f"{name}: {error}") from None
    folder = Folder(student, head["instrument"], _moment(head, Where(name)))
    return replace(folder, lines=placed((), lines), rounds=in_order(rounds))


MARK_SHOWN = 20


def _lines(rows: Any, texts: Mapping[str, str], name: str) -> Iterator[Entry[GivenLine]]:
    known: set[str] = set()
    for place, row in enumerate(rows, 1):
        where = Where(name, f"lines {place}")
        each = check_table(row, _LINE, where)
        if each["rule_file"] not in texts:
            raise where.error("rule_file", each["rule_file"], "rule_files holds no text of that mark")
        if each["id"] in known:
            raise where.error("id", each["id"], "the line is there already")
        known.add(each["id"])
        try:
            line = line_of({**each, "rules_text": texts[each["rule_file"]]})
        except (InputError, ValueError) as error:
            raise where.complaint(str(error)) from None
        if line.id != line_id(line.fingerprint, line.notes):
            raise where.error("id", line.id, "it is not that of these notes under these rules")
        yield Entry(line, _moment(each, where), each["taken_back"])


def _rounds(rows: Any, lines: set[str], name: str) -> Iterator[Entry[Practised]]:
    known: set[str] = set()
    for place, row in enumerate(rows, 1):
        where = Where(name, f"rounds {place}")
        each = check_table(row, _ROUND, where)
        if each["line"] not in lines:
            raise where.error("line", each["line"], "lines holds no line of that id")
        if each["id"] in known:
            raise where.error("id", each["id"], "the round is there already")
        known.add(each["id"])
        try:
            practised = round_of(each)
        except (InputError, ValueError) as error:
            raise where.complaint(str(error)) from None
        yield Entry(practised, _moment(each, where), each["taken_back"])


def _moment(row: Mapping[str, Any], where: Where) -> str:
    """The moment of the last change, in the one way in which moments are compared. Raises InputError."""
    from datetime import UTC, datetime

    text: str = row["changed"]
    try:
        moment = datetime.fromisoformat(text)
        if moment.tzinfo is None:
            raise ValueError(text)
        return moment.astimezone(UTC).isoformat(timespec="microseconds")
    except (ValueError, OverflowError):
        raise where.error(
            "changed", text, "write a moment in UTC, such as 2026-11-26T10:00:00.000000+00:00"
        ) from None
