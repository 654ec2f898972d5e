"""The OpenAPI description, made from the table of routes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from everyline import __version__
from everyline.page.calls import Route
from everyline.page.security import UPLOAD_TYPE

ERROR = {
    "type": "object",
    "properties": {"error": {"type": "string"}},
    "required": ["error"],
    "additionalProperties": False,
}
REFUSALS = {
    "400": "What was sent is wrong; the sentence says what and what is allowed.",
    "403": "Another site or origin may not use this server.",
    "404": "There is no such address, or the server has forgotten these rules.",
    "413": "The request is too large.",
    "415": "The request has a media type that is not read here.",
    "421": "The server does not go by the name in the Host header.",
    "500": "A fault of the program.",
    "503": "Stopped: it took more time or memory than the server allows, or a part is not installed.",
}
"""Answers that say no, by status."""


def document(routes: Iterable[Route]) -> dict[str, Any]:
    """The description as OpenAPI 3.1."""
    paths: dict[str, dict[str, Any]] = {}
    for route in routes:
        paths.setdefault(route.path, {})[route.method.lower()] = _operation(route)
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Everyline",
            "version": __version__,
            "description": "Counts and numbers of lines are digits in text, for they may be of any size.",
        },
        "paths": paths,
        "components": {"schemas": {"Error": ERROR}},
    }


def _operation(route: Route) -> dict[str, Any]:
    good = {"application/json": {"schema": route.reply}}
    if route.answers != "application/json":
        kinds = (route.answers,) if isinstance(route.answers, str) else route.answers
        good = {kind: {"schema": {"type": "string", "contentMediaType": kind}} for kind in kinds}
    made: dict[str, Any] = {
        "operationId": route.name,
        "summary": route.words,
        "parameters": [
            {"name": name, "in": "path", "required": True, "schema": schema}
            for name, schema in route.in_path.items()
        ]
        + [_query(name, schema, name in route.needed) for name, schema in route.query.items()],
        "responses": {
            "200": {"description": "Done.", "content": good},
            **{status: _refusal(words) for status, words in REFUSALS.items()},
        },
    }
    if route.raw:
        content = {UPLOAD_TYPE: {"schema": {"type": "string", "format": "binary"}}}
        made["requestBody"] = {"required": True, "content": content}
    elif route.body is not None:
        made["requestBody"] = {"required": True, "content": {"application/json": {"schema": route.body}}}
    return made


def _query(name: str, schema: dict[str, Any], needed: bool) -> dict[str, Any]:
    found = {"name": name, "in": "query", "required": needed, "schema": schema}
    if schema["type"] == "array":
        found |= {"style": "form", "explode": False}
    return found


def _refusal(words: str) -> dict[str, Any]:
    schema = {"$ref": "#/components/schemas/Error"}
    return {"description": words, "content": {"application/json": {"schema": schema}}}
