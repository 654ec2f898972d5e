"""What is known of a student's practice: the lines that were given, and every round on one of them.

All values are immutable and stand on the standard library alone. A line is kept with its notes and with the
text of its rule file, so that nothing that happens to rule files or corpora later changes it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import Enum

from everyline.corpora.errors import InputError

SLOWEST, FASTEST = 20, 400
"""Beats a minute that a round may have been played at."""


class Kind(Enum):
    """What is done with a line in a round; the value is what it is called."""

    PLAY = "play"
    COMPLETE = "complete"
    CONTINUE = "continue"
    SLIP = "find the slip"
    HEAR = "hear and find"


class Grade(Enum):
    """How a round went, from worst to best; the value is what it is called."""

    NOT_YET = "not yet"
    WITH_SLIPS = "with slips"
    CLEAN = "clean"


@dataclass(frozen=True, slots=True)
class GivenLine:
    """A line that a student was given.

    ``id`` names the line in every copy of the folder: equal notes under equal rules have one id. ``place``
    is its number in the student's folder, from 1, never given twice; 0 before it is in one. ``tune`` is what
    it has in common with its copies in other octaves and keys (``everyline.practice.copies``). ``notes`` is
    the line as ``everyline.rules.line_text`` reads it, always with its start in front
    (``@1 D4 F4 A4 C5:4``). ``rules_text`` is the rule file in full, in the key of the notes; ``rules_name``
    is the name in the corpora or the path that it was read from, ``altered`` says whether options changed
    what was read, and ``fingerprint`` is that of its rules then. ``number`` and ``strangeness`` (sixteenths
    of a bit under the default taste) are those of the line under these rules, None where it is not one of
    their lines. ``key`` is the key of the rule file, ``beats`` how many beats its progression lasts.
    ``instrument`` is the instrument of the rules, "" where they name none; ``level`` (1 to 5) that of the
    rule file in the corpora, None where it has none.
    """

    id: str
    place: int
    title: str
    notes: str
    rules_name: str
    rules_text: str
    fingerprint: str
    number: int | None
    strangeness: int | None
    given: date
    key: str
    beats: int
    instrument: str = ""
    level: int | None = None
    altered: bool = False
    tune: str = ""


@dataclass(frozen=True, slots=True)
class Practised:
    """A round on a line: ``line`` is the id of a GivenLine, ``key`` the key that it was played in, ``tempo``
    the beats a minute that were reached, None where no tempo was kept. ``id`` names the round in every copy
    of the folder."""

    id: str
    line: str
    on: date
    key: str
    kind: Kind
    tempo: int | None
    grade: Grade

    def __post_init__(self) -> None:
        """Raises InputError for a tempo that nobody plays at."""
        if self.tempo is not None and not SLOWEST <= self.tempo <= FASTEST:
            raise InputError(f"a tempo of {self.tempo}: write {SLOWEST} to {FASTEST} beats a minute.")


@dataclass(frozen=True, slots=True)
class Student:
    """A student's folder: the lines in the order in which they were given, the rounds in the order of their
    dates (those of one day as they were recorded)."""

    name: str
    lines: tuple[GivenLine, ...] = ()
    rounds: tuple[Practised, ...] = ()
    instrument: str = ""

    def line(self, place: int) -> GivenLine:
        """The line of that number in the folder. Raises InputError where there is none."""
        for each in self.lines:
            if each.place == place:
                return each
        there = ", ".join(str(each.place) for each in self.lines[-10:]) or "none yet"
        raise InputError(f"{self.name} has no line {place}; the last ones given are {there}.")

    def rounds_on(self, line: GivenLine) -> tuple[Practised, ...]:
        """The rounds on one line, in the order of their dates."""
        return tuple(each for each in self.rounds if each.line == line.id)
