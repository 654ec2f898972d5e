"""What every move answers, and what all of them need to know of a chord.

A move starts from a chord tone. It is asked two things that do not depend on each other: what the rules
remember after it (``after``), and which notes it may play from a pitch (``firsts``).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import NamedTuple, Protocol

from everyline.rules.chords import Chord
from everyline.rules.front import FIGURE, FILL, Firsts, Moment, Tone
from everyline.rules.ruleset import Rules


class Bounds(NamedTuple):
    """Least and most of something that may begin in a chord, and the number beyond which counting tells
    nothing apart."""

    least: int
    most: int
    told: int

    @classmethod
    def of(cls, bounds: tuple[int, int], notes: int) -> Bounds:
        """The bounds in a chord in which at most ``notes`` notes begin."""
        least, most = bounds
        return cls(least, most, least if most >= notes else max(least, most))

    def one_more(self, count: int) -> int | None:
        """The count after one more, or None where that is too many."""
        return min(count + 1, self.told) if count < self.most else None


class Shared(NamedTuple):
    """The rules that bear on the moves in every chord: range, directions of a run and whether it may skip a
    rung, handoff rule, the steps of the figures, degrees of targets in semitones (None for all chord tones),
    reach in semitones, kinds of passing notes."""

    pitches: frozenset[int]
    directions: tuple[int, ...]
    handoff: str
    figures: tuple[tuple[str, ...], ...]
    targets: frozenset[int] | None
    reach: int
    passing: tuple[str, ...]


class Ground:
    """A chord with its scale and the rules that bear on the moves in it.

    Moves keep here what they have worked out, for as long as the process runs, so that whoever changes one
    rule and asks again does not wait for the rest.
    """

    def __init__(self, chord: Chord, scale: tuple[int, ...], shared: Shared) -> None:
        self.chord = chord
        self.scale = scale
        self.shared = shared
        self._known: dict[tuple[object, ...], Firsts] = {}

    def known(self, key: tuple[object, ...], work_out: Callable[[], Firsts]) -> Firsts:
        """What was worked out under a key; the first time it is worked out."""
        found = self._known.get(key)
        if found is None:
            found = self._known[key] = work_out()
        return found


@lru_cache(maxsize=256)
def ground(chord: Chord, scale: tuple[int, ...], shared: Shared) -> Ground:
    """The ground of a chord; the same object for the same chord and rules."""
    return Ground(chord, scale, shared)


def grounds(rules: Rules) -> list[Ground]:
    """The ground of each chord of a progression."""
    approach = rules.approach
    shared = Shared(
        rules.pitches,
        tuple(rules.arpeggio.directions),
        rules.handoff,
        tuple(figure.steps for figure in approach.figures),
        approach.targets,
        approach.reach,
        tuple(sorted(rules.passing.kinds)),
    )
    chords = zip(rules.progression.chords, rules.scales, strict=True)
    return [ground(chord, scale, shared) for chord, scale in chords]


class Move(Protocol):
    """One way to go on from a chord tone.

    ``kind`` is that of a move under way, ``across`` says that it lands on the first onset of the next chord.
    """

    kind: int
    across: bool

    def may_begin(self, moment: Moment) -> bool:
        """Whether it may begin with a note at this moment, whatever came before."""

    def after(self, tone: Tone, chord: int) -> Tone | None:
        """What is remembered once the move has landed, as if the chord stayed; None where it may not
        begin."""

    def firsts(self, moment: Moment, pitch: int) -> Firsts:
        """The first notes that it may play after ``pitch``, each with what is then left of it."""


__all__ = ["FIGURE", "FILL", "Bounds", "Ground", "Move", "Shared", "grounds"]
