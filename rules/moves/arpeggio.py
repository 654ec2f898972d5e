"""Arpeggio: from a chord tone to the next rung of the ladder, up or down, or over one rung."""

from __future__ import annotations

from collections.abc import Iterator

from everyline.rules.front import FILL, Firsts, Moment, Tone
from everyline.rules.ladder import rung
from everyline.rules.moves.base import Ground
from everyline.rules.ruleset import Rules

LANDED = frozenset(((),))
"""What is left of a move whose first note is its last."""


class Run:
    """What the rules remember along a run of chord tones: direction, turns, skips."""

    def __init__(self, rules: Rules, notes: int) -> None:
        self.turns, self.skips = rules.arpeggio.turns, rules.arpeggio.skips
        self.since = rules.approach.after
        self._told_turns = self.turns < notes
        self._told_skips = self.skips < notes

    def onward(self, tone: Tone, direction: int, skipped: bool) -> Tone | None:
        """The tone after one move of a run; None where it would turn or skip too often."""
        turns = tone.turns + (tone.run == -direction)
        skips = tone.skips + skipped
        if turns > self.turns or skips > self.skips:
            return None
        return tone._replace(
            run=direction if self._told_turns else 0,
            turns=turns if self._told_turns else 0,
            skips=skips if self._told_skips else 0,
            since=min(tone.since + 1, self.since),
        )


class ArpeggioMove:
    """One rung, or two at once, in one direction."""

    kind, across = FILL, False

    def __init__(self, grounds: list[Ground], run: Run, direction: int, rungs: int) -> None:
        self._grounds = grounds
        self._run = run
        self._direction = direction
        self._rungs = rungs

    def may_begin(self, moment: Moment) -> bool:
        """Anywhere but on the first onset of a chord."""
        return not moment.fresh

    def after(self, tone: Tone, chord: int) -> Tone | None:
        """What is remembered after the move."""
        return self._run.onward(tone, self._direction, self._rungs == 2)

    def firsts(self, moment: Moment, pitch: int) -> Firsts:
        """The chord tone reached, where it is in range."""
        ground = self._grounds[moment.chord]

        def reached() -> Firsts:
            at = pitch
            for _ in range(self._rungs):
                at = rung(ground.chord, at, self._direction)
            return {at: LANDED} if at in ground.shared.pitches else {}

        return ground.known(("arpeggio", pitch, self._direction, self._rungs), reached)


def arpeggios(rules: Rules, grounds: list[Ground], run: Run) -> Iterator[ArpeggioMove]:
    """Each direction that runs may take, with and without a skip."""
    for direction in rules.arpeggio.directions:
        yield ArpeggioMove(grounds, run, direction, 1)
        if rules.arpeggio.skips:
            yield ArpeggioMove(grounds, run, direction, 2)
