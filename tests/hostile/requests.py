"""Requests to every address of the page with something wrong in them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from everyline.page.calls import Route
from everyline.page.routes import ROUTES
from everyline.page.schemas import Schema
from tests.hostile.files import hostile
from tests.hostile.values import NUMBERS, TEXTS, Chance, spoiled, value

KINDS = {"musicxml": "line.musicxml", "mxl": "line.mxl", "mid": "line.mid"}
JSON = "application/json"


@dataclass(frozen=True)
class Asked:
    """A request: ``body`` is data to be sent as JSON, or bytes to be sent as they are."""

    method: str
    path: str
    body: Any
    kind: str = JSON


def asked(chance: Chance, rules: str, tables: dict[str, Any]) -> Asked:
    """One request. ``rules`` names sound rules that the server knows, ``tables`` are theirs."""
    route = chance.choice(ROUTES)
    path = route.path.replace("{rules}", rules)
    for name, schema in route.in_path.items():
        path = path.replace(f"{{{name}}}", quote(_word(schema, chance), safe=""))
    query = [(name, _word(schema, chance)) for name, schema in route.query.items() if chance.random() < 0.6]
    if chance.random() < 0.1:
        query.append((str(chance.choice(TEXTS)), "1"))
    if query:
        path += "?" + "&".join(f"{_quoted(name)}={_quoted(each)}" for name, each in query)
    method = route.method if chance.random() < 0.95 else chance.choice(("GET", "POST", "PUT", "DELETE"))
    return Asked(method, path, *_body(route, chance, tables))


def _quoted(text: str) -> str:
    return quote(text.encode("utf-8", "surrogatepass"), safe="")


def _word(schema: Schema, chance: Chance) -> str:
    """A word of an address: sound as often as not."""
    text = (
        str(chance.choice((*TEXTS, *NUMBERS))) if chance.random() < 0.4 else str(_sound(schema, chance, {}))
    )
    return text.encode("utf-8", "replace").decode()


def _body(route: Route, chance: Chance, tables: dict[str, Any]) -> tuple[Any, str]:
    if route.raw:
        data = hostile(chance.choice(list(KINDS.values())), chance)
        return data, "application/octet-stream" if chance.random() < 0.95 else JSON
    if route.method == "GET":
        return None, JSON
    found = _sound(route.body or {}, chance, tables)
    return (spoiled(found, chance) if chance.random() < 0.8 else found), JSON


def _sound(schema: Schema, chance: Chance, tables: dict[str, Any]) -> Any:
    """A value that a schema allows. An object whose keys are checked elsewhere is a rule file's tables."""
    if "enum" in schema:
        return chance.choice(schema["enum"])
    kind = schema.get("type")
    if kind == "object":
        if "properties" not in schema:
            return tables
        needed = schema.get("required", ())
        return {
            name: _sound(each, chance, tables)
            for name, each in schema["properties"].items()
            if name in needed or chance.random() < 0.5
        }
    if kind == "array":
        return [_sound(schema.get("items", {}), chance, tables)]
    if kind == "integer":
        return chance.randint(schema["minimum"], min(schema["maximum"], schema["minimum"] + 5))
    if kind == "boolean":
        return chance.random() < 0.5
    if kind == "string":
        return schema.get("example", "1" if "pattern" in schema else "D4 F4 A4 C5 B4:4")
    return value(chance)
