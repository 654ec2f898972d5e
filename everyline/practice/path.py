"""The graded path: when a student is ready for the next rule file of the course, and which one it is.

The rule is simple so that it can be told to the student. A line is *in the hands* when it went clean on the
last two days on which it was played, by the last round of each day. The next rule file is proposed when
LINES lines of the present one are in the hands and none of its lines went "not yet" last. The present rule
file is the graded one from which the student was given a line last.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from everyline.corpora import Corpus, read_toml
from everyline.corpora.counted import plural
from everyline.corpora.rulefiles import RuleFileEntry
from everyline.practice.records import GivenLine, Grade, Student

LINES, DAYS = 4, 2
"""Lines that are to be in the hands, and days on which each is to go clean."""


def in_the_hands(student: Student, line: GivenLine) -> bool:
    """Whether a line went clean on the last DAYS days on which it was played."""
    last = {each.on: each.grade for each in student.rounds_on(line)}
    days = [last[day] for day in sorted(last)][-DAYS:]
    return len(days) == DAYS and all(grade is Grade.CLEAN for grade in days)


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a student stands on the path: the present rule file (None where no line comes from a graded one),
    its lines, those of them that are in the hands, and those that went "not yet" last."""

    present: RuleFileEntry | None
    lines: tuple[GivenLine, ...] = ()
    in_hands: tuple[GivenLine, ...] = ()
    not_yet: tuple[GivenLine, ...] = ()

    @property
    def is_ready(self) -> bool:
        """Whether the grades say that the next rule file may come."""
        return self.present is not None and len(self.in_hands) >= LINES and not self.not_yet

    @property
    def words(self) -> str:
        """Why, as a sentence."""
        if self.present is None:
            return "No line comes from a graded rule file yet; everyline corpus rulefiles lists them."
        of = f"{len(self.in_hands)} of {plural(len(self.lines), 'line')} of {self.present.name}"
        verb = "is" if len(self.in_hands) == 1 else "are"
        said = f"{of} {verb} in the hands (clean on the last {DAYS} days)"
        if self.not_yet:
            places = ", ".join(str(line.place) for line in self.not_yet)
            return f'{said}, and "not yet" was the last word on line {places}.'
        return f"{said}; {LINES} are asked for." if len(self.in_hands) < LINES else f"{said}."


def standing(student: Student, corpus: Corpus) -> Standing:
    """Where a student stands on the graded path of the corpora."""
    graded = {entry.name: entry for entry in corpus.rulefiles.values() if entry.level is not None}
    name = next((line.rules_name for line in reversed(student.lines) if line.rules_name in graded), None)
    if name is None:
        return Standing(None)
    lines = tuple(line for line in student.lines if line.rules_name == name)
    went = {line.id: student.rounds_on(line) for line in lines}
    return Standing(
        graded[name],
        lines,
        tuple(line for line in lines if in_the_hands(student, line)),
        tuple(line for line in lines if went[line.id] and went[line.id][-1].grade is Grade.NOT_YET),
    )


def onward(student: Student, present: RuleFileEntry, corpus: Corpus) -> Iterator[RuleFileEntry]:
    """The graded rule files after the present one that the student has no line from and that suit the
    instrument, in the order of the course."""
    graded = [entry for entry in corpus.rulefiles.values() if entry.level is not None]
    had = {line.rules_name for line in student.lines}
    after = next(place for place, entry in enumerate(graded, 1) if entry.name == present.name)
    return (entry for entry in graded[after:] if entry.name not in had and suits(student, entry))


def suits(student: Student, entry: RuleFileEntry) -> bool:
    """Whether a rule file can be played on the student's instrument: one that places the hand on a
    fingerboard is for the instrument that it names, any other for all."""
    place = _range(entry)
    return (
        place.keys() <= {"lowest", "highest", "instrument"} or place.get("instrument") == student.instrument
    )


def instrument_option(student: Student, entry: RuleFileEntry) -> str:
    """The option that puts a rule file's lines into the range of the student's instrument, where the file is
    not for that already."""
    if student.instrument in ("", _range(entry).get("instrument")):
        return ""
    return f" --instrument {student.instrument}"


def _range(entry: RuleFileEntry) -> dict[str, Any]:
    found = read_toml(entry.path).get("range")
    return dict(found) if isinstance(found, dict) else {}
