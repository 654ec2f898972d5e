"""How many lines of a diagram have each largest leap, number of turns, range, number of notes: exact sums.

Each is one fold backward, for all values at once: either what a note adds to the value, or a pack with a lane
of bits for each value (see ``packs``), from which every note keeps some.
"""

from __future__ import annotations

from itertools import pairwise

from everyline.solver.diagram import Diagram
from everyline.solver.fold import Fold
from everyline.solver.packs import Packs


def notes(diagram: Diagram) -> dict[int, int]:
    """Lines by their number of notes."""
    return Fold.plain(diagram, [1] * len(diagram.events)).histogram()


def largest_leaps(diagram: Diagram) -> dict[int, int]:
    """Lines by their widest interval, in semitones; a line of one note has none, which is 0."""
    pitches = [event.pitch for event in diagram.events]
    sizes = range(max(pitches, default=0) - min(pitches, default=0) + 1)
    packs = Packs(len(sizes), diagram.count)
    # A lane counts the lines without a leap wider than its size.
    keep = [packs.spread(sum(1 << lane for lane in sizes[size:])) for size in sizes]

    def step(last: int, label: int) -> tuple[int, int]:
        pitch = pitches[label]
        return pitch, keep[0 if last < 0 else abs(pitch - last)]

    at_most = packs.unpack(packs.kept(Fold[int, int].of(diagram, -1, step)))
    return _found({value: high - low for value, (low, high) in enumerate(pairwise([0, *at_most]))})


def direction_changes(diagram: Diagram) -> dict[int, int]:
    """Lines by how often they turn from up to down or back; a repeated note does not turn."""
    pitches = [event.pitch for event in diagram.events]

    def step(before: tuple[int, int], label: int) -> tuple[tuple[int, int], int]:
        last, way = before
        pitch = pitches[label]
        now = 0 if last < 0 else (pitch > last) - (pitch < last)
        return (pitch, now or way), int(now * way < 0)

    return Fold[tuple[int, int], int].of(diagram, (-1, 0), step).histogram()


def ranges(diagram: Diagram) -> dict[int, int]:
    """Lines by the semitones from their lowest note to their highest."""
    pitches = sorted({event.pitch for event in diagram.events})
    bounds = [(low, high) for low in range(len(pitches)) for high in range(low, len(pitches))]
    packs = Packs(len(bounds), diagram.count)
    # A lane counts the lines that stay within its two bounds.
    place = {pitch: at for at, pitch in enumerate(pitches)}
    keep = {
        at: packs.spread(sum(1 << lane for lane, (low, high) in enumerate(bounds) if low <= at <= high))
        for at in range(len(pitches))
    }
    masks = [keep[place[event.pitch]] for event in diagram.events]
    pack = packs.kept(Fold.plain(diagram, masks))
    within = dict(zip(bounds, packs.unpack(pack), strict=True))
    found: dict[int, int] = {}
    for low, high in bounds:
        count = within[low, high] - within.get((low + 1, high), 0) - within.get((low, high - 1), 0)
        count += within.get((low + 1, high - 1), 0)
        size = pitches[high] - pitches[low]
        found[size] = found.get(size, 0) + count
    return _found(found)


def _found(counts: dict[int, int]) -> dict[int, int]:
    """The values that occur, in rising order."""
    return {value: counts[value] for value in sorted(counts) if counts[value]}
