"""The students' file as a database: opened, checked and changed so that nothing in it is ever lost.

One SQLite file holds all students. It is kept with a rollback journal, and every change is brought to the
disk before it counts (``synchronous = EXTRA``), so that a program or machine that stops at any moment leaves
what was there before the change or after it; whoever opens the file next takes half a change back. Of the
two ways in which SQLite does that this is the one that leaves a single file behind, which can be copied, and
which may lie on a drive of another machine. Programs that change the file at the same time wait for each
other.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from everyline.corpora.errors import NO_ROOM, InputError
from everyline.files.data_folder import data_folder

if TYPE_CHECKING:
    import sqlite3

STUDENTS = "EVERYLINE_STUDENTS"
"""Environment variable that names the students' file."""
SECONDS_TO_WAIT = 30.0
"""How long a change waits for other programs that are changing the file."""

VERSION = 1
"""Raised when the tables change; stands in the file as its ``user_version``."""
APPLICATION = 0x45564C4E
"""What tells the file from other SQLite files: its ``application_id``, ``EVLN`` in letters."""

TABLES = (
    """CREATE TABLE student (
        key INTEGER PRIMARY KEY,
        name TEXT NOT NULL UNIQUE,
        instrument TEXT NOT NULL,
        changed TEXT NOT NULL
    )""",
    "CREATE TABLE rule_file (mark TEXT PRIMARY KEY, text TEXT NOT NULL) WITHOUT ROWID",
    """CREATE TABLE line (
        student INTEGER NOT NULL REFERENCES student (key) ON DELETE CASCADE,
        id TEXT NOT NULL,
        place INTEGER NOT NULL,
        title TEXT NOT NULL,
        tune TEXT NOT NULL,
        notes TEXT NOT NULL,
        rules_name TEXT NOT NULL,
        rule_file TEXT NOT NULL REFERENCES rule_file (mark),
        fingerprint TEXT NOT NULL,
        number TEXT,
        strangeness INTEGER,
        given TEXT NOT NULL,
        "key" TEXT NOT NULL,
        beats INTEGER NOT NULL,
        instrument TEXT NOT NULL,
        level INTEGER,
        altered INTEGER NOT NULL,
        changed TEXT NOT NULL,
        taken_back INTEGER NOT NULL,
        PRIMARY KEY (student, id),
        UNIQUE (student, place)
    ) WITHOUT ROWID""",
    """CREATE TABLE round (
        student INTEGER NOT NULL,
        id TEXT NOT NULL,
        line TEXT NOT NULL,
        "on" TEXT NOT NULL,
        "key" TEXT NOT NULL,
        kind TEXT NOT NULL,
        tempo INTEGER,
        grade TEXT NOT NULL,
        changed TEXT NOT NULL,
        taken_back INTEGER NOT NULL,
        PRIMARY KEY (student, id),
        FOREIGN KEY (student, line) REFERENCES line (student, id) ON DELETE CASCADE
    ) WITHOUT ROWID""",
    "CREATE INDEX round_line ON round (student, line)",
    "CREATE INDEX line_rule_file ON line (rule_file)",
)

LONGEST_WHY = 120
PRAGMAS = ("synchronous = EXTRA", "foreign_keys = ON", "secure_delete = ON", "trusted_schema = OFF")
"""How each connection is set."""

_BUSY, _LOCKED, _READ_ONLY, _IO, _FULL, _CANNOT_OPEN = 5, 6, 8, 10, 13, 14


def students_file() -> Path:
    """Where the students' file is unless another is named: what STUDENTS in the environment says, else
    ``students.db`` in our data folder."""
    named = os.environ.get(STUDENTS)
    return Path(named) if named else data_folder() / "students.db"


class Database:
    """An open students' file. ``remark`` is a sentence to be told, or nothing; ``can_change`` says whether
    the file may be changed."""

    def __init__(self, path: Path, create: bool = False) -> None:
        """Open the file; with ``create`` make it where there is none. Raises InputError where it is none or
        cannot be opened."""
        self.path = path
        self.remark = ""
        self.can_change = True
        self._begun = False
        if create:
            _make(path)
        elif not path.exists():
            raise InputError(
                f"there is no students' file {path} yet; everyline student NAME begin makes one, or name "
                "another with --file."
            )
        if not path.is_file():
            raise InputError(f"{path} is no file, so it holds no students; name another with --file.")
        with self._said():
            self.connection = self._connected()
        try:
            with self._said():
                for pragma in PRAGMAS:
                    self._patiently(f"PRAGMA {pragma}")
                self._look(create)
        except BaseException:
            self.connection.close()
            raise

    def _connected(self, in_memory: bool = False) -> sqlite3.Connection:
        import sqlite3

        self.can_change = in_memory or os.access(self.path, os.W_OK)
        mode = "rw" if self.can_change else "ro"
        place = "file::memory:" if in_memory else f"{self.path.absolute().as_uri()}?mode={mode}"
        # Waiting is ours, in short steps, so that Ctrl-C ends it.
        found = sqlite3.connect(place, uri=True, timeout=0.1, isolation_level=None)
        found.row_factory = sqlite3.Row
        return found

    def _look(self, create: bool) -> None:
        """See whether it is a file of ours, and of which version; with ``create`` a new one gets its
        tables."""
        with self.reading():
            version, whose, tables = self._state()
        if not tables and not whose and not version:
            if not create:  # a file that is only read stays as it is, and empty
                self.connection.close()
                self.connection = self._connected(in_memory=True)
            if self.can_change:
                self._lay_out()
            return
        if whose != APPLICATION:
            raise InputError(f"{self.path} is a database, but no students' file; name another with --file.")
        if version > VERSION:
            self.can_change = False
            self.connection.execute("PRAGMA query_only = ON")
            self.remark = (
                f"{self.path} was written by a newer Everyline (format {version}; this one knows {VERSION}), "
                "so it is read and not changed."
            )

    def _state(self) -> tuple[int, int, int]:
        ask = self.connection.execute
        version, whose = (ask(f"PRAGMA {name}").fetchone()[0] for name in ("user_version", "application_id"))
        return version, whose, ask("SELECT count(*) FROM sqlite_master").fetchone()[0]

    def _lay_out(self) -> None:
        with self.changing():
            if self._state() != (0, 0, 0):  # another program was quicker
                return
            for table in TABLES:
                self.connection.execute(table)
            self.connection.execute(f"PRAGMA application_id = {APPLICATION}")
            self.connection.execute(f"PRAGMA user_version = {VERSION}")

    def close(self) -> None:
        """Close the file."""
        self.connection.close()

    # -- reading and changing --------------------------------------------------------------------------------

    @contextmanager
    def reading(self) -> Iterator[None]:
        """Inside the block the file is as it was when it was entered, whatever others do."""
        with self._said():
            self._patiently("BEGIN")
            try:
                self._patiently("SELECT count(*) FROM sqlite_master")
                yield
            finally:
                self._leave()

    @contextmanager
    def changing(self) -> Iterator[None]:
        """Inside the block nobody else changes the file; all that is changed counts when the block ends well,
        and nothing of it where it does not. Raises InputError where the file may not be changed."""
        if not self.can_change:
            raise InputError(
                self.remark or f"{self.path} may be read and not changed: it is write-protected."
            )
        with self._said():
            self._patiently("BEGIN IMMEDIATE")
            try:
                self._whole()
                yield
                self._patiently("COMMIT")
            finally:
                self._leave()

    def _whole(self) -> None:
        """Raises InputError where pages or rows are damaged, so that nothing is written into such a file."""
        found = self.connection.execute("PRAGMA quick_check(1)").fetchone()[0]
        if found != "ok":
            raise self.damaged(" ".join(str(found).split()).removeprefix("*** in database main *** "))

    def _leave(self) -> None:
        """End the transaction that is open, without what it would change."""
        import sqlite3

        if self.connection.in_transaction:
            with suppress(sqlite3.Error):
                self.connection.execute("ROLLBACK")

    def _patiently(self, statement: str) -> None:
        import sqlite3

        until = time.monotonic() + SECONDS_TO_WAIT
        while True:
            try:
                self.connection.execute(statement).fetchall()
                return
            except sqlite3.OperationalError as error:
                if _code(error) not in (_BUSY, _LOCKED) or time.monotonic() > until:
                    raise

    def all(self, question: str, *values: Any) -> list[Any]:
        """The rows that answer a question."""
        return self.connection.execute(question, values).fetchall()

    def insert(self, table: str, row: dict[str, Any]) -> None:
        """Put a row into a table, in place of the one with its key."""
        names = ", ".join(f'"{name}"' for name in row)
        signs = ", ".join("?" * len(row))
        keys = "student, id"
        others = ", ".join(f'"{name}" = excluded."{name}"' for name in row if name not in ("student", "id"))
        self.connection.execute(
            f"INSERT INTO {table} ({names}) VALUES ({signs}) ON CONFLICT ({keys}) DO UPDATE SET {others}",
            tuple(row.values()),
        )

    @contextmanager
    def _said(self) -> Iterator[None]:
        """What the database complains of as one sentence."""
        import sqlite3

        try:
            yield
        except sqlite3.Error as error:
            raise self._complaint(error) from None
        except UnicodeDecodeError as error:  # a name in its tables, in a file that was spoiled
            raise self.damaged(error.reason) from None

    def _complaint(self, error: sqlite3.Error) -> Exception:
        import sqlite3

        code = _code(error)
        if isinstance(error, sqlite3.ProgrammingError | sqlite3.InterfaceError):
            return error  # a slip of ours
        if code in (_BUSY, _LOCKED):
            return InputError(
                f"{self.path} is being changed by another program; nothing was changed here, ask again when "
                "it is done."
            )
        if code == _FULL:
            return OSError(NO_ROOM[0], os.strerror(NO_ROOM[0]), str(self.path))
        if code in (_READ_ONLY, _CANNOT_OPEN, _IO):
            return InputError(f"{self.path} cannot be opened or written to ({error}); nothing was changed.")
        return self.damaged(str(error))

    def damaged(self, why: str) -> InputError:
        """What is said of a file that is not as we write it."""
        why = "".join(sign if sign.isprintable() else " " for sign in why)[:LONGEST_WHY]
        if self.remark:
            return InputError(f"{self.remark.removesuffix('.')}; it cannot be read either ({why}).")
        return InputError(
            f"{self.path} is damaged or no students' file ({why}); put a copy of it in its place, or begin "
            "anew and import the JSON files that were exported."
        )


def _code(error: sqlite3.Error) -> int:
    """The plain code of what the database says, without its finer shades."""
    return int(getattr(error, "sqlite_errorcode", 0)) & 0xFF


def _make(path: Path) -> None:
    """An empty file that only its owner reads, where it is not there yet; and our own folder for it."""
    if path.parent == data_folder():
        path.parent.mkdir(parents=True, exist_ok=True)
    with suppress(FileExistsError):
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
