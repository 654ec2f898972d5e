"""The page's modules as one script and its style sheets as one, so that a browser asks once for each.

Each module becomes a function that is called once, in the order in which they need each other; what it
exports is what the function answers. Only the forms of import and export that the page uses are known:
anything else is an error when the server starts, and so is a circle of imports.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from graphlib import CycleError, TopologicalSorter

_IMPORT = re.compile(r'^import (?:(\{[^}]*\}|\* as \w+) from )?"\./([\w-]+\.js)";\n', re.MULTILINE)
_PASSED_ON = re.compile(r'^export \{([^}]*)\} from "\./([\w-]+\.js)";\n', re.MULTILINE)
_LISTED = re.compile(r"^export \{([^}]*)\};\n", re.MULTILINE)
_DECLARED = re.compile(r"^export ((?:async )?function|const|class) (\w+)", re.MULTILINE)
_LEFT = re.compile(r"^(?:import|export)\b.*|\bawait import\(.*", re.MULTILINE)


class CannotJoin(Exception):
    """A module is written in a way that this does not know."""


def joined(modules: Mapping[str, str], first: str) -> str:
    """The module ``first`` and all that it needs as one script. ``modules`` are texts by file name. Raises
    CannotJoin."""
    needs: dict[str, set[str]] = {}
    left = [first]
    while left:
        name = left.pop()
        if name in needs:
            continue
        if name not in modules:
            raise CannotJoin(f"there is no module {name}")
        needs[name] = {found[2] for found in _IMPORT.finditer(modules[name])}
        needs[name] |= {found[2] for found in _PASSED_ON.finditer(modules[name])}
        left += needs[name]
    try:
        order = list(TopologicalSorter(needs).static_order())
    except CycleError as error:
        raise CannotJoin(f"modules need each other in a circle: {' -> '.join(error.args[1])}") from None
    return '"use strict";\n' + "\n".join(_function(name, modules[name]) for name in order)


def _function(name: str, text: str) -> str:
    exports: list[str] = []

    def imported(found: re.Match[str]) -> str:
        what, module = found[1], _variable(found[2])
        if what is None:
            return ""
        if what.startswith("*"):
            return f"const {what.removeprefix('* as ')} = {module};\n"
        return f"const {re.sub(r' as ', ': ', what)} = {module};\n"

    def passed_on(found: re.Match[str]) -> str:
        exports.extend(f"{each}: {_variable(found[2])}.{each}" for each in _names(found[1]))
        return ""

    def listed(found: re.Match[str]) -> str:
        exports.extend(_names(found[1]))
        return ""

    def declared(found: re.Match[str]) -> str:
        exports.append(found[2])
        return f"{found[1]} {found[2]}"

    for pattern, act in (
        (_IMPORT, imported),
        (_PASSED_ON, passed_on),
        (_LISTED, listed),
        (_DECLARED, declared),
    ):
        text = pattern.sub(act, text)
    odd = _LEFT.search(text)
    if odd is not None:
        raise CannotJoin(f"{name}: {odd[0]!r} is no form of import or export that is known")
    return (
        f"// {name}\nconst {_variable(name)} = (() => {{\n{text}return {{ {', '.join(exports)} }};\n}})();\n"
    )


def _names(listed: str) -> list[str]:
    return [each.strip() for each in listed.split(",") if each.strip()]


def _variable(name: str) -> str:
    return "$" + re.sub(r"\W", "_", name.removesuffix(".js"))
