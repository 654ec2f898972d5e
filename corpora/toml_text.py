"""Values as TOML text that reads back equal: the one writer of every TOML file that is made here."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any

from everyline.corpora.errors import InputError

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")


def toml_row(key: str, value: Any) -> str:
    """``key = value``. Raises as ``toml_value`` does."""
    return f"{toml_key(key)} = {toml_value(value)}"


def toml_key(key: str) -> str:
    """A key, in quotes where TOML wants them."""
    return key if _BARE.fullmatch(key) else _text(key)


def toml_value(value: Any) -> str:
    """A value. Raises InputError for one that TOML has not."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(toml_value, value)) + "]"
    if isinstance(value, Mapping):
        return "{ " + ", ".join(toml_row(*item) for item in value.items()) + " }"
    raise InputError(f"{value!r} cannot stand in a TOML file; write text, a whole number or a list.")


def toml_rows(text: str) -> str:
    """A text of several rows as TOML shows it best, row by row."""
    # The line break after the opening marks is no part of the text.
    rows = _sound(text).replace("\\", "\\\\").replace('"""', '""\\"')
    return '"""\n' + _CONTROL.sub(lambda found: rf"\u{ord(found[0]):04x}", rows) + '"""'


def _text(value: str) -> str:
    # JSON's escapes are TOML's, save that TOML wants DEL escaped and has no surrogates.
    return json.dumps(_sound(value), ensure_ascii=False).replace("\x7f", "\\u007f")


def _sound(text: str) -> str:
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        raise InputError("the text holds half a character, which no file can hold; type it anew.") from None
    return text
