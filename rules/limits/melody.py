"""Limits on the melody alone: leaps, compass, turns, peaks, repeated pitches, patterns of intervals."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Any, ClassVar

from everyline.corpora.counted import plural
from everyline.rules.acceptor import Breach, Notes, State
from everyline.rules.limits.base import named, note_name, place, times
from everyline.rules.line import Note
from everyline.rules.progression import Progression

START = -1
MET = -2


def _interval(before: Note, after: Note) -> int:
    return after.pitch - before.pitch


@dataclass(frozen=True, slots=True)
class LargestLeap:
    """No two neighbouring notes are more than ``semitones`` apart. State: the last pitch."""

    kind: ClassVar[str] = "largest-leap"
    semitones: int
    progression: Progression

    def start(self) -> State:
        return START

    def step(self, state: Any, note: Note) -> State | None:
        if state != START and abs(note.pitch - state) > self.semitones:
            return None
        return note.pitch

    def content(self, state: Any) -> bool:
        return True

    def holds(self, notes: Notes) -> bool:
        return all(abs(_interval(a, b)) <= self.semitones for a, b in pairwise(notes))

    def describe(self) -> str:
        return f"no leap is larger than {plural(self.semitones, 'semitone')}"

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        return tuple(
            Breach(
                self.kind,
                f"{named(self.progression, a)} to {named(self.progression, b)} is a leap of "
                f"{plural(abs(_interval(a, b)), 'semitone')}; the largest allowed is {self.semitones}.",
                index,
            )
            for index, (a, b) in enumerate(pairwise(notes), 1)
            if abs(_interval(a, b)) > self.semitones
        )


@dataclass(frozen=True, slots=True)
class Ambitus:
    """Highest minus lowest pitch is at most ``semitones``. State: (lowest, highest)."""

    kind: ClassVar[str] = "ambitus"
    semitones: int
    progression: Progression

    def start(self) -> State:
        return ()

    def step(self, state: Any, note: Note) -> State | None:
        low, high = min((note.pitch, *state[:1])), max((note.pitch, *state[1:]))
        return None if high - low > self.semitones else (low, high)

    def content(self, state: Any) -> bool:
        return True

    def holds(self, notes: Notes) -> bool:
        pitches = [note.pitch for note in notes]
        return not pitches or max(pitches) - min(pitches) <= self.semitones

    def describe(self) -> str:
        return f"from the lowest to the highest note there are at most {plural(self.semitones, 'semitone')}"

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        if self.holds(notes):
            return ()
        low = min(notes, key=lambda note: note.pitch)
        high = max(notes, key=lambda note: note.pitch)
        later = max(low, high, key=lambda note: note.onset)
        message = (
            f"from {named(self.progression, low)} up to {named(self.progression, high)} there are "
            f"{plural(high.pitch - low.pitch, 'semitone')}; the compass allowed is {self.semitones}."
        )
        return (Breach(self.kind, message, notes.index(later)),)


@dataclass(frozen=True, slots=True)
class DirectionChanges:
    """The melody turns ``least`` to ``most`` times; a repeated note is no turn.

    State: (last pitch, direction 1, 0 or -1, turns so far), the turns counted no further than they matter.
    """

    kind: ClassVar[str] = "direction-changes"
    least: int | None
    most: int | None
    progression: Progression

    def start(self) -> State:
        return self._settled(START, 0, 0)

    def _settled(self, pitch: int, direction: int, turns: int) -> State:
        if self.most is None and turns >= (self.least or 0):
            return MET
        return (pitch, direction, turns)

    def step(self, state: Any, note: Note) -> State | None:
        if isinstance(state, int):
            return MET
        pitch, direction, turns = state
        moved = 0 if pitch == START else (note.pitch > pitch) - (note.pitch < pitch)
        if moved and direction and moved != direction:
            turns += 1
        if self.most is not None and turns > self.most:
            return None
        return self._settled(note.pitch, moved or direction, turns)

    def content(self, state: Any) -> bool:
        return isinstance(state, int) or state[2] >= (self.least or 0)

    def _turns(self, notes: Notes) -> list[int]:
        """The places of the notes at which the melody turns: the last note before it goes the other way."""
        moves = [
            (index, _interval(a, b)) for index, (a, b) in enumerate(pairwise(notes)) if a.pitch != b.pitch
        ]
        return [index for (_, before), (index, after) in pairwise(moves) if (before > 0) != (after > 0)]

    def holds(self, notes: Notes) -> bool:
        turns = len(self._turns(notes))
        return (self.least or 0) <= turns and (self.most is None or turns <= self.most)

    def describe(self) -> str:
        return f"the melody changes direction {times(self.least, self.most)}"

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        if self.holds(notes):
            return ()
        turns = self._turns(notes)
        places = ", ".join(named(self.progression, notes[index]) for index in turns)
        message = (
            f"the melody changes direction {plural(len(turns), 'time')}{f', at {places}' if places else ''}; "
            f"asked for: {times(self.least, self.most)}."
        )
        over = turns[self.most] if self.most is not None and len(turns) > self.most else None
        return (Breach(self.kind, message, over),)


@dataclass(frozen=True, slots=True)
class SinglePeak:
    """The highest pitch occurs once. State: (highest pitch, whether only once)."""

    kind: ClassVar[str] = "single-peak"
    progression: Progression

    def start(self) -> State:
        return (START, True)

    def step(self, state: Any, note: Note) -> State | None:
        highest, _ = state
        if note.pitch > highest:
            return (note.pitch, True)
        return (highest, False) if note.pitch == highest else state

    def content(self, state: Any) -> bool:
        return bool(state[1])

    def holds(self, notes: Notes) -> bool:
        pitches = [note.pitch for note in notes]
        return not pitches or pitches.count(max(pitches)) == 1

    def describe(self) -> str:
        return "the highest note is heard only once"

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        if self.holds(notes):
            return ()
        highest = max(note.pitch for note in notes)
        peaks = [index for index, note in enumerate(notes) if note.pitch == highest]
        places = "; ".join(place(self.progression, notes[index].onset) for index in peaks)
        name = note_name(self.progression, notes[peaks[0]])
        message = (
            f"the highest note, {name}, is heard {plural(len(peaks), 'time')} ({places}); once is allowed."
        )
        return (Breach(self.kind, message, peaks[1]),)


@dataclass(frozen=True, slots=True)
class NoReturn:
    """No pitch occurs twice within ``notes`` successive notes. State: the last ``notes`` - 1 pitches."""

    kind: ClassVar[str] = "no-return"
    notes: int
    progression: Progression

    def start(self) -> State:
        return ()

    def step(self, state: Any, note: Note) -> State | None:
        return None if note.pitch in state else (*state, note.pitch)[1 - self.notes :]

    def content(self, state: Any) -> bool:
        return True

    def _returns(self, notes: Notes) -> Iterator[tuple[int, int]]:
        """Each note that comes back too soon, as (first index, second index)."""
        for second, note in enumerate(notes):
            for first in range(max(0, second - self.notes + 1), second):
                if notes[first].pitch == note.pitch:
                    yield first, second

    def holds(self, notes: Notes) -> bool:
        windows = [notes[first : first + self.notes] for first in range(len(notes))]
        return all(len({note.pitch for note in window}) == len(window) for window in windows)

    def describe(self) -> str:
        return f"no pitch comes back within {self.notes} successive notes"

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        return tuple(
            Breach(
                self.kind,
                f"{named(self.progression, notes[first])} comes back at "
                f"{place(self.progression, notes[second].onset)}, within {second - first + 1} notes; "
                f"within {self.notes} no pitch may come back.",
                second,
            )
            for first, second in self._returns(notes)
        )


@dataclass(frozen=True, slots=True)
class Standing:
    """Of any ``notes`` successive notes, highest minus lowest is at least ``semitones``.

    State: the last pitches from which on no such distance has been reached.
    """

    kind: ClassVar[str] = "standing"
    notes: int
    semitones: int
    progression: Progression

    def start(self) -> State:
        return ()

    def step(self, state: Any, note: Note) -> State | None:
        pitches: tuple[int, ...] = (*state, note.pitch)
        while pitches and max(pitches) - min(pitches) >= self.semitones:
            pitches = pitches[1:]
        return pitches if len(pitches) < self.notes else None

    def content(self, state: Any) -> bool:
        return True

    def _stands(self, notes: Notes) -> Iterator[int]:
        """The first of any so many notes (index) that stay too close together."""
        for first in range(len(notes) - self.notes + 1):
            pitches = [note.pitch for note in notes[first : first + self.notes]]
            if max(pitches) - min(pitches) < self.semitones:
                yield first

    def holds(self, notes: Notes) -> bool:
        return next(self._stands(notes), None) is None

    def describe(self) -> str:
        return f"any {self.notes} notes in a row reach over {plural(self.semitones, 'semitone')} at least"

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        return tuple(
            Breach(
                self.kind,
                f"from {named(self.progression, notes[first])} on, {self.notes} notes stay within "
                f"{plural(self.semitones - 1, 'semitone')}; asked for: {self.semitones} at least.",
                first + self.notes - 1,
            )
            for first in self._stands(notes)
        )


@cache
def _failure(pattern: tuple[int, ...]) -> tuple[int, ...]:
    """Per number of intervals matched, how many still match when the next one does not.

    The prefix function of Knuth, Morris and Pratt, Fast Pattern Matching in Strings, 1977.
    """
    table = [0, 0]
    for index in range(1, len(pattern)):
        length = table[index]
        while length and pattern[length] != pattern[index]:
            length = table[length]
        table.append(length + (pattern[length] == pattern[index]))
    return tuple(table)


def _matched(pattern: tuple[int, ...], length: int, interval: int) -> int:
    """How many intervals of the pattern match after one more; ``length`` may be the whole pattern."""
    table = _failure(pattern)
    while length == len(pattern) or (length and pattern[length] != interval):
        length = table[length]
    return length + (pattern[length] == interval)


def _occurrences(pattern: tuple[int, ...], notes: Notes) -> list[int]:
    """Every note (index) on which the sequence of intervals is complete."""
    intervals = tuple(_interval(a, b) for a, b in pairwise(notes))
    size = len(pattern)
    return [end for end in range(size, len(notes)) if intervals[end - size : end] == pattern]


def _signed(pattern: tuple[int, ...]) -> str:
    return " ".join(f"{interval:+d}" if interval else "0" for interval in pattern)


@dataclass(frozen=True, slots=True)
class ForbidIntervals:
    """The sequence of signed semitones never occurs in a row. State: (last pitch, intervals matched)."""

    kind: ClassVar[str] = "forbid-intervals"
    intervals: tuple[int, ...]
    progression: Progression

    def start(self) -> State:
        return (START, 0)

    def step(self, state: Any, note: Note) -> State | None:
        pitch, length = state
        length = 0 if pitch == START else _matched(self.intervals, length, note.pitch - pitch)
        return None if length == len(self.intervals) else (note.pitch, length)

    def content(self, state: Any) -> bool:
        return True

    def holds(self, notes: Notes) -> bool:
        return not _occurrences(self.intervals, notes)

    def describe(self) -> str:
        return f"the intervals {_signed(self.intervals)} (semitones) never occur in a row"

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        return tuple(
            Breach(
                self.kind,
                f"the intervals {_signed(self.intervals)} occur in a row, from "
                f"{named(self.progression, notes[end - len(self.intervals)])} to "
                f"{named(self.progression, notes[end])}.",
                end,
            )
            for end in _occurrences(self.intervals, notes)
        )


@dataclass(frozen=True, slots=True)
class RequireIntervals:
    """The sequence of signed semitones occurs somewhere. State: (last pitch, intervals matched), or met."""

    kind: ClassVar[str] = "require-intervals"
    intervals: tuple[int, ...]
    progression: Progression

    def start(self) -> State:
        return (START, 0)

    def step(self, state: Any, note: Note) -> State | None:
        if isinstance(state, int):
            return MET
        pitch, length = state
        length = 0 if pitch == START else _matched(self.intervals, length, note.pitch - pitch)
        return MET if length == len(self.intervals) else (note.pitch, length)

    def content(self, state: Any) -> bool:
        return bool(state == MET)

    def holds(self, notes: Notes) -> bool:
        return bool(_occurrences(self.intervals, notes))

    def describe(self) -> str:
        return f"the intervals {_signed(self.intervals)} (semitones) occur in a row at least once"

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        if self.holds(notes):
            return ()
        message = f"the intervals {_signed(self.intervals)} are to occur in a row and do so nowhere."
        return (Breach(self.kind, message),)
