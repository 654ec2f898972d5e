"""A rule file's tables as TOML text, in the order in which the rule file documents its keys."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

from everyline.corpora.errors import InputError
from everyline.rules.keys import SECTIONS

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def to_toml(tables: Mapping[str, Any]) -> str:
    """Rule file tables as a TOML document that reads back equal. Raises InputError for a value that TOML has
    not."""
    top = _ordered(tables, [*SECTIONS[""].keys])
    lines = [f"{_name(key)} = {_value(value)}" for key, value in top if not _is_table(value)]
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
        yield f"[[{_name(name)}]]" if many else f"[{_name(name)}]"
        for key, each in _ordered(table, known):
            yield f"{_name(key)} = {_value(each)}"


def _ordered(table: Mapping[str, Any], known: list[str]) -> list[tuple[str, Any]]:
    """The table's items: known keys in their order, then the others as they come; None means not there."""
    names = [*(key for key in known if key in table), *(key for key in table if key not in known)]
    return [(name, table[name]) for name in names if table[name] is not None]


def _is_table(value: Any) -> bool:
    return isinstance(value, Mapping) or (
        isinstance(value, list) and bool(value) and all(isinstance(each, Mapping) for each in value)
    )


def _name(key: str) -> str:
    return key if _BARE.fullmatch(key) else _text(key)


def _text(value: str) -> str:
    # JSON's escapes are TOML's, save that TOML wants DEL escaped and has no surrogates.
    try:
        value.encode("utf-8")
    except UnicodeEncodeError:
        raise InputError("the rules hold half a character, which no file can hold; type it anew.") from None
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(each) for each in value) + "]"
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_name(k)} = {_value(v)}" for k, v in value.items()) + " }"
    raise InputError(f"{value!r} cannot stand in a rule file; write text, a whole number or a list.")
