"""The folder of an export: its plan, which parts are there as they were written, the manifest."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Callable
from contextlib import ExitStack, suppress
from dataclasses import asdict
from pathlib import Path
from typing import Any

from everyline.corpora.errors import InputError, Stopped, reason
from everyline.files.writing import alone, is_own_file, naming, writing
from everyline.parallel.parts import ExportPart, ExportPlan

PLAN, SUMS, MANIFEST = "_plan.json", "_sums.txt", "_manifest.json"
"""Readers of a folder of Parquet pass over names that begin with a low line. The sums stand there until the
manifest takes them in."""

Remark = Callable[[str], None]
"""Called with a sentence for whoever waits."""


class ExportFolder:
    """A folder that one export at a time writes to. A context; inside it the folder is this export's alone.

    Raises InputError where the folder holds anything but this very export, begun, stopped or done, and where
    another process is writing to it.
    """

    def __init__(self, path: Path, plan: ExportPlan) -> None:
        self.path = path
        self._plan = plan
        self._sums: dict[str, str] = {}
        self._size = self._lines = 0
        self._open = ExitStack()

    def __enter__(self) -> ExportFolder:
        with self._open:  # closed again unless all goes well
            _make(self.path)
            busy = f"another export is writing to {self.path}; wait for its end, or choose another folder."
            self._open.enter_context(alone(self.path, busy))
            self._begin()
            self._open = self._open.pop_all()
        return self

    def __exit__(self, *error: object) -> None:
        with self._open, suppress(OSError):
            self.tidy()

    def _begin(self) -> None:
        kept = self.path / PLAN
        for name in (PLAN, MANIFEST, SUMS):  # a pipe would be waited for, a link read elsewhere
            if os.path.lexists(self.path / name) and not is_own_file(self.path / name):
                raise InputError(f"{self.path / name} is no file of its own; remove it, and ask again.")
        if kept.exists():
            if kept.read_bytes() != self._plan.text().encode():
                raise InputError(
                    f"{self.path} holds an export of {_differences(kept, self._plan)}; "
                    "choose another folder, or remove it."
                )
        elif any(not each.name.endswith(".part") for each in self.path.iterdir()):
            raise InputError(
                f"{self.path} holds files that are not an export; choose an empty or a new folder."
            )
        else:
            with writing(kept) as out:
                out.write(self._plan.text())
        strangers = self._strangers()
        if strangers:
            raise InputError(
                f"{self.path} holds {strangers[0]}, which is not of this export and would be read with it; "
                "move it away."
            )
        self.tidy()
        self._sums = _sums_of_manifest(self.path / MANIFEST) or _sums_of_list(self.path / SUMS)

    def _strangers(self) -> list[str]:
        """What readers of the folder would take for parts, and is none of this export."""
        there = {each.name for each in self.path.glob("*.parquet")}
        if there:
            there -= {part.name for part in self._plan.parts()}
        return sorted(there)

    def tidy(self) -> None:
        """Remove what a lost process was writing when it was lost."""
        for left in self.path.glob(".*.part"):
            left.unlink(missing_ok=True)

    def left(self, remark: Remark) -> list[ExportPart]:
        """The parts that are still to be written: every one but those that are, to the byte, as they were
        written. Where there are any, there is no manifest from here on."""
        left = []
        there = set(os.listdir(self.path))
        for part in self._plan.parts():
            path, known = self.path / part.name, self._sums.pop(part.name, None)
            if part.name in there and not is_own_file(path):
                path.unlink()  # a link or a pipe: what it leads to is not ours to write to
            elif part.name in there and known is not None:
                if _sum(path) == known:
                    self._count(part, known)
                    continue
                remark(f"{path} has changed since it was written; rewriting it.")
            left.append(part)
        if left:
            with writing(self.path / SUMS) as out:
                out.writelines(_row(name, found) for name, found in self._sums.items())
            (self.path / MANIFEST).unlink(missing_ok=True)
        return left

    def add(self, part: ExportPart) -> None:
        """Note that a part is there."""
        self._count(part, _sum(self.path / part.name))
        path = self.path / SUMS
        with naming(path), path.open("a", encoding="utf-8", newline="\n") as out:
            out.write(_row(part.name, self._sums[part.name]))

    def _count(self, part: ExportPart, found: str) -> None:
        self._sums[part.name] = found
        self._size += (self.path / part.name).stat().st_size
        self._lines += part.lines

    def check_room(self, left: int) -> None:
        """Raise Stopped where there is no room for ``left`` lines, if they are like those written."""
        needed, free = left * self._size // max(1, self._lines), shutil.disk_usage(self.path).free
        if needed > free:
            raise Stopped(
                f"{self.path} would need about {_bytes(needed)} more and there are {_bytes(free)} free; make "
                "room and ask again to go on, or ask for fewer lines with --numbers."
            )

    def finish(self, columns: dict[str, str], metadata: dict[str, Any]) -> None:
        """Write what was exported: every part with its lines, size and SHA-256, and what the columns say.

        ``lines`` are texts, since a number may be larger than what many readers of JSON hold.
        """
        self.tidy()
        parts = [
            {
                "file": part.name,
                "first": str(part.first),
                "last": str(part.last),
                "bytes": (self.path / part.name).stat().st_size,
                "sha256": self._sums[part.name],
            }
            for part in self._plan.parts()
        ]
        data = asdict(self._plan) | {"first": str(self._plan.first), "last": str(self._plan.last)}
        data |= {"notes": metadata, "columns": columns, "parts": parts}
        with writing(self.path / MANIFEST) as out:
            json.dump(data, out, indent=2)
            out.write("\n")
        (self.path / SUMS).unlink(missing_ok=True)


def _make(path: Path) -> None:
    if path.exists() and not path.is_dir():
        raise InputError(f"{path} is a file; name a folder for the parts.")
    try:
        path.mkdir(exist_ok=True)
    except (OSError, ValueError) as error:
        raise InputError(f"{path} cannot be made: {reason(error)}. Choose a folder that exists.") from None


def _sum(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _row(name: str, found: str) -> str:
    return f"{found}  {name}\n"


def _sums_of_manifest(path: Path) -> dict[str, str]:
    """The sums in a manifest; none where it is missing or cannot be read."""
    try:
        return {str(part["file"]): str(part["sha256"]) for part in json.loads(path.read_bytes())["parts"]}
    except (OSError, ValueError, KeyError, TypeError):
        return {}


def _sums_of_list(path: Path) -> dict[str, str]:
    """The sums noted so far; a last row that is half there is none."""
    try:
        rows = path.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return {}
    pairs = [row.split("  ", 1) for row in rows]
    return {pair[1]: pair[0] for pair in pairs if len(pair) == 2}


def _differences(kept: Path, plan: ExportPlan) -> str:
    try:
        before: dict[str, Any] = json.loads(kept.read_bytes())
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


def _bytes(size: int) -> str:
    for unit in ("bytes", "kB", "MB", "GB", "TB"):
        if size < 1000:
            return f"{size} {unit}"
        size //= 1000
    return f"{size} PB"
