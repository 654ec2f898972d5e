"""Which finger of the left hand plays each note, once string, fret and hand position are known.

In one position each finger has a fret of its own (common practice); a hand that covers five frets reaches
the fifth with its little finger, one that covers six, on the short strings of instruments in fifths, shares
them out evenly. The best path over the fingers (Viterbi 1967) keeps to that, does not play two neighbouring
notes on different frets with one finger, and does not cross fingers. The costs are ours.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

FINGERS = (1, 2, 3, 4)

ROLL, HOP, SLIDE, CROSSED, CHANGED = 2, 6, 4, 12, 5
BORROWED = 1
_SPAN_OF_FOUR = 4


class Placed(NamedTuple):
    """A note on the fretboard: string (1 the highest), fret (0 open), fret under the first finger."""

    string: int
    fret: int
    position: int


def fingers(notes: Sequence[Placed], span: int) -> tuple[int, ...]:
    """The finger of each note, 1 (index) to 4 (little finger), 0 for an open string.

    ``span`` is how many frets the hand covers from its position.
    """
    layers: list[dict[int, tuple[int, int]]] = []
    before: Placed | None = None
    for note in notes:
        choices = _choices(note, span)
        if before is None:
            layers.append({finger: (cost, 0) for finger, cost in choices.items()})
        else:
            layers.append(
                {
                    finger: min(
                        (spent + _change(before, last, note, finger) + cost, last)
                        for last, (spent, _) in layers[-1].items()
                    )
                    for finger, cost in choices.items()
                }
            )
        before = note
    return _path(layers)


def _path(layers: list[dict[int, tuple[int, int]]]) -> tuple[int, ...]:
    """The cheapest way through, read from its end."""
    if not layers:
        return ()
    finger = min(layers[-1], key=lambda each: (layers[-1][each], each))
    found = []
    for layer in reversed(layers):
        found.append(finger)
        finger = layer[finger][1]
    return tuple(reversed(found))


def _choices(note: Placed, span: int) -> dict[int, int]:
    """The fingers that may play a note, each with its cost."""
    if note.fret == 0:
        return {0: 0}
    offset = note.fret - note.position
    if span > _SPAN_OF_FOUR + 1:
        # Evenly over the span: each finger stands at its own share of it.
        share = max(1, span - 1) / 3
        distances = {finger: abs((finger - 1) * share - offset) for finger in FINGERS}
        near = min(distances.values())
        return {finger: round(2 * far) for finger, far in distances.items() if far <= near + 1}
    own = min(max(offset, 0), 3) + 1
    choices = {own: 0}
    if span > _SPAN_OF_FOUR and offset in (2, 3):
        choices[own - 1] = BORROWED  # leaves the higher finger free for the stretch
    return choices


def _change(before: Placed, last: int, note: Placed, finger: int) -> int:
    """Cost of one finger after another."""
    if last == 0 or finger == 0:
        return 0
    same_string, up = before.string == note.string, note.fret - before.fret
    if before.position != note.position:
        return 0 if last == finger and same_string else BORROWED
    if last == finger:
        if up == 0:
            return 0 if same_string else ROLL
        return SLIDE + abs(up) if same_string else HOP
    if up == 0:
        return CHANGED if same_string else 0
    return 0 if (finger > last) == (up > 0) else CROSSED
