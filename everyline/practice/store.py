"""The students' file: every student's folder, in one SQLite file on this machine (see ``database``).

Everything that changes the file is one transaction. What was taken back stays in it, marked; only ``forget``
takes anything out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

from everyline.corpora.errors import InputError, did_you_mean
from everyline.practice.copies import mark
from everyline.practice.database import Database, students_file
from everyline.practice.folder import (
    LINE_FIELDS,
    Entry,
    Folder,
    in_order,
    line_of,
    now,
    plain,
    round_of,
    student_name,
)
from everyline.practice.records import GivenLine, Practised, Student

T = TypeVar("T", GivenLine, Practised)

_LINES = ", ".join(f'line."{name}"' for name in LINE_FIELDS if name != "rules_text")


@dataclass(frozen=True, slots=True)
class Summary:
    """A student in a list of all: how many lines and rounds there are, and the day of the last round."""

    name: str
    instrument: str
    lines: int
    rounds: int
    last: date | None


@dataclass(frozen=True, slots=True)
class Giving:
    """What came of giving lines: those that are in the folder now, and those that were there already."""

    given: tuple[GivenLine, ...]
    already: tuple[GivenLine, ...]


class Store:
    """The folders of all students in a file. Use it in a ``with`` block, or close it."""

    def __init__(self, path: Path | None = None, create: bool = False) -> None:
        """Open the file (``students_file()`` unless one is named); with ``create`` make it where there is
        none. Raises InputError."""
        self._data = Database(students_file() if path is None else path, create)

    @property
    def path(self) -> Path:
        """The file."""
        return self._data.path

    @property
    def remark(self) -> str:
        """A sentence to be told of the file, such as that it is read only; or nothing."""
        return self._data.remark

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._data.close()

    # -- reading ---------------------------------------------------------------------------------------------

    def students(self) -> tuple[Summary, ...]:
        """All students, by name."""
        with self._data.reading():
            folders = [self._folder(name) for name in self._names()]
        found = []
        for folder in folders:
            student = folder.student
            last = student.rounds[-1].on if student.rounds else None
            found.append(
                Summary(student.name, student.instrument, len(student.lines), len(student.rounds), last)
            )
        return tuple(found)

    def student(self, name: str) -> Student:
        """A student's folder as it is used. Raises InputError for a name that there is not."""
        return self.folder(name).student

    def folder(self, name: str) -> Folder:
        """A student's whole folder, with what was taken back. Raises InputError."""
        with self._data.reading():
            return self._folder(self._known(name))

    def _names(self) -> list[str]:
        if not self._data.all("SELECT 1 FROM sqlite_master WHERE name = 'student'"):
            return []
        return [row["name"] for row in self._data.all("SELECT name FROM student ORDER BY name")]

    def _known(self, name: str) -> str:
        """The name as it is kept. Raises InputError for one that there is not."""
        wanted, names = student_name(name), self._names()
        if wanted not in names:
            raise InputError(
                f'there is no student "{wanted}" in {self.path}; everyline student "{wanted}" begin makes '
                f"one.{did_you_mean(wanted, names)}"
            )
        return wanted

    def _folder(self, name: str) -> Folder:
        ask = self._data.all
        (head,) = ask("SELECT * FROM student WHERE name = ?", name)
        lines = ask(
            f"SELECT {_LINES}, rule_file.text AS rules_text, changed, taken_back FROM line "
            "JOIN rule_file ON rule_file.mark = line.rule_file WHERE student = ? ORDER BY place",
            head["key"],
        )
        rounds = ask("SELECT * FROM round WHERE student = ?", head["key"])
        try:
            return Folder(
                head["name"],
                head["instrument"],
                head["changed"],
                tuple(Entry(line_of(row), row["changed"], bool(row["taken_back"])) for row in lines),
                in_order(Entry(round_of(row), row["changed"], bool(row["taken_back"])) for row in rounds),
            )
        except (InputError, ValueError, TypeError) as error:
            raise self._data.damaged(str(error).rstrip(".")) from None

    # -- changing --------------------------------------------------------------------------------------------

    def begin(self, name: str, instrument: str = "") -> bool:
        """Begin a folder, or say of one that is there which instrument the student plays. Answers whether
        it is new. Raises InputError."""
        wanted = student_name(name)
        with self._data.changing():
            is_new = wanted not in self._names()
            self._head(wanted, instrument, now())
        return is_new

    def _head(self, name: str, instrument: str, changed: str) -> int:
        self._data.connection.execute(
            "INSERT INTO student (name, instrument, changed) VALUES (?, ?, ?) "
            "ON CONFLICT (name) DO UPDATE SET instrument = excluded.instrument, changed = excluded.changed",
            (name, instrument, changed),
        )
        return self._key(name)

    def _key(self, name: str) -> int:
        return int(self._data.all("SELECT key FROM student WHERE name = ?", name)[0]["key"])

    def give(self, name: str, lines: Sequence[GivenLine], had: Iterable[str] | None = None) -> Giving | None:
        """Put lines at the end of a student's folder, in one go. A line that is there already stays as it is;
        one that was taken back is there again, at its old place.

        ``had`` are the tunes of the folder for which lines were drawn; where other ones are there by now
        nothing is done, and None says so. Raises InputError.
        """
        given, already = [], []
        with self._data.changing():
            key = self._key(self._known(name))
            rows = self._data.all(
                "SELECT id, tune, place, changed, taken_back FROM line WHERE student = ?", key
            )
            if had is not None and set(had) != {row["tune"] for row in rows if not row["taken_back"]}:
                return None
            known = {row["id"]: row for row in rows}
            last = max((row["place"] for row in rows), default=0)
            for line in dict.fromkeys(lines):
                row = known.get(line.id)
                if row is not None and not row["taken_back"]:
                    already.append(replace(line, place=row["place"]))
                    continue
                last += row is None
                kept = replace(line, place=last if row is None else row["place"])
                self._put_line(key, Entry(kept, now("" if row is None else row["changed"])))
                given.append(kept)
        return Giving(tuple(given), tuple(already))

    def record(self, name: str, practised: Practised) -> None:
        """Record a round. One that is there already (by its id) stays as it is. Raises InputError for a line
        that the student was not given."""
        ask = self._data.all
        with self._data.changing():
            known = self._known(name)
            key = self._key(known)
            line = "SELECT 1 FROM line WHERE student = ? AND id = ? AND NOT taken_back"
            if not ask(line, key, practised.line):
                raise InputError(f"{known} was given no line {practised.line}.")
            if not ask("SELECT 1 FROM round WHERE student = ? AND id = ?", key, practised.id):
                self._put_round(key, Entry(practised, now()))

    def take_back_line(self, name: str, place: int) -> GivenLine:
        """Take a line back, and with it the rounds on it. Raises InputError where there is none."""
        with self._data.changing():
            folder = self._folder(self._known(name))
            line = folder.student.line(place)
            (entry,) = (each for each in folder.lines if each.value is line)
            taken = replace(entry, changed=now(entry.changed), taken_back=True)
            self._put_line(self._key(folder.name), taken)
        return line

    def take_back_round(self, name: str, id: str | None = None) -> Practised:
        """Take back the round that was recorded last, or the one of an id. Raises InputError where there is
        none."""
        with self._data.changing():
            folder = self._folder(self._known(name))
            used = {each.id for each in folder.student.rounds}
            entries = [
                entry for entry in folder.rounds if entry.value.id in used and id in (None, entry.value.id)
            ]
            if not entries:
                raise InputError(f"{folder.name} has no round that could be taken back.")
            last = max(entries, key=lambda entry: (entry.changed, entry.value.id))
            self._put_round(self._key(folder.name), replace(last, changed=now(last.changed), taken_back=True))
        return last.value

    def merge(self, folder: Folder) -> tuple[int, int]:
        """Bring a copy of a folder into the student's own, which is begun where there is none: nothing is
        lost, nothing is there twice. Answers how many lines and rounds are new. Raises InputError."""
        with self._data.changing():
            there = folder.name in self._names()
            before = self._folder(folder.name) if there else Folder(folder.name, "", "")
            after = before.merged(folder)
            key = self._head(after.name, after.instrument, after.changed)
            known = {entry.value.id: entry for entry in before.lines}
            for line in after.lines:
                if known.get(line.value.id) != line:
                    self._put_line(key, line)
            recorded = {entry.value.id: entry for entry in before.rounds}
            for each in after.rounds:
                if recorded.get(each.value.id) != each:
                    self._put_round(key, each)
        old, new = before.student, after.student
        return len(new.lines) - len(old.lines), len(new.rounds) - len(old.rounds)

    def forget(self, name: str) -> None:
        """Take a student out of the file, for ever, and overwrite what was there. Raises InputError."""
        with self._data.changing():
            known = self._known(name)
            run = self._data.connection.execute
            run("DELETE FROM student WHERE name = ?", (known,))
            run("DELETE FROM rule_file WHERE mark NOT IN (SELECT rule_file FROM line)")

    def _put_line(self, student: int, entry: Entry[GivenLine]) -> None:
        row = plain(entry.value)
        text = row.pop("rules_text")
        row["rule_file"] = mark(text)
        self._data.connection.execute(
            "INSERT INTO rule_file (mark, text) VALUES (?, ?) ON CONFLICT (mark) DO NOTHING",
            (row["rule_file"], text),
        )
        self._put("line", student, row, entry)

    def _put_round(self, student: int, entry: Entry[Practised]) -> None:
        self._put("round", student, plain(entry.value), entry)

    def _put(self, table: str, student: int, row: dict[str, Any], entry: Entry[T]) -> None:
        more = {"student": student, "changed": entry.changed, "taken_back": entry.taken_back}
        self._data.insert(table, row | more)
