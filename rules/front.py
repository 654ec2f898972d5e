"""Fronts: all readings of a line that are open after some notes; and the moments at which they move on.

Three kinds of reading make up a front:

* *tones*: the last note is a chord tone (entry, arpeggio, target or handoff), with what the rules must
  remember of it: direction of the run, turns spent, figures started in this chord, chord tones since the
  last target, and which ``must-target`` limits are already met;
* *pending*: an approach figure is under way; what is left of it is a set of (notes still to come, target);
* *tails*: a stock ending is under way; what is left of it is kept by the engine, in a form of its own.

Fronts hold no slot. Whatever depends on the slot is in the ``Moment`` for which a move is asked; moments
that allow exactly the same moves are the same value, so that an engine can reuse what it has worked out.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, NamedTuple

from everyline.rules.endings import PlacedEnding


class Tone(NamedTuple):
    """A reading in which the last note is a chord tone. ``run`` is 0 on an anchor, else 1 up or -1 down;
    0 and no turns throughout where a run may turn as often as it likes."""

    run: int
    turns: int
    figures: int
    since: int
    met: int


class Context(NamedTuple):
    """What a figure under way remembers: figures started in its chord, ``must-target`` limits met."""

    figures: int
    met: int


Pending = frozenset[tuple[tuple[int, ...], int]]
"""Open figures: (approach notes still to come, target pitch); the target follows when no note is left."""

Firsts = dict[int, Pending]
"""For each first note of a figure, what is left of all figures that begin with it."""


OpenFigures = frozenset[tuple[Context, Pending]]
"""Figures under way, sorted by what they remember."""


class Front(NamedTuple):
    """All readings of the notes so far; ``done`` says that the line may end here.

    ``pitch`` is the last note where it is a chord tone in some reading, since only then what may follow
    depends on it; else NO_PITCH, so that all ways into the rest of one figure or ending lead to one front.
    """

    pitch: int
    tones: frozenset[Tone]
    pending: OpenFigures
    tails: frozenset[Any]
    done: bool


NO_PITCH = -1
NOTHING_LEFT: Pending = frozenset()
NO_TONES: frozenset[Tone] = frozenset()
NOTHING_OPEN: OpenFigures = frozenset()
NO_TAILS: frozenset[Any] = frozenset()
ENDED = Front(NO_PITCH, NO_TONES, NOTHING_OPEN, NO_TAILS, True)
"""After the last note of a line."""


@dataclass(frozen=True, slots=True)
class Moment:
    """A slot to be filled, reduced to what decides which notes may fill it.

    ``chord`` is the index of the chord that holds at the slot, ``fresh`` whether it begins there,
    ``resolves`` whether this is the resolution. ``inside`` are the lengths of figures that may start here
    and land in the same chord, ``across`` the length that would land on the next chord's first slot (0 when
    there is none). ``slot`` is None unless endings or must-target limits make each slot different.
    """

    chord: int
    fresh: bool
    resolves: bool
    inside: tuple[int, ...]
    across: int
    endings: tuple[PlacedEnding, ...] = field(default=(), hash=False)  # hashed by their slot
    slot: int | None = None
