"""A rule file's tables as TOML text, in the order in which the rule file documents its keys."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from everyline.corpora.toml_text import toml_key, toml_row
from everyline.rules.keys import SECTIONS


def to_toml(tables: Mapping[str, Any]) -> str:
    """Rule file tables as a TOML document that reads back equal. Raises InputError for a value that TOML has
    not."""
    top = _ordered(tables, [*SECTIONS[""].keys])
    lines = [toml_row(key, value) for key, value in top if not _is_table(value)]
    order = [name for name in SECTIONS if name]
    for key, value in _ordered(tables, order):
        if _is_table(value):
            lines += _table(key, value)
    return "\n".join(lines) + "\n"


def _table(name: str, value: Any) -> Iterator[str]:
    many = isinstance(value, list)
    section = SECTIONS.get(name)
    known = ["kind", *section.keys] if section else []
    for table in value if many else [value]:
        if not table and not many:
            continue
        yield ""
        yield f"[[{toml_key(name)}]]" if many else f"[{toml_key(name)}]"
        for item in _ordered(table, known):
            yield toml_row(*item)


def _ordered(table: Mapping[str, Any], known: list[str]) -> list[tuple[str, Any]]:
    """The table's items: known keys in their order, then the others as they come; None means not there."""
    names = [*(key for key in known if key in table), *(key for key in table if key not in known)]
    return [(name, table[name]) for name in names if table[name] is not None]


def _is_table(value: Any) -> bool:
    return isinstance(value, Mapping) or (
        isinstance(value, list) and bool(value) and all(isinstance(each, Mapping) for each in value)
    )
