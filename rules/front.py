"""Fronts: all readings of a line that are open after some notes; and the moments at which they move on.

Three kinds of reading make up a front:

* *tones*: the last note is a chord tone (entry, arpeggio, target or handoff), with what the rules must
  remember of it;
* *pending*: a move of several notes is under way (an approach figure, or a move filled with passing notes);
  what is left of it is a run of notes, the last of which is the chord tone that it lands on;
* *tails*: a stock ending is under way; what is left of it is kept by the engine, in a form of its own.

Fronts hold no time. Whatever depends on it is in the ``Moment`` for which a move is asked; moments that allow
exactly the same moves are the same value, so that an engine can reuse what it has worked out.
"""

from __future__ import annotations

from typing import Any, NamedTuple


class Tone(NamedTuple):
    """What is remembered where the last note is a chord tone.

    ``run`` is 0 on an anchor, else 1 up or -1 down; ``turns`` and ``skips`` are those of this run; 0
    throughout where a run may have any number of them. ``figures`` and ``fills`` have begun in this chord,
    ``since`` chord tones have sounded since the last target, none of them counted further than any rule can
    tell apart; ``met`` are the ``must-target`` limits that are met, as bits.
    """

    run: int = 0
    turns: int = 0
    skips: int = 0
    figures: int = 0
    fills: int = 0
    since: int = 0
    met: int = 0


FIGURE, FILL = 0, 1
"""The two kinds of move that play several notes."""


class Course(NamedTuple):
    """How a move under way is to end: its kind, whether it lands in the next chord, and what is remembered
    once it has landed (as if the chord had not changed)."""

    kind: int
    across: bool
    after: Tone


Left = tuple[int, ...]
"""Pitches of a move that are still to come; it lands on the last one."""

Pending = frozenset[Left]
"""What may be left of moves under way."""

Firsts = dict[int, Pending]
"""For each first note of some moves, what is left of all that begin with it; nothing where it lands."""

OpenMoves = frozenset[tuple[Course, Pending]]
"""Moves under way, sorted by how they are to end."""


class Front(NamedTuple):
    """All readings of the notes so far; ``done`` says that the line may end here.

    ``pitch`` is the last note where it is a chord tone in some reading, since only then what may follow
    depends on it; else NO_PITCH, so that all ways into the rest of one move or ending lead to one front.
    """

    pitch: int
    tones: frozenset[Tone]
    pending: OpenMoves
    tails: frozenset[Any]
    done: bool


NO_PITCH = -1
NO_TONES: frozenset[Tone] = frozenset()
NOTHING_OPEN: OpenMoves = frozenset()
NO_TAILS: frozenset[Any] = frozenset()
ENDED = Front(NO_PITCH, NO_TONES, NOTHING_OPEN, NO_TAILS, True)
"""After the last note of a line."""


class Moment(NamedTuple):
    """A note that may come next, reduced to what decides which pitches it may have.

    ``chord`` is the index of the chord that holds at it, or of an earlier one that allows the same;
    ``fresh`` whether it is the first onset there, ``resolves`` whether it is the resolution, ``on_beat``
    whether it falls on a beat, ``rest`` whether a rest comes before it. ``inside`` and ``across`` are the
    numbers of notes of figures that may begin with it, ``filled`` and ``filled_across`` those of passing
    notes. ``slot`` is None unless must-target limits make each slot different.
    """

    chord: int
    fresh: bool
    resolves: bool
    on_beat: bool
    rest: bool
    inside: frozenset[int] = frozenset()
    across: frozenset[int] = frozenset()
    filled: frozenset[int] = frozenset()
    filled_across: frozenset[int] = frozenset()
    slot: int | None = None


def under_way(moves: OpenMoves) -> Front:
    """The front on which nothing is open but moves of several notes."""
    return Front(NO_PITCH, NO_TONES, moves, NO_TAILS, False)


def joined(one: Front, other: Front) -> Front:
    """The moves under way in two fronts as one; those that end in the same way become one set."""
    found: dict[Course, Pending] = dict(one.pending)
    for course, left in other.pending:
        found[course] = found[course] | left if course in found else left
    return under_way(frozenset(found.items()))


def by_first_note(runs: Any) -> Firsts:
    """Runs of notes, sorted by their first note, which is taken off."""
    found: dict[int, set[Left]] = {}
    for first, *rest in runs:
        found.setdefault(first, set()).add(tuple(rest))
    return {first: frozenset(left) for first, left in found.items()}


def singles(front: Front) -> tuple[Front, ...]:
    """The readings of a front, each as a front of its own."""
    found = [Front(front.pitch, frozenset((tone,)), NOTHING_OPEN, NO_TAILS, False) for tone in front.tones]
    found += [
        under_way(frozenset(((course, frozenset((each,))),)))
        for course, pending in front.pending
        for each in pending
    ]
    if front.done:
        found.append(ENDED)
    return tuple(found)
