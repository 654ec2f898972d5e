"""The beat that a player kept: a smooth row of beats through the notes, and by how much each note is early or
late against it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LOOSE = 0.025
"""Seconds by which a note is early or late as a rule."""
DRIFT = 0.006
"""The part by which one beat is longer or shorter than the one before as a rule."""
OUTLYING = 2.5
"""How many times ``LOOSE`` a note has to be off for the beat to be drawn less to it."""
ROUNDS = 4


@dataclass(frozen=True, slots=True)
class Beats:
    """``times`` in seconds of beats ``first``, ``first`` + 1 and so on."""

    first: int
    times: NDArray[np.float64]

    def seconds(self, beat: float) -> float:
        """When a place in beats comes."""
        import numpy as np

        place = beat - self.first
        whole = int(np.clip(np.floor(place), 0, len(self.times) - 2))
        return float(self.times[whole] + (place - whole) * (self.times[whole + 1] - self.times[whole]))

    def beat(self, seconds: float) -> float:
        """The place in beats of a time."""
        import numpy as np

        whole = int(np.clip(np.searchsorted(self.times, seconds) - 1, 0, len(self.times) - 2))
        length = max(1e-6, float(self.times[whole + 1] - self.times[whole]))
        return self.first + whole + (seconds - float(self.times[whole])) / length

    def tempo(self, beat: float) -> float:
        """Beats a minute around a place."""
        return 120 / max(1e-6, self.seconds(beat + 1) - self.seconds(beat - 1))


def beats_through(times: Sequence[float], places: Sequence[float], period: float) -> Beats:
    """The beats of notes at times in seconds and places in beats; ``period`` is the length of a beat said.

    Least squares of how early and late the notes are and of how the beat changes its length, a smoothing
    spline of the second order (Whittaker, "On a new method of graduation", Proceedings of the Edinburgh
    Mathematical Society 41, 1923); notes far off weigh less (Huber's weights).
    """
    import numpy as np

    first = int(np.floor(min(places))) - 1
    count = int(np.ceil(max(places))) + 2 - first
    wholes = np.clip(np.floor(np.asarray(places) - first).astype(int), 0, count - 2)
    parts = np.asarray(places) - first - wholes
    heard = np.zeros((len(places), count))
    rows = np.arange(len(places))
    heard[rows, wholes], heard[rows, wholes + 1] = 1 - parts, parts
    bend = (np.eye(count, k=0)[:-2] - 2 * np.eye(count, k=1)[:-2] + np.eye(count, k=2)[:-2]) / (
        DRIFT * period
    )
    # One weak wish for the tempo that was said, which decides where there is too little to go by.
    said = (np.eye(count, k=1)[:1] - np.eye(count)[:1]) / (0.1 * period)
    wanted = np.concatenate([np.zeros(count - 2), [10.0]])
    weights = np.full(len(places), 1 / LOOSE)
    found = np.zeros(count)
    for _ in range(ROUNDS):
        system = np.vstack([heard * weights[:, None], bend, said])
        goal = np.concatenate([np.asarray(times) * weights, wanted])
        found = np.linalg.lstsq(system, goal, rcond=None)[0]
        off = np.abs(heard @ found - np.asarray(times))
        weights = np.minimum(1.0, np.sqrt(OUTLYING * LOOSE / np.maximum(off, 1e-9))) / LOOSE
    return Beats(first, found)
