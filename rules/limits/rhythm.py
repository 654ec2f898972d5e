"""Limits on the rhythm: how often a pattern is heard, how many notes there are, how many silences."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, ClassVar

from everyline.corpora.counted import plural
from everyline.rules.acceptor import Breach, Notes, State
from everyline.rules.limits.base import named, place, times, within
from everyline.rules.line import TICKS_PER_BEAT, Note
from everyline.rules.progression import Progression

MET = -2
NEVER = -(10**9)
"""When the note before the first one ended: there is silence before it."""


def _kept(count: int, least: int | None, most: int | None) -> int | None:
    """A count no further than it matters, or None where it is too high already."""
    if most is None:
        return min(count, least or 0)
    return count if count <= most else None


@dataclass(frozen=True, slots=True)
class NoteCount:
    """The line has ``least`` to ``most`` notes. State: how many there were, no further than it matters."""

    kind: ClassVar[str] = "notes"
    least: int | None
    most: int | None
    progression: Progression

    def start(self) -> State:
        return 0

    def step(self, state: Any, note: Note) -> State | None:
        return _kept(state + 1, self.least, self.most)

    def content(self, state: Any) -> bool:
        return bool(state >= (self.least or 0))

    def holds(self, notes: Notes) -> bool:
        return (self.least or 0) <= len(notes) and (self.most is None or len(notes) <= self.most)

    def describe(self) -> str:
        return f"the line has {within(self.least, self.most, 'note')}"

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        if self.holds(notes):
            return ()
        over = self.most if self.most is not None and len(notes) > self.most else None
        message = (
            f"the line has {plural(len(notes), 'note')}; asked for: {within(self.least, self.most, 'note')}."
        )
        return (Breach(self.kind, message, over),)


@dataclass(frozen=True, slots=True)
class Rests:
    """There are ``least`` to ``most`` silences between two notes.

    State: (silences so far, no further than it matters, end of the last note).
    """

    kind: ClassVar[str] = "rests"
    least: int | None
    most: int | None
    progression: Progression

    def start(self) -> State:
        return (0, None)

    def step(self, state: Any, note: Note) -> State | None:
        if isinstance(state, int):
            return state
        count, end = state
        count = _kept(count + (end is not None and end < note.onset), self.least, self.most)
        if count is None:
            return None
        return MET if self.most is None and count >= (self.least or 0) else (count, note.end)

    def content(self, state: Any) -> bool:
        return isinstance(state, int) or bool(state[0] >= (self.least or 0))

    def _silences(self, notes: Notes) -> list[int]:
        """The places of the notes that follow a silence."""
        return [index for index, (a, b) in enumerate(pairwise(notes), 1) if a.end < b.onset]

    def holds(self, notes: Notes) -> bool:
        count = len(self._silences(notes))
        return (self.least or 0) <= count and (self.most is None or count <= self.most)

    def describe(self) -> str:
        return f"between the notes there {_are(within(self.least, self.most, 'rest'))}"

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        if self.holds(notes):
            return ()
        found = self._silences(notes)
        places = ", ".join(f"before {named(self.progression, notes[index])}" for index in found)
        message = (
            f"{plural(len(found), 'rest')} between the notes{f': {places}' if places else ''}; asked for: "
            f"{within(self.least, self.most, 'rest')}."
        )
        over = found[self.most] if self.most is not None and len(found) > self.most else None
        return (Breach(self.kind, message, over),)


def _are(words: str) -> str:
    return f"{'are' if words.endswith('s') else 'is'} {words}"


Begun = tuple[int, int]
"""A beat from which on the pattern may be heard, and how many of its notes have been."""


@dataclass(frozen=True, slots=True)
class RhythmPattern:
    """From ``least`` to ``most`` beats on, exactly the pattern of onsets, lengths and silences is heard.

    ``sounds`` are (ticks from the beat, length) of the pattern's notes, ``ticks`` its whole length. Before
    the first note and after the last there is silence. State: (times heard, end of the notes so far, the
    beats from which on it may yet be heard).
    """

    kind: ClassVar[str] = "rhythm"
    text: str
    sounds: tuple[tuple[int, int], ...]
    ticks: int
    least: int | None
    most: int | None
    progression: Progression

    def start(self) -> State:
        return self._settled(0, NEVER, ())

    def _settled(self, count: int, end: int, begun: Iterable[Begun]) -> State | None:
        kept = _kept(count, self.least, self.most)
        if kept is None:
            return None
        if self.most is None and kept >= (self.least or 0):
            return MET
        return (kept, end if self.sounds[0][0] else NEVER, tuple(begun))

    def step(self, state: Any, note: Note) -> State | None:
        if isinstance(state, int):
            return state
        count, end, begun = state
        beat = note.onset - self.sounds[0][0]
        if beat % TICKS_PER_BEAT == 0 and end <= beat:
            begun = (*begun, (beat, 0))
        still = []
        for beat, done in begun:
            if done == len(self.sounds):
                count += beat + self.ticks <= note.onset
            elif self.sounds[done] == (note.onset - beat, note.length):
                if done + 1 == len(self.sounds) and beat + self.ticks <= note.end:
                    count += 1
                else:
                    still.append((beat, done + 1))
        return self._settled(count, note.end, still)

    def content(self, state: Any) -> bool:
        if isinstance(state, int):
            return True
        count = state[0] + sum(done == len(self.sounds) for _, done in state[2])
        return (self.least or 0) <= count and (self.most is None or count <= self.most)

    def _heard(self, notes: Notes) -> Iterator[tuple[int, int]]:
        """Each beat (in ticks) from which on the pattern is heard, with the place of its first note."""
        if not notes:
            return
        first = (notes[0].onset - self.ticks) // TICKS_PER_BEAT * TICKS_PER_BEAT
        for beat in range(first, max(note.end for note in notes), TICKS_PER_BEAT):
            inside = [
                index
                for index, note in enumerate(notes)
                if note.onset < beat + self.ticks and note.end > beat
            ]
            sounds = tuple((notes[index].onset - beat, notes[index].length) for index in inside)
            if sounds == self.sounds:
                yield beat, inside[0]

    def holds(self, notes: Notes) -> bool:
        count = sum(1 for _ in self._heard(notes))
        return (self.least or 0) <= count and (self.most is None or count <= self.most)

    def describe(self) -> str:
        return f"the rhythm {self.text} is heard {times(self.least, self.most)}"

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        if self.holds(notes):
            return ()
        heard = list(self._heard(notes))
        places = "; ".join(f"from {place(self.progression, beat)}" for beat, _ in heard)
        where = f" ({places})" if places else ""
        message = (
            f"the rhythm {self.text} is heard {plural(len(heard), 'time')}{where}; asked for: "
            f"{times(self.least, self.most)}."
        )
        over = heard[self.most][1] if self.most is not None and len(heard) > self.most else None
        return (Breach(self.kind, message, over),)
