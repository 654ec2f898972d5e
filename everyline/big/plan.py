"""The plan of an export: which lines, cut into which parts. It decides every byte that is written."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from corpora.errors import InputError
from everyline.big.schema import FORMAT
from everyline.files import writing
from rules.canonical import fingerprint
from rules.ruleset import Rules

PART_LINES = 1 << 21
PLAN, MANIFEST = "_plan.json", "_manifest.json"
"""Readers of a folder of Parquet pass over names that begin with a low line."""


@dataclass(frozen=True, slots=True)
class Part:
    """Lines ``first`` to ``last``, in a file of that name."""

    name: str
    first: int
    last: int

    @property
    def lines(self) -> int:
        """How many lines."""
        return self.last + 1 - self.first


@dataclass(frozen=True, slots=True)
class Plan:
    """``space`` is the fingerprint of the rules; ``writer`` what writes Parquet, since another version of it
    may write other bytes."""

    space: str
    first: int
    last: int
    part_lines: int
    roles: bool
    writer: str
    format: int = FORMAT

    def parts(self) -> Iterator[Part]:
        """The parts in order."""
        starts = range(self.first, self.last + 1, self.part_lines)
        for place, first in enumerate(starts, 1):
            yield Part(f"part-{place:06}.parquet", first, min(first + self.part_lines - 1, self.last))

    def text(self) -> str:
        """The plan as it is kept in the folder."""
        return json.dumps(asdict(self), indent=2) + "\n"


def make_plan(rules: Rules, count: int, first: int, last: int | None, part_lines: int, roles: bool) -> Plan:
    """The plan for lines ``first`` to ``last`` of ``count``. Raises InputError for lines there are not."""
    import pyarrow

    last = count if last is None else last
    if not 1 <= first <= last <= count:
        raise InputError(
            f"lines {first} to {last} cannot be exported; the lines are numbered from 1 to {count}."
        )
    if part_lines < 1:
        raise InputError(f"a part of {part_lines} lines cannot be written; give 1 or more.")
    return Plan(fingerprint(rules), first, last, part_lines, roles, f"pyarrow {pyarrow.__version__}")


def open_folder(folder: Path, plan: Plan) -> None:
    """Make the folder ready: a new one, or one in which this very plan was begun.

    Raises InputError where the folder holds anything else.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder} is a file; name a folder for the parts.")
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise InputError(f"{folder} cannot be made: {error.strerror}. Choose a folder that exists.") from None
    kept = folder / PLAN
    if kept.exists():
        if kept.read_text(encoding="utf-8") != plan.text():
            raise InputError(
                f"{folder} holds an export of {_differences(kept, plan)}; "
                "choose another folder, or remove it."
            )
    elif any(not each.name.endswith(".part") for each in folder.iterdir()):
        raise InputError(f"{folder} holds files that are not an export; choose an empty or a new folder.")
    else:
        with writing(kept) as out:
            out.write(plan.text())
    tidy(folder)


def tidy(folder: Path) -> None:
    """Remove what a lost process was writing when it was lost."""
    for left in folder.glob(".*.part"):
        left.unlink(missing_ok=True)


def _differences(kept: Path, plan: Plan) -> str:
    try:
        before: dict[str, Any] = json.loads(kept.read_text(encoding="utf-8"))
    except ValueError:
        return "an unreadable plan"
    words = {
        "space": "other rules",
        "first": "other lines",
        "last": "other lines",
        "part_lines": "parts of another size",
        "roles": "other columns",
        "writer": f"another writer ({before.get('writer')})",
        "format": "another format",
    }
    now = asdict(plan)
    return next((text for key, text in words.items() if before.get(key) != now[key]), "another kind")


def write_manifest(folder: Path, plan: Plan, columns: dict[str, str], metadata: dict[str, Any]) -> None:
    """Write what was exported: every part with its lines, size and SHA-256, and what the columns say.

    ``lines`` are texts, since a number may be larger than what many readers of JSON hold.
    """
    parts = []
    for part in plan.parts():
        path = folder / part.name
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
        parts.append(
            {
                "file": part.name,
                "first": str(part.first),
                "last": str(part.last),
                "bytes": path.stat().st_size,
                "sha256": digest,
            }
        )
    data = asdict(plan) | {"first": str(plan.first), "last": str(plan.last)}
    data |= {"notes": metadata, "columns": columns, "parts": parts}
    with writing(folder / MANIFEST) as out:
        json.dump(data, out, indent=2)
        out.write("\n")
