"""From a value in the statistics to the change of rules that leaves the lines that have it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

Change = dict[str, Any]
BEAT = "beat "
"""What an entry beat of bar 1 begins with, in words."""


def _beat(label: str, tables: Mapping[str, Any]) -> Change | None:
    return (
        {"entry.beats": [label.removeprefix(BEAT)], "entry.pickup": None} if label.startswith(BEAT) else None
    )


def _outside(label: str, tables: Mapping[str, Any]) -> Change | None:
    limit = {"kind": "outside-notes", "least": int(label), "most": int(label)}
    return {"limit": [*tables.get("limit", ()), limit]}


_NARROWING: Mapping[str, Callable[[str, Mapping[str, Any]], Change | None]] = {
    "start-note": lambda label, tables: {"entry.start": [label]},
    "start-degree": lambda label, tables: {"entry.degrees": [label]},
    "entry-beat": _beat,
    "ending": lambda label, tables: {"ending.use": [label]},
    "outside-notes": _outside,
}


def narrowing(kind: str, label: str, tables: Mapping[str, Any]) -> Change | None:
    """The change (dotted key to value) that leaves the lines with a value of a facet and no others; None
    where no single rule does: a line that has a value in one of its analyses alone counts for it, so figures
    and targets have none."""
    found = _NARROWING.get(kind)
    return None if found is None else found(label, tables)
