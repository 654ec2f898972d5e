"""The manifest of a drill set read back: whole and in order, or one sentence on the row that is not.

The file comes from anywhere, so nothing in it is taken on trust, and no more of it is read than a set can
have.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

from everyline.corpora import Corpus
from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError, reason
from everyline.corpora.numbers import whole
from everyline.drill.batches import Item
from everyline.drill.choose import Chosen
from everyline.drill.sources import Source, source_of
from everyline.drill.spec import MOST_LINES, Spec, spec_of
from everyline.rules.schema import FileKey, KeyType, Where, check_table

VERSION = 1
LONGEST_ROW = 4_000_000
"""Characters of one row; the first one holds every rule file in full."""


def _keys(*keys: FileKey) -> dict[str, FileKey]:
    return {key.name: key for key in keys}


_HEAD = _keys(
    FileKey("drill", KeyType.NUMBER, "the version of the format", required=True, least=VERSION, most=VERSION),
    FileKey("exercises", KeyType.NUMBER, "how many rows follow", required=True, least=1, most=MOST_LINES),
    FileKey("description", KeyType.TABLE, "what the set is made from", required=True),
    FileKey("remarks", KeyType.NAMES, "what is to be said about the choice", default=()),
    FileKey("rules", KeyType.TABLE, "every rule file in full, by its fingerprint", required=True),
)
_RULES = _keys(
    FileKey("name", KeyType.TEXT, "what messages call the rule file", required=True),
    FileKey("key", KeyType.KEY, "the key that it is in", required=True),
    FileKey("tables", KeyType.TABLE, "the tables of the rule file", required=True),
)
_EXERCISE = _keys(
    FileKey("rules", KeyType.TEXT, "the fingerprint of its rules", required=True),
    FileKey("number", KeyType.NUMBER, "the number of its line", required=True, least=1),
)
_BESIDE = ("exercise", "kind", "key", "difficulty", "roughness", "line", "answer", "notes")
"""What stands in a row for those who read it, and follows from the rest."""


def read_manifest(path: Path, corpus: Corpus) -> tuple[Spec, list[Source], Chosen]:
    """The description, the sources and the lines of a manifest, from that file alone.

    Raises InputError where it is none, and where its rules no longer give the same lines (a figure or an
    ending of the corpora has changed).
    """
    try:
        with open(path, encoding="utf-8") as file:
            rows = _rows(file, path)
            head = check_table(_stated(next(rows)), _HEAD, Where(str(path), "row 1"))
            spec = spec_of(_stated(head["description"]), f"{path}, row 1, description")
            sources = _sources(head["rules"], path, corpus)
            items = tuple(_items(rows, head["exercises"], sources, path))
    except UnicodeDecodeError:
        raise InputError(f"{path}: not text in UTF-8, so not the manifest of a drill set.") from None
    except (OSError, ValueError) as error:
        raise InputError(f"{path}: cannot be read ({reason(error).lower()}); name a manifest.") from None
    return spec, list(sources.values()), Chosen(items, tuple(head["remarks"]))


def _rows(file: IO[str], path: Path) -> Iterator[Any]:
    """Each row as data. A file without a row gives one that is none."""
    place = 1
    while text := file.readline(LONGEST_ROW + 1):
        if len(text) > LONGEST_ROW:
            raise InputError(
                f"{path}, row {place}: longer than {LONGEST_ROW} characters, so not of a drill set."
            )
        try:
            yield json.loads(text, parse_int=whole)
        except InputError as error:
            raise InputError(f"{path}, row {place}: {error}") from None
        except (ValueError, RecursionError):
            raise InputError(f"{path}, row {place}: not JSON, so not the manifest of a drill set.") from None
        place += 1
    if place == 1:
        raise InputError(f"{path}: it is empty, so not the manifest of a drill set.")


def _stated(table: Any) -> Any:
    """A table without the keys that stand there with nothing, since nothing was asked for."""
    if not isinstance(table, dict):
        return table
    return {name: value for name, value in table.items() if value is not None and value not in ("", [])}


def _sources(tables: Any, path: Path, corpus: Corpus) -> dict[str, Source]:
    found: dict[str, Source] = {}
    for wanted, table in tables.items():
        each = check_table(table, _RULES, Where(str(path), f"row 1, rules {wanted[:12]}"))
        source = source_of(each["name"], each["key"], each["tables"], corpus)
        if source.fingerprint != wanted:
            raise InputError(
                f"{path}: the rules of {each['name']} in {each['key']} give other lines than then."
            )
        found[wanted] = source
    return found


def _items(rows: Iterator[Any], wanted: int, sources: dict[str, Source], path: Path) -> Iterator[Item]:
    index = {name: place for place, name in enumerate(sources)}
    place = 0
    for place, row in enumerate(rows, 1):
        where = Where(str(path), f"row {place + 1}")
        if place > wanted:
            raise where.complaint(f"row 1 states {plural(wanted, 'exercise')}, and here is one more")
        each = check_table(row, _EXERCISE, where, also=_BESIDE)
        if each["rules"] not in index:
            raise where.error("rules", each["rules"], "row 1 holds no rules of that fingerprint")
        count = sources[each["rules"]].diagram.count
        if each["number"] > count:
            raise where.error("number", each["number"], f"its rules have lines 1 to {count}")
        yield index[each["rules"]], each["number"]
    if place < wanted:
        raise InputError(f"{path}: row 1 states {plural(wanted, 'exercise')}, and {place} are there.")
