"""How many lines of a diagram have each largest leap, number of turns, range, number of notes: exact sums.

Each is one pass backward over the diagram, for all values at once: a pack has a lane of bits for each value
(see ``packs``). Where a value depends on neighbouring notes, a node is told apart by what must be remembered
of the notes before it. Packs are kept only as long as a node further up may ask for them.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from itertools import pairwise
from typing import TypeVar

from everyline.solver.diagram import Diagram
from everyline.solver.packs import Packs

_S = TypeVar("_S", bound=Hashable)
Change = tuple[int | None, int]
"""What an edge does to a pack: keep the lanes of a mask (all where None), then move up by so many bits."""


def _summed(diagram: Diagram, ones: int, start: _S, step: Callable[[_S, int], tuple[_S, Change]]) -> int:
    """The pack of the root. ``step`` gives, for what is remembered and the next label, what is remembered
    then and what that edge does; ``ones`` is the pack of a line that ends."""
    reached: list[dict[_S, int]] = [{} for _ in diagram.labels]
    reached[diagram.root][start] = 0
    for node in range(diagram.root, 0, -1):
        for state in reached[node]:
            for label, child in zip(diagram.labels[node], diagram.children[node], strict=True):
                reached[child][step(state, label)[0]] = 0
    done = diagram.done_after()
    for node, states in enumerate(reached):
        for state in states:
            total = ones if diagram.accepts[node] else 0
            for label, child in zip(diagram.labels[node], diagram.children[node], strict=True):
                after, (mask, shift) = step(state, label)
                below = reached[child][after]
                total += (below if mask is None else below & mask) << shift
            states[state] = total
        for child in done[node]:
            reached[child] = {}
    return reached[diagram.root][start]


def notes(diagram: Diagram) -> dict[int, int]:
    """Lines by their number of notes."""
    packs = Packs(len(diagram.onsets) + 1, diagram.count)
    pack = _summed(diagram, 1, None, lambda state, label: (None, (None, packs.width)))
    return _found(dict(enumerate(packs.unpack(pack))))


def largest_leaps(diagram: Diagram) -> dict[int, int]:
    """Lines by their widest interval, in semitones; a line of one note has none, which is 0."""
    pitches = [event.pitch for event in diagram.events]
    sizes = range(max(pitches, default=0) - min(pitches, default=0) + 1)
    packs = Packs(len(sizes), diagram.count)
    # A lane counts the lines without a leap wider than its size.
    keep = [packs.spread(sum(1 << lane for lane in sizes[size:])) for size in sizes]

    def step(last: int, label: int) -> tuple[int, Change]:
        pitch = pitches[label]
        return pitch, (None if last < 0 else keep[abs(pitch - last)], 0)

    return _found(_differences(packs.unpack(_summed(diagram, packs.ones, -1, step))))


def direction_changes(diagram: Diagram) -> dict[int, int]:
    """Lines by how often they turn from up to down or back; a repeated note does not turn."""
    pitches = [event.pitch for event in diagram.events]
    packs = Packs(max(1, len(diagram.onsets)), diagram.count)

    def step(before: tuple[int, int], label: int) -> tuple[tuple[int, int], Change]:
        last, way = before
        pitch = pitches[label]
        now = 0 if last < 0 else (pitch > last) - (pitch < last)
        return (pitch, now or way), (None, packs.width if now * way < 0 else 0)

    return _found(dict(enumerate(packs.unpack(_summed(diagram, 1, (-1, 0), step)))))


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
    pack = _summed(diagram, packs.ones, None, lambda state, label: (None, (masks[label], 0)))
    within = dict(zip(bounds, packs.unpack(pack), strict=True))
    found: dict[int, int] = {}
    for low, high in bounds:
        count = within[low, high] - within.get((low + 1, high), 0) - within.get((low, high - 1), 0)
        count += within.get((low + 1, high - 1), 0)
        size = pitches[high] - pitches[low]
        found[size] = found.get(size, 0) + count
    return _found(found)


def _differences(at_most: list[int]) -> dict[int, int]:
    """Counts of each value from counts of at most each value."""
    return {value: high - low for value, (low, high) in enumerate(pairwise([0, *at_most]))}


def _found(counts: dict[int, int]) -> dict[int, int]:
    """The values that occur, in rising order."""
    return {value: counts[value] for value in sorted(counts) if counts[value]}
