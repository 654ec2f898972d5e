"""Approach: a figure of notes around a chord tone, on which it lands on a beat."""

from __future__ import annotations

from everyline.rules.front import FIGURE, Firsts, Left, Moment, Tone, by_first_note
from everyline.rules.ladder import figure_pitches, handoffs
from everyline.rules.moves.base import Bounds, Ground
from everyline.rules.ruleset import Rules

Runs = dict[int, tuple[Left, ...]]
"""For each target, the figures that land on it, the target last."""


class ApproachMove:
    """Figures that land in the chord they begin in, or (``across``) on the first note of the next one."""

    kind = FIGURE

    def __init__(self, rules: Rules, grounds: list[Ground], bounds: list[Bounds], across: bool) -> None:
        self.across = across
        self._grounds = grounds
        self._bounds = bounds
        self._wait = rules.approach.after
        self._reach = rules.approach.reach

    def may_begin(self, moment: Moment) -> bool:
        """Where notes without a rest lead to a beat, in this chord or onto the next."""
        return bool(moment.across if self.across else moment.inside)

    def after(self, tone: Tone, chord: int) -> Tone | None:
        """What is remembered on the target: it is an anchor, and the first chord tone since itself."""
        figures = self._bounds[chord].one_more(tone.figures)
        if figures is None or tone.since < self._wait:
            return None
        return Tone(0, 0, 0, figures, tone.fills, min(1, self._wait), tone.met)

    def firsts(self, moment: Moment, pitch: int) -> Firsts:
        """The first notes of figures within reach."""
        return self._onto_next(moment, pitch) if self.across else self._inside(moment, pitch)

    def opening(self, moment: Moment) -> Firsts:
        """The first notes of figures with which a line may begin: nothing comes before them."""
        ground, sizes = self._grounds[moment.chord], moment.inside
        return ground.known(
            ("figures", sizes),
            lambda: by_first_note(
                left for size in sizes for runs in placed(ground, size).values() for left in runs
            ),
        )

    def _inside(self, moment: Moment, pitch: int) -> Firsts:
        ground = self._grounds[moment.chord]

        def near() -> Firsts:
            every = self.opening(moment)
            return {first: every[first] for first in self._near(pitch) if first in every}

        return ground.known(("figures near", moment.inside, pitch), near)

    def _onto_next(self, moment: Moment, pitch: int) -> Firsts:
        ground = self._grounds[moment.chord + 1]

        def near() -> Firsts:
            shared = ground.shared
            legal = handoffs(shared.handoff, pitch, ground.chord, shared.reach)
            every = by_first_note(
                left
                for size in moment.across
                for target in legal
                for left in placed(ground, size).get(target, ())
            )
            return {first: every[first] for first in self._near(pitch) if first in every}

        return ground.known(("figures onto", moment.across, pitch), near)

    def _near(self, pitch: int) -> list[int]:
        return [each for each in range(pitch - self._reach, pitch + self._reach + 1) if each != pitch]


def placed(ground: Ground, size: int) -> Runs:
    """Every figure of ``size`` notes that lands in a chord, all of it in range."""
    chord, shared = ground.chord, ground.shared
    root = chord.root_class
    shapes = [steps for steps in shared.figures if len(steps) == size]
    found: Runs = {}
    for target in shared.pitches if shapes else ():
        wanted = shared.targets is None or (target - root) % 12 in shared.targets
        if wanted and target % 12 in chord.tone_classes:
            notes = {figure_pitches(steps, target, root, ground.scale) for steps in shapes}
            if inside := tuple((*each, target) for each in notes if shared.pitches.issuperset(each)):
                found[target] = inside
    return found
