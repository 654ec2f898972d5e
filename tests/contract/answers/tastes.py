"""The tables of the corpora's tastes, as their files have them."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

TASTES = Path(__file__).parents[3] / "corpora" / "tastes"


@cache
def taste(name: str) -> dict[str, Any]:
    """A taste of the corpora as its file has it."""
    table: dict[str, Any] = json.loads((TASTES / f"{name}.json").read_text(encoding="utf-8"))
    return table
