"""What is left of stock endings under way, as small integers, for the compiler to join to the body's moves.

Each note of an ending is the nearest of its degree to the note before it, so that the leaps between them are
the same whatever its first note is. A tail is therefore a *step* (a note's place in time, the leap to the
next, and the step after it) and the pitch on which it begins. Endings, and rests of endings, that sound alike
have one number, and a front need not know which of them it is in.
"""

from __future__ import annotations

from itertools import accumulate, pairwise

from everyline.rules.endings import PlacedEnding
from everyline.rules.ruleset import Rules
from everyline.solver.codes import PITCHES, Codes

OVER = -1
"""What is left after an ending's last note."""


class Tails:
    """The tails of one compilation; a tail's number is that of its step times 128 plus its first pitch."""

    def __init__(self, rules: Rules, codes: Codes) -> None:
        self._pitches = rules.pitches
        self._codes = codes
        self._starts: dict[tuple[int, int], tuple[int, ...]] = {}
        self._endings: dict[int, tuple[int, tuple[int, ...]]] = {}
        self._numbers: dict[tuple[int, int, int], int] = {}
        self._steps: list[tuple[int, int, int]] = []

    def starts(self, tick: int, pitch: int, endings: tuple[PlacedEnding, ...]) -> tuple[int, ...]:
        """The tails of these endings, which begin on a tick after a note of ``pitch``; all of it in range."""
        found = self._starts.get((tick, pitch))
        if found is None:
            tails = []
            for ending in endings:
                step, above = self._placed(ending)
                first = ending.notes[0].pitch_after(pitch)
                if self._pitches.issuperset([first + each for each in above]):
                    tails.append(step * PITCHES + first)
            found = self._starts[tick, pitch] = tuple(tails)
        return found

    def move(self, tail: int) -> tuple[int, int]:
        """(code of a tail's first event, the tail after it)."""
        step, pitch = divmod(tail, PITCHES)
        base, leap, rest = self._steps[step]
        return base + pitch * self._codes.semitone, OVER if rest == OVER else rest * PITCHES + pitch + leap

    def _placed(self, ending: PlacedEnding) -> tuple[int, tuple[int, ...]]:
        """(an ending's first step, how far each of its notes lies above the first)."""
        found = self._endings.get(id(ending))
        if found is None:
            notes = ending.notes
            leaps = [note.pitch_after(last.pitch_class) - last.pitch_class for last, note in pairwise(notes)]
            step = OVER
            for note, leap in zip(reversed(notes), [0, *reversed(leaps)], strict=True):
                key = (self._codes.base(note.onset, note.length), leap, step)
                step = self._numbers.setdefault(key, len(self._steps))
                if step == len(self._steps):
                    self._steps.append(key)
            found = self._endings[id(ending)] = (step, tuple(accumulate(leaps, initial=0)))
        return found
