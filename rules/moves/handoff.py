"""Handoff: from the last chord tone of a chord to the first note of the next."""

from __future__ import annotations

from everyline.rules.front import FILL, Firsts, Moment, Tone
from everyline.rules.ladder import handoffs
from everyline.rules.moves.arpeggio import LANDED
from everyline.rules.moves.base import Ground
from everyline.rules.ruleset import Rules


class Handoff:
    """A move straight into the new chord."""

    kind, across = FILL, True

    def __init__(self, rules: Rules, grounds: list[Ground]) -> None:
        self._grounds = grounds
        self._since = rules.approach.after

    def may_begin(self, moment: Moment) -> bool:
        """On the first onset of a chord."""
        return moment.fresh

    def after(self, tone: Tone, chord: int) -> Tone | None:
        """What is remembered on the new chord's first note."""
        since = min(tone.since + 1, self._since)
        return Tone(0, 0, 0, tone.figures, tone.fills, since, tone.met)

    def firsts(self, moment: Moment, pitch: int) -> Firsts:
        """The notes that may open the chord of this moment."""
        ground = self._grounds[moment.chord]

        def opening() -> Firsts:
            shared = ground.shared
            notes = handoffs(shared.handoff, pitch, ground.chord, shared.reach)
            return {note: LANDED for note in notes if note in shared.pitches}

        return ground.known(("handoff", pitch), opening)
