"""The limit on where a line lies on a fretboard."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any, ClassVar

from everyline.corpora.counted import plural
from everyline.rules.acceptor import Breach, Notes, State
from everyline.rules.limits.base import named, on_strings
from everyline.rules.line import Note
from everyline.rules.progression import Progression
from everyline.rules.ranges import Fretboard


@dataclass(frozen=True, slots=True)
class Playable:
    """There is one position in which every note can be fretted on the named strings.

    A position is ``span`` frets from its lowest one, ``fret``; where none is named any will do. Fret 0, the
    open string, is a fret like the others. ``strings`` count from the highest, 1. State: a bit for each
    position still possible.
    """

    kind: ClassVar[str] = "playable"
    fretboard: Fretboard
    strings: tuple[int, ...]
    fret: int | None
    span: int
    progression: Progression

    @property
    def frets(self) -> tuple[int, ...]:
        """Every lowest fret that is looked at; a hand beyond the last fret reaches nothing more."""
        highest = max(0, self.fretboard.frets - self.span + 1)
        return (self.fret,) if self.fret is not None else tuple(range(highest + 1))

    def start(self) -> State:
        return sum(1 << fret for fret in self.frets)

    def step(self, state: Any, note: Note) -> State | None:
        return state & _positions(self.fretboard, self.strings, self.span, note.pitch) or None

    def content(self, state: Any) -> bool:
        return True

    def _frettable(self, pitch: int, lowest: int) -> bool:
        """Whether the pitch lies on a named string within the position."""
        return any(
            lowest <= pitch - self.fretboard.open[string - 1] < lowest + self.span
            and pitch - self.fretboard.open[string - 1] <= self.fretboard.frets
            for string in self.strings
        )

    def positions(self, notes: Notes) -> tuple[int, ...]:
        """The lowest frets of every position in which the whole line can be played."""
        return tuple(fret for fret in self.frets if all(self._frettable(note.pitch, fret) for note in notes))

    def holds(self, notes: Notes) -> bool:
        return bool(self.positions(notes))

    def _frets_text(self, lowest: int) -> str:
        return self.fretboard.frets_text(lowest, self.span)

    def describe(self) -> str:
        where = f"one position of {plural(self.span, 'fret')}"
        if self.fret is not None:
            where = f"one position, {self._frets_text(self.fret)}"
        strings = "" if set(self.strings) == set(self.fretboard.strings) else f", {on_strings(self.strings)}"
        return f"every note lies in {where}{strings}, on the {self.fretboard.name}"

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        if self.holds(notes):
            return ()
        # The position that holds the most notes says best what is wrong.
        best = max(self.frets, key=lambda fret: sum(self._frettable(note.pitch, fret) for note in notes))
        where = f"{self._frets_text(best)}, {on_strings(self.strings)}"
        if self.fret is None:
            where += ", the position that holds most of the line; none holds all of it"
        return tuple(
            Breach(
                self.kind,
                f"{named(self.progression, note)} cannot be fretted on the {self.fretboard.name} at {where}.",
                index,
            )
            for index, note in enumerate(notes)
            if not self._frettable(note.pitch, best)
        )


@cache
def _positions(fretboard: Fretboard, strings: tuple[int, ...], span: int, pitch: int) -> int:
    """A bit for every lowest fret from which the pitch can be fretted."""
    bits = 0
    for string in strings:
        fret = pitch - fretboard.open[string - 1]
        if 0 <= fret <= fretboard.frets:
            for lowest in range(max(0, fret - span + 1), fret + 1):
                bits |= 1 << lowest
    return bits
