"""Beams: which notes of a bar hang together, and how many beams each carries."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from everyline.paper.note_values import WrittenMeter, WrittenNote

Beams = tuple[str, ...]
"""One word a beam, the main one first: begin, continue, end, forward hook or backward hook (MusicXML's
terms).
"""

_EIGHTH = 240


def flags(value: int) -> int:
    """Flags or beams of an undotted value (480 to a quarter): an eighth has one, a 16th two."""
    count = 0
    while value < 2 * _EIGHTH:
        value *= 2
        count += 1
    return count


def beam(
    written: Sequence[WrittenNote],
    meter: WrittenMeter,
    offset: int,
    fours: bool,
    blanks: frozenset[int] = frozenset(),
) -> list[Beams]:
    """The beams of each note or rest of a bar, in order; ``offset`` as in ``write_bar``.

    ``fours`` hangs the plain eighths of half a bar of 4/4 together. ``blanks`` are notes (by index in the
    line) that are left out of the print, and so out of every beam.
    """
    written = [replace(each, note=None) if each.note in blanks else each for each in written]
    beams: list[Beams] = [()] * len(written)
    for group in _groups(written, meter, offset, fours):
        if len(group) < 2:
            continue
        counts = [flags(written[place].value) for place in group]
        for index, place in enumerate(group):
            beams[place] = tuple(
                _word(counts, index, level, written[place], meter) for level in range(1, counts[index] + 1)
            )
    return beams


def _groups(
    written: Sequence[WrittenNote], meter: WrittenMeter, offset: int, fours: bool
) -> Iterator[list[int]]:
    """Runs of notes that are beamed together, as places in the bar."""
    group: list[int] = []
    cell: object = None
    for place, each in enumerate(written):
        joins = each.note is not None and flags(each.value) > 0
        here = (_cell(each.start + offset, written, meter, offset, fours), each.tuplet)
        if group and (not joins or here != cell):
            yield group
            group = []
        if joins:
            group.append(place)
            cell = here
    if group:
        yield group


def _cell(start: int, written: Sequence[WrittenNote], meter: WrittenMeter, offset: int, fours: bool) -> int:
    """Start of the stretch of the bar within which a note at ``start`` may be beamed."""
    if meter.compound:
        return start // 720 * 720
    if meter.unit == 8:
        pairs = max(1, meter.beats // 2)
        return min(start // (2 * _EIGHTH), pairs - 1) * 2 * _EIGHTH
    if fours and meter.beats in (2, 4) and meter.unit in (2, 4):
        size = 4 * _EIGHTH
        half = start // size * size
        inside = [w for w in written if half <= w.start + offset < half + size and w.note is not None]
        if all(w.value >= _EIGHTH and w.tuplet is None and (w.start + offset) % _EIGHTH == 0 for w in inside):
            return half
    size = 2 * _EIGHTH
    return start // size * size


def _word(counts: list[int], index: int, level: int, note: WrittenNote, meter: WrittenMeter) -> str:
    before = index > 0 and counts[index - 1] >= level
    after = index + 1 < len(counts) and counts[index + 1] >= level
    if before and after:
        return "continue"
    if before:
        return "end"
    if after:
        return "begin"
    if index == 0:
        return "forward hook"
    if index == len(counts) - 1:
        return "backward hook"
    return "backward hook" if note.start % (2 * note.value) else "forward hook"
