"""A student's line judged by a teacher's rules: valid or not, why, and which valid lines are nearest."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from everyline.corpora.counted import plural
from everyline.reading import ReadLine, read_line
from everyline.reading.fitted import is_file
from everyline.rules.analysis import UNKNOWN_ENDING, Analysis
from everyline.rules.annotate import AnnotatedLine, annotate
from everyline.rules.breaches import Verdict, judge
from everyline.rules.limits.base import place
from everyline.rules.line import Events
from everyline.rules.ruleset import Rules
from everyline.solver.repair import (
    ADDED,
    CHANGED,
    LEFT_OUT,
    Change,
    Repair,
    nearest_by_onset,
    nearest_by_order,
)
from everyline.spaces.space import Space


@dataclass(frozen=True, slots=True)
class Mended:
    """A valid line near the one checked: the repair, the line with its analysis, each change in words."""

    repair: Repair
    line: AnnotatedLine
    words: tuple[str, ...]

    @property
    def summary(self) -> str:
        """How far it is: ``2 notes changed, 1 added``."""
        kinds = [change.kind for change in self.repair.changes]
        counts = [(kinds.count(kind), kind) for kind in (CHANGED, ADDED, LEFT_OUT) if kind in kinds]
        said = ", ".join(
            f"{plural(count, 'note') if not at else count} {kind}" for at, (count, kind) in enumerate(counts)
        )
        if self.repair.lengths:
            more = f"{plural(len(self.repair.lengths), 'length')} changed"
            said = f"{said}, {more}" if said else f"no note changed, {more}"
        return said or "the same notes"


@dataclass(frozen=True, slots=True)
class Report:
    """What is to be said of a line. ``number`` is its number when it is valid; ``line`` its notes with the
    reading found (None where it has no notes)."""

    space: Space
    events: Events
    remarks: tuple[str, ...]
    verdict: Verdict
    number: int | None
    line: AnnotatedLine | None
    by_onset: tuple[Mended, ...]
    by_order: tuple[Mended, ...]

    @property
    def valid(self) -> bool:
        """Whether the line breaks no rule."""
        return self.verdict.valid

    def where(self, index: int | None) -> str:
        """The place of a note in words, or that of the line as a whole."""
        if index is None:
            return "the whole line"
        return place(self.space.rules.progression, self.events[index].onset)

    def as_row(self) -> dict[str, Any]:
        """The report as one row of data; notes are counted from 1, ticks are 480 to a beat."""
        return {
            "valid": self.valid,
            "number": self.number,
            "remarks": list(self.remarks),
            "breaches": [
                {
                    "rule": breach.rule,
                    "note": None if breach.index is None else breach.index + 1,
                    "tick": None if breach.index is None else self.events[breach.index].onset,
                    "place": self.where(breach.index),
                    "message": breach.message,
                }
                for breach in self.verdict.breaches
            ],
            "explained": self.verdict.explained,
            "ending": self.line.ending if self.line else None,
            "notes": self.line.as_row()["notes"] if self.line else [],
            "nearest_by_onset": [_row(each) for each in self.by_onset],
            "nearest_by_order": [_row(each) for each in self.by_order],
        }


def _row(mended: Mended) -> dict[str, Any]:
    row = mended.line.as_row()
    row["changes"] = [
        {
            "kind": change.kind,
            "given": None if change.given is None else change.given + 1,
            "found": None if change.found is None else change.found + 1,
            "words": words,
        }
        for change, words in zip(mended.repair.changes, mended.words, strict=False)
    ]
    row["semitones"] = mended.repair.semitones
    row["lengths_changed"] = [index + 1 for index in mended.repair.lengths]
    return row


def check(space: Space, source: str | Path | ReadLine, nearest: int = 3) -> Report:
    """Judge a line given as text, as a file, or as read; ``nearest`` valid lines by each measure are added
    to an invalid one. Raises InputError for what cannot be read."""
    read = source if isinstance(source, ReadLine) else read_line(source, space.rules)
    remarks = (*read.remarks, *_pitch_taken(source, space.rules))
    events, verdict = likeliest(space, read.candidates)
    number = space.diagram.number(events) if verdict.valid else None
    by_onset: tuple[Mended, ...] = ()
    by_order: tuple[Mended, ...] = ()
    line = as_read(space, events, verdict, number)
    if not verdict.valid and nearest:
        own = tuple(note.name for note in line.notes) if line else ()
        by_onset = tuple(
            _mended(space, events, own, islice(nearest_by_onset(space.diagram, events), nearest))
        )
        by_order = tuple(
            _mended(space, events, own, islice(nearest_by_order(space.diagram, events), nearest))
        )
    return Report(space, events, remarks, verdict, number, line, by_onset, by_order)


def _pitch_taken(source: str | Path | ReadLine, rules: Rules) -> tuple[str, ...]:
    """That notes typed for a transposing instrument were taken at sounding pitch."""
    instrument = rules.instrument
    if not isinstance(source, str) or instrument is None or instrument.transposition % 12 == 0:
        return ()
    if is_file(source):
        return ()
    return (f"the notes were taken as they sound, not as written for the {instrument.name}.",)


def likeliest(space: Space, candidates: Iterable[Events]) -> tuple[Events, Verdict]:
    """The candidate with the fewest breaches, the first of those, and what is to be said of it."""
    best: tuple[Events, Verdict] | None = None
    for events in candidates:
        verdict = judge(space.rules, events)
        if best is None or len(verdict.breaches) < len(best[1].breaches):
            best = events, verdict
        if verdict.valid:
            break
    assert best is not None, "what can be read has a candidate"
    return best


def as_read(space: Space, events: Events, verdict: Verdict, number: int | None) -> AnnotatedLine | None:
    """The line with its analysis or, where it has none, with the reading that has the fewest faults."""
    if verdict.analysis is not None:
        return annotate(space.rules, events, number, verdict.analysis)
    if verdict.reading is None:
        return None
    reading = verdict.reading
    return annotate(
        space.rules, events, None, Analysis(reading.roles, reading.figures, reading.ending or UNKNOWN_ENDING)
    )


def _mended(space: Space, events: Events, own: tuple[str, ...], found: Iterable[Repair]) -> Iterator[Mended]:
    for repair in found:
        line = space.line(repair.number)
        words = [_words(space, events, own, line, change) for change in repair.changes]
        for index in repair.lengths:
            note = line.notes[index]
            where = place(space.rules.progression, note.onset)
            words.append(f"{where}: {note.name} lasts {plural(note.length / 480, 'beat')}")
        yield Mended(repair, line, tuple(words))


def _words(space: Space, events: Events, own: tuple[str, ...], line: AnnotatedLine, change: Change) -> str:
    """One change in words: ``bar 1, beat 2: Bb4 in place of B4``."""
    progression = space.rules.progression
    if change.found is None:
        assert change.given is not None
        return f"{place(progression, events[change.given].onset)}: {own[change.given]} left out"
    note = line.notes[change.found]
    where = place(progression, note.onset)
    if change.given is None:
        return f"{where}: {note.name} added"
    return f"{where}: {note.name} in place of {own[change.given]}"
