"""The folder of a drill set while it grows: one run at a time, stopped and gone on with at any moment.

The set's files are streams that end in ``.part`` until all is there, and scores. ``progress.jsonl`` is a
journal: a first row that names the set, then one row for each batch with the size of every stream and the
SHA-256 of all its bytes so far, and of each score. Going on reads the files against it, batch by batch:
whatever is not to the byte as it was written is written anew from there.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from everyline.corpora.errors import InputError, reason
from everyline.corpora.numbers import whole
from everyline.files.writing import alone, is_own_file, naming, sync_folder, writing

STREAMS = ("manifest.jsonl", "exercises.txt", "key.txt")
PROGRESS = "progress.jsonl"
SCORES = "scores"

Remark = Callable[[str], None]
"""Called with a sentence for whoever waits."""


@dataclass(frozen=True, slots=True)
class _Row:
    """A batch in the journal: exercises so far, (size, SHA-256) of each stream so far, SHA-256 of scores."""

    done: int
    streams: Mapping[str, tuple[int, str]]
    scores: Mapping[str, str]

    def text(self) -> str:
        return _json({"done": self.done, "streams": self.streams, "scores": self.scores})


class SetFolder:
    """The folder of one set. A context; inside it the folder is this process's alone.

    ``mark`` tells the set from any other, ``ends`` are the numbers of exercises after each batch, the row of
    0 for the head of the manifest first. Raises InputError where the folder holds anything else, or where
    another process is writing to it.
    """

    def __init__(self, path: Path, mark: str, ends: Sequence[int], remark: Remark) -> None:
        self.path, self.done = path, 0
        self._mark, self._ends, self._remark = mark, ends, remark
        self._open = ExitStack()
        self._sums = {name: hashlib.sha256() for name in STREAMS}
        self._sizes = dict.fromkeys(STREAMS, 0)
        self._files: dict[str, IO[bytes]] = {}
        self.empty = True

    def __enter__(self) -> SetFolder:
        with self._open:  # closed again unless all goes well
            try:
                self.path.mkdir(exist_ok=True)
            except (OSError, ValueError) as error:
                raise InputError(
                    f"{self.path} cannot be written to: {reason(error)}. Name another folder."
                ) from None
            busy = (
                f"another run is writing a drill set to {self.path}; wait until it is done, or name another "
                "folder."
            )
            self._open.enter_context(alone(self.path, busy))
            self._begin()
            self._open = self._open.pop_all()
        return self

    def __exit__(self, kind: type[BaseException] | None, *error: object) -> None:
        # What a full disk did not take is tried once more, and would say so without a name.
        with suppress(*(() if kind is None else (OSError,))):
            self._open.close()

    # -- beginning and going on ------------------------------------------------------------------------------

    def _begin(self) -> None:
        for folder in (self.path, self.path / SCORES):
            for left in folder.glob(".*.part"):  # what a lost process was writing
                left.unlink(missing_ok=True)
        there = {each.name for each in self.path.iterdir()}
        if there and PROGRESS not in there:
            raise InputError(f"{self.path} is not empty; name a new folder.")
        kept = self._kept() if there else []
        self._open_streams()
        with writing(self.path / PROGRESS) as file:
            file.write(_json({"set": self._mark}))
            file.writelines(row.text() for row in kept)
        journal = (self.path / PROGRESS).open("a", encoding="utf-8")
        self._journal = self._open.enter_context(journal)

    def _kept(self) -> list[_Row]:
        """The batches that are to the byte as they were written, from the first to the last before one that
        is not."""
        head, rows = self._journalled()
        if not isinstance(head, dict) or "set" not in head:
            raise InputError(
                f"{self.path / PROGRESS} is not the journal of a drill set; name a new folder for this one."
            )
        if head["set"] != self._mark:
            raise InputError(f"{self.path} holds another drill set that was stopped; name a new folder.")
        kept: list[_Row] = []
        with ExitStack() as stack:
            streams = {name: self._part(name, stack) for name in STREAMS}
            for row, end in zip(rows, self._ends, strict=False):
                if row is None or row.done != end or not self._is_whole(row, streams):
                    self._remark(
                        f"{self.path} is not as it was written; it is written anew from exercise "
                        f"{self.done + 1} on."
                    )
                    break
                kept.append(row)
                self.done, self.empty = row.done, False
        return kept

    def _is_whole(self, row: _Row, streams: Mapping[str, IO[bytes] | None]) -> bool:
        """Whether a batch is there as it was written; then the sums and sizes go on from its end."""
        sums = {name: found.copy() for name, found in self._sums.items()}
        for name, (size, wanted) in row.streams.items():
            more, file = size - self._sizes[name], streams[name]
            if file is None and not size:
                continue
            if file is None or more < 0 or size > os.fstat(file.fileno()).st_size:
                return False
            sums[name].update(file.read(more))
            if sums[name].hexdigest() != wanted:
                return False
        for name, wanted in row.scores.items():
            path = self.path / SCORES / name
            if not is_own_file(path) or hashlib.sha256(path.read_bytes()).hexdigest() != wanted:
                return False
        self._sums, self._sizes = sums, {name: size for name, (size, _) in row.streams.items()}
        return True

    def _part(self, name: str, stack: ExitStack) -> IO[bytes] | None:
        """A stream to be read; one that was put in place grows again. None where there is no such file."""
        whole, part = self.path / name, self.path / f"{name}.part"
        if not os.path.lexists(part) and is_own_file(whole):
            os.replace(whole, part)
        return stack.enter_context(open(part, "rb")) if is_own_file(part) else None

    def _journalled(self) -> tuple[Any, list[_Row | None]]:
        """The head of the journal and its rows; None stands for a row that says nothing."""
        try:
            with open(self.path / PROGRESS, "rb") as file:
                # What stands behind the last line break is a row that was being written.
                head, *rows = file.read().decode("utf-8", "replace").split("\n")[:-1] or [""]
        except OSError as error:
            raise InputError(f"{self.path / PROGRESS} cannot be read: {reason(error)}.") from None
        return _read(head), [_row(_read(row)) for row in rows]

    def _open_streams(self) -> None:
        for name in STREAMS:
            part = self.path / f"{name}.part"
            _unlink_foreign(part)
            handle = os.open(part, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o666)
            file = self._open.enter_context(os.fdopen(handle, "r+b"))
            file.truncate(self._sizes[name])
            file.seek(0, os.SEEK_END)
            self._files[name] = file

    # -- growing ---------------------------------------------------------------------------------------------

    def add(self, exercises: int, texts: Mapping[str, str], scores: Mapping[str, bytes]) -> None:
        """Add a batch: so many exercises, what is added to each stream, and scores by their names."""
        for name, data in scores.items():
            path = self.path / SCORES / name
            path.parent.mkdir(exist_ok=True)
            _unlink_foreign(path)
            with writing(path, "wb") as file:
                file.write(data)
        for name, text in texts.items():
            data = text.encode("utf-8")
            with naming(self.path / name):
                self._files[name].write(data)
                self._files[name].flush()
            self._sums[name].update(data)
            self._sizes[name] += len(data)
        self.done += exercises
        self.empty = False
        row = _Row(
            self.done,
            {name: (self._sizes[name], self._sums[name].hexdigest()) for name in STREAMS},
            {name: hashlib.sha256(data).hexdigest() for name, data in scores.items()},
        )
        with naming(self.path / PROGRESS):
            self._journal.write(row.text())
            self._journal.flush()

    def finish(self) -> None:
        """Bring all to the disk under its own name, and the journal away."""
        for name, file in self._files.items():
            part = self.path / f"{name}.part"
            if not self._sizes[name]:
                part.unlink(missing_ok=True)
                continue
            with naming(part):
                os.fsync(file.fileno())
            os.replace(part, self.path / name)
        sync_folder(self.path)
        (self.path / PROGRESS).unlink(missing_ok=True)
        sync_folder(self.path)


def _unlink_foreign(path: Path) -> None:
    """Remove a link or a pipe in the place of a file: what it leads to is not ours to write to."""
    if os.path.lexists(path) and not is_own_file(path):
        path.unlink()


def _json(data: Mapping[str, Any]) -> str:
    return json.dumps(data) + "\n"


def _read(text: str) -> Any:
    try:
        return json.loads(text, parse_int=whole)
    except (ValueError, RecursionError, InputError):
        return None


def _row(data: Any) -> _Row | None:
    try:
        streams = {name: (int(data["streams"][name][0]), str(data["streams"][name][1])) for name in STREAMS}
        scores = {str(name): str(found) for name, found in data["scores"].items()}
        row = _Row(int(data["done"]), streams, scores)
    except (AttributeError, KeyError, IndexError, TypeError, ValueError, OverflowError):
        return None
    return row if all(Path(name).name == name for name in scores) else None
