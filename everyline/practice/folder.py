"""A student's whole folder: what stands in it, what was taken back, and how two copies of it become one.

Each entry carries the moment at which it last changed. Where two copies differ in an entry, the one that
changed later counts; so copies come together to the same folder whichever is merged into which, and as often
as one likes. What was taken back stays there, marked, so that an older copy does not bring it back.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from datetime import UTC, date, datetime, timedelta
from typing import Any, Generic, TypeVar

from everyline.corpora.errors import InputError
from everyline.corpora.numbers import whole
from everyline.practice.records import GivenLine, Grade, Kind, Practised, Student

T = TypeVar("T", GivenLine, Practised)


def now(after: str = "") -> str:
    """This moment in UTC, as entries carry it; later moments are later texts too. It is later than ``after``,
    whatever this machine's clock or that of another one says."""
    moment = datetime.now(UTC)
    if after:
        moment = max(moment, datetime.fromisoformat(after) + timedelta(microseconds=1))
    return moment.isoformat(timespec="microseconds")


@dataclass(frozen=True, slots=True)
class Entry(Generic[T]):
    """A line or a round in a folder, with the moment at which it last changed."""

    value: T
    changed: str
    taken_back: bool = False

    def later(self, other: Entry[T]) -> Entry[T]:
        """The one of two that changed later; of two that changed at once always the same one."""
        return max(self, other, key=lambda each: (each.changed, each.taken_back, repr(_unplaced(each.value))))


def _unplaced(value: GivenLine | Practised) -> list[Any]:
    return [getattr(value, each.name) for each in fields(value) if each.name != "place"]


@dataclass(frozen=True, slots=True)
class Folder:
    """All of one student: lines by place, rounds by day and, within a day, by the moment of recording."""

    name: str
    instrument: str
    changed: str
    lines: tuple[Entry[GivenLine], ...] = ()
    rounds: tuple[Entry[Practised], ...] = ()

    @property
    def student(self) -> Student:
        """The folder as it is used: without what was taken back, and without the rounds on such lines."""
        lines = tuple(entry.value for entry in self.lines if not entry.taken_back)
        there = {line.id for line in lines}
        rounds = (entry.value for entry in self.rounds if not entry.taken_back)
        return Student(
            self.name, lines, tuple(each for each in rounds if each.line in there), self.instrument
        )

    def merged(self, other: Folder) -> Folder:
        """This folder with all that another copy of it knows. Lines keep their places here where they have
        one; where another line has the place, the newcomer gets the next that is free."""
        latest = max(self, other, key=lambda each: (each.changed, each.instrument))
        rounds = _together(self.rounds, other.rounds)
        return Folder(
            self.name,
            latest.instrument,
            latest.changed,
            placed(self.lines, _together(self.lines, other.lines)),
            in_order(rounds),
        )


def _together(ours: Iterable[Entry[T]], theirs: Iterable[Entry[T]]) -> list[Entry[T]]:
    found: dict[str, Entry[T]] = {entry.value.id: entry for entry in ours}
    for entry in theirs:
        known = found.get(entry.value.id)
        found[entry.value.id] = entry if known is None else known.later(entry)
    return list(found.values())


def placed(
    before: Iterable[Entry[GivenLine]], entries: Iterable[Entry[GivenLine]]
) -> tuple[Entry[GivenLine], ...]:
    """Entries by place. Those that were there ``before`` keep their places; others keep theirs where it is
    free, else they get the next after all."""
    places = {entry.value.id: entry.value.place for entry in before}
    taken = set(places.values())
    found = []
    for entry in sorted(entries, key=lambda each: (each.value.place, each.value.given, each.value.id)):
        place = places.get(entry.value.id, entry.value.place)
        if entry.value.id not in places:
            if place < 1 or place in taken:
                place = max(taken, default=0) + 1
            taken.add(place)
        found.append(replace(entry, value=replace(entry.value, place=place)))
    return tuple(sorted(found, key=lambda each: each.value.place))


def in_order(rounds: Iterable[Entry[Practised]]) -> tuple[Entry[Practised], ...]:
    """Rounds by day and, within a day, by the moment of recording."""
    return tuple(sorted(rounds, key=lambda each: (each.value.on, each.changed, each.value.id)))


# -- entries as plain values, for the database and for JSON --------------------------------------------------

LINE_FIELDS = tuple(each.name for each in fields(GivenLine))
ROUND_FIELDS = tuple(each.name for each in fields(Practised))


def plain(value: GivenLine | Practised) -> dict[str, Any]:
    """A record as text, whole numbers, true and false, and None. A line's number is text: it may be longer
    than databases and other programs' readers of JSON can hold."""
    row = {each.name: getattr(value, each.name) for each in fields(value)}
    for name, each in row.items():
        if isinstance(each, date):
            row[name] = each.isoformat()
        elif isinstance(each, Kind | Grade):
            row[name] = each.value
    if isinstance(value, GivenLine) and value.number is not None:
        row["number"] = str(value.number)
    return row


def line_of(row: Mapping[str, Any]) -> GivenLine:
    """The line in a row that ``plain`` made. Raises InputError or ValueError for anything else."""
    number = row["number"]
    return GivenLine(
        **{
            **{name: row[name] for name in LINE_FIELDS},
            "number": None if number is None else whole(number),
            "given": date.fromisoformat(row["given"]),
            "altered": bool(row["altered"]),
        }
    )


def round_of(row: Mapping[str, Any]) -> Practised:
    """The round in a row that ``plain`` made. Raises InputError or ValueError for anything else."""
    return Practised(
        **{
            **{name: row[name] for name in ROUND_FIELDS},
            "on": date.fromisoformat(row["on"]),
            "kind": Kind(row["kind"]),
            "grade": Grade(row["grade"]),
        }
    )


LONGEST_NAME = 80


def student_name(text: str) -> str:
    """A student's name as it is kept: in one way of writing accents, one blank between words. Raises
    InputError for a text that is no name."""
    name = " ".join(unicodedata.normalize("NFC", text).split())
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        raise InputError(
            f"{text[:LONGEST_NAME]!r} is no name for a student; write 1 to {LONGEST_NAME} letters or signs."
        )
    return name
