"""Passing notes: a move to the next rung, or into the next chord, filled with the notes between."""

from __future__ import annotations

from collections.abc import Iterator

from everyline.rules.front import FILL, Firsts, Left, Moment, Tone, by_first_note
from everyline.rules.ladder import handoffs, rung
from everyline.rules.moves.arpeggio import Run
from everyline.rules.moves.base import Bounds, Ground
from everyline.rules.ruleset import Rules

KINDS = ("scale", "chromatic")


def between(kind: str, ground: Ground, pitch: int, goal: int) -> Left:
    """The passing notes of a kind strictly between two pitches, in order from the first."""
    way = 1 if goal > pitch else -1
    passed = range(pitch + way, goal, way)
    if kind == "chromatic":
        return tuple(passed)
    root = ground.chord.root_class
    return tuple(each for each in passed if (each - root) % 12 in ground.scale)


def passing_kinds(ground: Ground, pitch: int, notes: Left) -> tuple[str, ...]:
    """The kinds in use that fill a move from ``pitch`` with these notes, its goal last."""
    return tuple(
        kind for kind in ground.shared.passing if between(kind, ground, pitch, notes[-1]) == notes[:-1]
    )


def _fillings(ground: Ground, pitch: int, goal: int, sizes: frozenset[int]) -> Iterator[Left]:
    """The ways to fill a move, each with its goal last; two kinds that give the same notes are one."""
    pitches = ground.shared.pitches
    for notes in {between(kind, ground, pitch, goal) for kind in ground.shared.passing}:
        if len(notes) in sizes and goal in pitches and pitches.issuperset(notes):
            yield (*notes, goal)


class FilledArpeggio:
    """A move to the next rung with passing notes."""

    kind, across = FILL, False

    def __init__(self, grounds: list[Ground], bounds: list[Bounds], run: Run, direction: int) -> None:
        self._grounds = grounds
        self._bounds = bounds
        self._run = run
        self._direction = direction

    def may_begin(self, moment: Moment) -> bool:
        """Where notes without a rest lead on in the chord."""
        return bool(moment.filled)

    def after(self, tone: Tone, chord: int) -> Tone | None:
        """What is remembered on the chord tone that the move leads to."""
        fills = self._bounds[chord].one_more(tone.fills)
        moved = self._run.onward(tone, self._direction, False)
        return None if fills is None or moved is None else moved._replace(fills=fills)

    def firsts(self, moment: Moment, pitch: int) -> Firsts:
        """The first passing note of each filling."""
        ground = self._grounds[moment.chord]

        def filled() -> Firsts:
            goal = rung(ground.chord, pitch, self._direction)
            return by_first_note(_fillings(ground, pitch, goal, moment.filled))

        key = ("filled arpeggio", pitch, self._direction, moment.filled)
        return ground.known(key, filled)


class FilledHandoff:
    """A handoff with passing notes in the old chord, none of whose chord tones lies between."""

    kind, across = FILL, True

    def __init__(self, rules: Rules, grounds: list[Ground], bounds: list[Bounds]) -> None:
        self._grounds = grounds
        self._bounds = bounds
        self._since = rules.approach.after

    def may_begin(self, moment: Moment) -> bool:
        """Where notes without a rest lead into the next chord."""
        return bool(moment.filled_across)

    def after(self, tone: Tone, chord: int) -> Tone | None:
        """What is remembered on the new chord's first note."""
        fills = self._bounds[chord].one_more(tone.fills)
        since = min(tone.since + 1, self._since)
        return None if fills is None else Tone(0, 0, 0, tone.figures, fills, since, tone.met)

    def firsts(self, moment: Moment, pitch: int) -> Firsts:
        """The first passing note of each filling."""
        ground, ahead = self._grounds[moment.chord], self._grounds[moment.chord + 1]

        def filled() -> Firsts:
            shared = ground.shared
            up, down = (rung(ground.chord, pitch, way) for way in (1, -1))
            goals = handoffs(shared.handoff, pitch, ahead.chord, shared.reach)
            return by_first_note(
                left
                for goal in goals
                if down <= goal <= up
                for left in _fillings(ground, pitch, goal, moment.filled_across)
            )

        key = ("filled handoff", pitch, ahead.chord, moment.filled_across)
        return ground.known(key, filled)
