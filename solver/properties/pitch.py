"""What pitches say: the highest note, range, leaps, turns, intervals, whether a line ends above its start."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from everyline.rules.line import Event, Note
from everyline.rules.ruleset import Rules
from everyline.rules.spelling import spell
from everyline.solver.diagram import Diagram
from everyline.solver.fold import Fold
from everyline.solver.packs import Packs
from everyline.solver.properties.base import (
    NOTES,
    STEPS,
    Count,
    NoteReader,
    Property,
    Tallied,
    faceted,
    tallied,
)

# -- the highest note ----------------------------------------------------------------------------------------


def _highest_note(rules: Rules) -> NoteReader:
    chord, scale = rules.progression.chords[-1], rules.scales[-1]
    return NoteReader(
        -1,
        lambda state, note: max(state, note.pitch),
        lambda pitch: spell(pitch, chord, scale, rules.key),
        _by_highest,
    )


def _by_highest(diagram: Diagram) -> dict[int, int]:
    pitches = sorted({event.pitch for event in diagram.events})
    packs = Packs(len(pitches), diagram.count)
    # A lane counts the lines that stay at or below its pitch; neighbours then differ by those that reach it.
    keep = {
        pitch: packs.spread(sum(1 << lane for lane in range(place, len(pitches))))
        for place, pitch in enumerate(pitches)
    }
    below = packs.unpack(packs.kept(Fold.plain(diagram, [keep[event.pitch] for event in diagram.events])))
    return {pitch: high - low for pitch, (low, high) in zip(pitches, pairwise([0, *below]), strict=True)}


# -- range, leaps, turns -------------------------------------------------------------------------------------


def _range(rules: Rules) -> NoteReader:
    def step(state: tuple[int, int] | None, note: Note) -> tuple[int, int]:
        low, high = state or (note.pitch, note.pitch)
        return min(low, note.pitch), max(high, note.pitch)

    return NoteReader(None, step, str, _by_range, lambda state: state[1] - state[0])


def _by_range(diagram: Diagram) -> dict[int, int]:
    pitches = sorted({event.pitch for event in diagram.events})
    bounds = [(low, high) for low in range(len(pitches)) for high in range(low, len(pitches))]
    packs = Packs(len(bounds), diagram.count)
    # A lane counts the lines that stay within its two bounds.
    keep = {
        pitch: packs.spread(sum(1 << lane for lane, (low, high) in enumerate(bounds) if low <= at <= high))
        for at, pitch in enumerate(pitches)
    }
    pack = packs.kept(Fold.plain(diagram, [keep[event.pitch] for event in diagram.events]))
    within = dict(zip(bounds, packs.unpack(pack), strict=True))
    found: dict[int, int] = {}
    for low, high in bounds:
        count = within[low, high] - within.get((low + 1, high), 0) - within.get((low, high - 1), 0)
        count += within.get((low + 1, high - 1), 0)
        size = pitches[high] - pitches[low]
        found[size] = found.get(size, 0) + count
    return found


def _largest_leap(rules: Rules) -> NoteReader:
    def step(state: tuple[int, int] | None, note: Note) -> tuple[int, int]:
        last, widest = state or (note.pitch, 0)
        return note.pitch, max(widest, abs(note.pitch - last))

    return NoteReader(None, step, str, _by_largest_leap, lambda state: state[1])


def _by_largest_leap(diagram: Diagram) -> dict[int, int]:
    pitches = [event.pitch for event in diagram.events]
    sizes = range(max(pitches, default=0) - min(pitches, default=0) + 1)
    packs = Packs(len(sizes), diagram.count)
    # A lane counts the lines without a leap wider than its size.
    keep = [packs.spread(sum(1 << lane for lane in sizes[size:])) for size in sizes]

    def step(last: int, label: int) -> tuple[int, int]:
        pitch = pitches[label]
        return pitch, keep[0 if last < 0 else abs(pitch - last)]

    at_most = packs.unpack(packs.kept(Fold[int, int].of(diagram, -1, step)))
    return {value: high - low for value, (low, high) in enumerate(pairwise([0, *at_most]))}


def _direction_changes(rules: Rules) -> NoteReader:
    def step(state: tuple[tuple[int, int], int] | None, note: Note) -> tuple[tuple[int, int], int]:
        before, turns = state or (_STANDING, 0)
        before, turned = _turned(before, note.pitch)
        return before, turns + turned

    return NoteReader(None, step, str, _by_direction_changes, lambda state: state[1])


_STANDING = (-1, 0)
"""Before the first note: no pitch, and neither up nor down."""


def _turned(before: tuple[int, int], pitch: int) -> tuple[tuple[int, int], int]:
    """(last pitch, way) after one more note, and 1 where it turns; a repeated note does not turn."""
    last, way = before
    now = 0 if last < 0 else (pitch > last) - (pitch < last)
    return (pitch, now or way), int(now * way < 0)


def _by_direction_changes(diagram: Diagram) -> dict[int, int]:
    def step(before: tuple[int, int], label: int) -> tuple[tuple[int, int], int]:
        return _turned(before, diagram.events[label].pitch)

    return Fold[tuple[int, int], int].of(diagram, _STANDING, step).histogram()


def _direction(rules: Rules) -> NoteReader:
    """Where the line ends, seen from its first note."""

    def step(state: tuple[int, int] | None, note: Note) -> tuple[int, int]:
        first = note.pitch if state is None else state[0]
        return first, (note.pitch > first) - (note.pitch < first)

    return NoteReader(None, step, lambda way: ("level", "up", "down")[way], value=lambda state: state[1])


# -- note by note --------------------------------------------------------------------------------------------


def played(diagram: Diagram) -> Iterable[tuple[Event, int]]:
    """Each event and how many times it is played, over all lines."""
    passed = Fold.plain(diagram, range(len(diagram.events))).passed()
    return ((event, passed.get(label, 0)) for label, event in enumerate(diagram.events))


def _pitches(rules: Rules, diagram: Diagram) -> Iterable[Count]:
    found: dict[int, int] = {}
    for event, count in played(diagram):
        found[event.pitch] = found.get(event.pitch, 0) + count
    chord, scale = rules.progression.chords[-1], rules.scales[-1]
    return (Count(spell(pitch, chord, scale, rules.key), pitch, found[pitch]) for pitch in sorted(found))


def _intervals(rules: Rules, diagram: Diagram) -> Iterable[Count]:
    pitches = [event.pitch for event in diagram.events]

    def step(last: int | None, label: int) -> tuple[int, int | None]:
        pitch = pitches[label]
        return pitch, None if last is None else pitch - last

    found = Fold[int | None, int | None].of(diagram, None, step).passed()
    steps = sorted(step for step in found if step is not None)
    return (Count(f"{step:+d}" if step else "0", step, found[step]) for step in steps)


HIGHEST_NOTE = faceted("highest-note", "highest note of the line", _highest_note, "highest_pitch")
RANGE = tallied(
    "range", "semitones from the lowest note of each line to its highest", _range, "range_semitones"
)
LARGEST_LEAP = tallied(
    "largest-leap", "semitones of the widest interval of each line", _largest_leap, "largest_leap"
)
DIRECTION_CHANGES = tallied(
    "direction-changes",
    "how often each line turns from up to down or back",
    _direction_changes,
    "direction_changes",
)
DIRECTION = Property("direction", "whether the line ends above, below or at its first note", notes=_direction)
PITCH = Property("pitch", "each note", tally=Tallied(NOTES, _pitches))
INTERVAL = Property(
    "interval", "semitones from each note to the next, up or down", tally=Tallied(STEPS, _intervals)
)
