"""The part of JSON Schema that the interface uses: one description for checking requests and for OpenAPI."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from everyline.corpora.errors import InputError, did_you_mean
from everyline.rules.schema import listed, shown

Schema = dict[str, Any]

_TYPES: dict[str, tuple[str, tuple[type, ...]]] = {
    "string": ("text", (str,)),
    "integer": ("a whole number", (int,)),
    "number": ("a number", (int, float)),
    "boolean": ("true or false", (bool,)),
    "array": ("a list", (list,)),
    "object": ("an object", (dict,)),
    "null": ("null", (type(None),)),
}


def text(most: int, *, least: int = 0, pattern: str | None = None, **more: Any) -> Schema:
    """A string of at most so many characters."""
    found: Schema = {"type": "string", "maxLength": most, **more}
    if least:
        found["minLength"] = least
    if pattern:
        found["pattern"] = pattern
    return found


def whole(least: int, most: int, **more: Any) -> Schema:
    """A whole number within bounds, both included."""
    return {"type": "integer", "minimum": least, "maximum": most, **more}


def choice(*values: str, **more: Any) -> Schema:
    """One of a few words."""
    return {"type": "string", "enum": list(values), **more}


def many(items: Schema, most: int, least: int = 0) -> Schema:
    """A list."""
    found: Schema = {"type": "array", "items": items, "maxItems": most}
    if least:
        found["minItems"] = least
    return found


def table(required: Mapping[str, Schema], optional: Mapping[str, Schema] | None = None) -> Schema:
    """An object with these keys and no others."""
    return {
        "type": "object",
        "properties": {**required, **(optional or {})},
        "required": list(required),
        "additionalProperties": False,
    }


FREE = {"type": "object"}
"""An object whose keys are checked elsewhere."""

LESSON_WORDS: dict[str, Schema] = {"title": text(200), "remark": text(2000)}
"""What is said about a lesson, and about each line of it."""
MOST_LINES = 500
LONGEST_LESSON = 500_000
"""Characters of a lesson file: room for MOST_LINES lines with the text of their rules."""


def check(value: Any, schema: Schema, where: str) -> None:
    """Check a value. Raises InputError that names the place, the value and what is allowed."""
    kinds = schema.get("type")
    if kinds is not None:
        _check_type(value, [kinds] if isinstance(kinds, str) else kinds, where)
    if "enum" in schema and value not in schema["enum"]:
        raise InputError(
            f"{where} = {shown(value)}; it is one of {listed(schema['enum'])}."
            f"{did_you_mean(str(value), schema['enum'])}"
        )
    if isinstance(value, str):
        _check_text(value, schema, where)
    elif isinstance(value, dict):
        _check_object(value, schema, where)
    elif isinstance(value, list):
        _check_list(value, schema, where)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        _check_number(value, schema, where)


def _check_type(value: Any, kinds: list[str], where: str) -> None:
    if isinstance(value, float) and value.is_integer() and "integer" in kinds:
        return
    for kind in kinds:
        if isinstance(value, _TYPES[kind][1]) and (kind == "boolean" or not isinstance(value, bool)):
            return
    raise InputError(
        f"{where} = {shown(value)}; it must be {' or '.join(_TYPES[kind][0] for kind in kinds)}."
    )


def _check_text(value: str, schema: Schema, where: str) -> None:
    if len(value) > schema.get("maxLength", len(value)):
        raise InputError(f"{where} has {len(value)} characters; {schema['maxLength']} is the most.")
    if len(value) < schema.get("minLength", 0):
        raise InputError(f"{where} is empty; write something there.")
    if "pattern" in schema and re.search(schema["pattern"], value) is None:
        raise InputError(
            f"{where} = {shown(value)}; it must look like {schema.get('example', schema['pattern'])}."
        )


def _check_object(value: dict[str, Any], schema: Schema, where: str) -> None:
    known = schema.get("properties", {})
    for name in schema.get("required", ()):
        if name not in value:
            raise InputError(f"{where}: the key {name} is missing.")
    for name, each in value.items():
        if name in known:
            check(each, known[name], f"{where}.{name}")
        elif schema.get("additionalProperties") is False:
            raise InputError(
                f"{where}: there is no key {shown(name)}; the keys are {listed(known)}."
                f"{did_you_mean(name, known)}"
            )


def _check_list(value: list[Any], schema: Schema, where: str) -> None:
    if len(value) > schema.get("maxItems", len(value)):
        raise InputError(f"{where} has {len(value)} entries; {schema['maxItems']} is the most.")
    if len(value) < schema.get("minItems", 0):
        raise InputError(f"{where} has {len(value)} entries; {schema['minItems']} is the least.")
    for place, each in enumerate(value, 1):
        check(each, schema.get("items", {}), f"{where} entry {place}")


def _check_number(value: float, schema: Schema, where: str) -> None:
    least, most = schema.get("minimum"), schema.get("maximum")
    if (least is not None and value < least) or (most is not None and value > most):
        raise InputError(f"{where} = {value:g}; it is from {least} to {most}.")


def read_query(text_value: str, schema: Schema, where: str) -> Any:
    """A query parameter as its schema's type. Raises InputError."""
    kind = schema["type"]
    value: Any = text_value
    if kind == "integer":
        if not re.fullmatch(r"-?[0-9]{1,15}", text_value):
            raise InputError(f"{where} = {shown(text_value)}; it must be a whole number.")
        value = int(text_value)
    elif kind == "number":
        if not re.fullmatch(r"-?[0-9]{1,15}(\.[0-9]{1,15})?", text_value):
            raise InputError(f"{where} = {shown(text_value)}; it must be a number.")
        value = float(text_value)
    elif kind == "boolean":
        value = {"true": True, "false": False}.get(text_value, text_value)
    elif kind == "array":
        value = [each for each in text_value.split(",") if each]
    check(value, schema, where)
    return value
