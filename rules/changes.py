"""Changes of a rule file or a chorus plan, written as dotted keys and their values, made in its tables."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from typing import Any

from everyline.corpora.errors import InputError

Tables = dict[str, Any]
MUST_TARGET = "must-target"
PHRASE = "phrase "


def changed(tables: Mapping[str, Any], change: Mapping[str, Any]) -> Tables:
    """The tables of a rule file or a plan with a change made; the tables given stay as they are.

    A key is ``section.key``, a key at the top, a whole ``section``, ``limit N`` (the whole limit) or ``limit
    N.key``; limits are numbered from 1 with every must-target after all other kinds, as conditions name them.
    ``phrase N.`` before any of these makes the change in the N-th phrase of a plan, from 1.
    A value of None takes the key, table or limit out. A table left empty goes too.
    """
    found = deepcopy(dict(tables))
    order = limits_in_order(found)
    phrases: dict[int, Tables] = {}
    for key, value in change.items():
        section, dot, name = key.partition(".")
        if section.startswith(PHRASE):
            phrases.setdefault(int(section.removeprefix(PHRASE)) - 1, {})[name] = value
        elif section.startswith("limit "):
            place = order[int(section.removeprefix("limit ")) - 1]
            found["limit"][place] = _set(found["limit"][place], name, value) if dot else value
        elif dot:
            found[section] = _set(found.get(section, {}), name, value)
        else:
            found[key] = value
    for place, inner in phrases.items():
        found["phrase"][place] = changed(found["phrase"][place], inner)
    if "limit" in found:
        found["limit"] = [limit for limit in found["limit"] if limit is not None]
    return {key: value for key, value in found.items() if value not in (None, {}, [])}


def limits_in_order(tables: Mapping[str, Any]) -> list[int]:
    """For each limit as conditions number them, where in the file it stands (from 0)."""
    kinds = [limit.get("kind") for limit in tables.get("limit", [])]
    return sorted(range(len(kinds)), key=lambda place: kinds[place] == MUST_TARGET)


def _set(table: Any, name: str, value: Any) -> dict[str, Any]:
    if not isinstance(table, Mapping):
        raise InputError(f'"{name[:60]}" is a key of what is no table of keys; name the whole section.')
    found = {key: each for key, each in table.items() if key != name}
    return found if value is None else {**found, name: value}
