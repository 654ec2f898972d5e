"""Single readings of a line: one analysis of the notes so far at a time, with the role that it gives to each.

A front keeps all readings together, which is what counting needs. Whoever wants to know what a note *is*
follows them one by one; both come from the same moves.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from everyline.rules.anatomy import Anatomy
from everyline.rules.front import FIGURE, Front, Left, Moment, singles
from everyline.rules.moves.roles import Role
from everyline.rules.moves.table import landing_role, way_role
from everyline.rules.rhythm import Step


class Taken(NamedTuple):
    """A note as one reading takes it: the number of the reading after it, the note's role, and, where a move
    of several notes begins on it, the kind of that move, whether it lands in the next chord, and all its
    notes, the one it lands on last."""

    reading: int
    role: Role
    kind: int = FIGURE
    across: bool = False
    opens: Left = ()


class Readings:
    """The readings of lines under some rules, numbered as they are met; each way on is worked out once."""

    def __init__(self, anatomy: Anatomy) -> None:
        self.anatomy = anatomy
        self.fronts: list[Front] = []
        self._numbers: dict[Front, int] = {}
        self._onward: dict[tuple[Moment, int], dict[int, list[Taken]]] = {}

    def number(self, front: Front) -> int:
        """The number of a single reading."""
        found = self._numbers.get(front)
        if found is None:
            found = self._numbers[front] = len(self.fronts)
            self.fronts.append(front)
        return found

    def begin(self, step: Step) -> dict[int, list[Taken]]:
        """For each first pitch of a line that begins with a step, the ways to take it."""
        return {
            pitch: [
                Taken(self.number(single), Role.ENTRY) if single.tones else self._opening(pitch, single)
                for single in singles(front)
            ]
            for pitch, front in self.anatomy.entries(step).items()
        }

    def after(self, moment: Moment, reading: int) -> dict[int, list[Taken]]:
        """For each pitch that may come next, the ways to take it after a reading."""
        found = self._onward.get((moment, reading))
        if found is None:
            before = self.fronts[reading]
            found = self._onward[moment, reading] = {
                pitch: [self._taken(moment, before, pitch, single) for single in singles(front)]
                for pitch, front in self.anatomy.moves(moment, before).items()
            }
        return found

    def _taken(self, moment: Moment, before: Front, pitch: int, single: Front) -> Taken:
        if single.pending and before.tones:
            return self._opening(pitch, single)
        number = self.number(single)
        kind = next((course.kind for course, _ in before.pending), FIGURE)
        if single.pending:
            return Taken(number, way_role(kind))
        return Taken(number, landing_role(kind, bool(before.pending), moment.fresh))

    def _opening(self, pitch: int, single: Front) -> Taken:
        ((course, ((*left,),)),) = single.pending
        return Taken(self.number(single), way_role(course.kind), course.kind, course.across, (pitch, *left))

    def steps(self, line: tuple[tuple[int, int, int], ...]) -> Iterator[Step]:
        """The steps of the rhythm along a line's events, as far as it goes; those of an ending are none."""
        steps: tuple[Step, ...] = self.anatomy.rhythm.entries
        for onset, _, length in line:
            step = next((each for each in steps if each.onset == onset and each.length == length), None)
            if step is None:
                return
            yield step
            steps = self.anatomy.rhythm.nodes[step.node].steps
