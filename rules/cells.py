"""Rhythm cells: rhythms of whole beats, of which the body of a line is made.

A cell is written in note values (``8 8``, ``r8 8``, ``8t 8t 8t``). Its parts are in ticks, 480 to a beat,
whatever the beat's note value. Cells that sound alike are one cell, whose rests are cut wherever one of
them cuts its own: an ending may begin at each of these places.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from math import gcd, lcm
from typing import Any

from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.corpora.note_lengths import parse_rhythm
from everyline.rules.keys import HOMES, SECTIONS
from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.meter import Meter
from everyline.rules.progression import Progression
from everyline.rules.ruleset import Cell, CellPart
from everyline.rules.schema import Where, check_table


def read_rhythm(table: Any, meter: Meter, where: Where) -> tuple[Cell, ...]:
    """The cells of a ``[rhythm]`` table, none where it names none. Raises InputError."""
    written = check_table(table, SECTIONS["rhythm"].keys, where, homes=HOMES)["cells"]
    return read_cells(written, meter, where) if written is not None else ()


def read_cells(texts: Sequence[str], meter: Meter, where: Where) -> tuple[Cell, ...]:
    """The cells of these notations in a meter, each rhythm once. Raises InputError."""
    alike: dict[tuple[int, tuple[CellPart, ...]], list[Cell]] = {}
    for text in texts:
        try:
            cell = read_cell(text, meter)
        except InputError as error:
            raise where.error("cells", list(texts), str(error)) from None
        notes = tuple(part for part in cell.parts if not part.rest)
        alike.setdefault((cell.ticks, notes), []).append(cell)
    return tuple(map(_merged, alike.values()))


def read_cell(text: str, meter: Meter) -> Cell:
    """One cell. Raises InputError where it is no rhythm, is not made of whole beats, or is silent."""
    parts, ticks = read_parts(text, meter)
    shown = f'"{" ".join(text.split())}"'
    if ticks % TICKS_PER_BEAT:
        raise InputError(f"{shown} lasts {plural(ticks / TICKS_PER_BEAT, 'beat')}; a cell lasts whole beats")
    if ticks > meter.beats * TICKS_PER_BEAT:
        raise InputError(
            f"{shown} lasts {plural(ticks // TICKS_PER_BEAT, 'beat')}; a cell lasts a bar at most, here "
            f"{plural(meter.beats, 'beat')}"
        )
    if all(part.rest for part in parts):
        raise InputError(f"{shown} has only rests; a cell has a note at least, such as r8 8")
    return Cell(" ".join(text.split()), ticks, parts)


def read_parts(text: str, meter: Meter) -> tuple[tuple[CellPart, ...], int]:
    """The notes and rests of a rhythm without bar lines, and its ticks. Raises InputError."""
    rhythm = parse_rhythm(text)
    if rhythm.bar_line:
        raise InputError(f'"{text}" holds a bar line; leave the | out')
    parts, at = [], 0
    for beat in rhythm.before:
        length = meter.ticks(beat.ticks)
        if length is None:
            raise InputError(f'"{text}" has a value that {meter.cannot_show}')
        parts.append(CellPart(at, length, beat.rest))
        at += length
    return tuple(parts), at


def grid(cells: Iterable[Cell], meter: Meter) -> int:
    """Slots in a beat that are as few as will do for halves of a beat (thirds of a dotted quarter) and every
    part of a cell."""
    steps = (TICKS_PER_BEAT // gcd(TICKS_PER_BEAT, part.offset) for cell in cells for part in cell.parts)
    return lcm(meter.parts, *steps)


def check_beats(progression: Progression) -> None:
    """Refuse changes in which a chord begins between two beats: a cell lies inside one chord."""
    for start, chord in zip(progression.starts, progression.chords, strict=True):
        if not progression.on_beat(start):
            raise InputError(
                f"{chord.symbol} begins on {progression.place(start)}; with [rhythm] every chord begins on a "
                f"beat and lasts whole beats. Hold chords with /, or leave [rhythm] out"
            )


def _merged(cells: list[Cell]) -> Cell:
    """Cells that sound alike as one, with each rest cut wherever one of them cuts it."""
    first = cells[0]
    cuts = sorted({part.offset for cell in cells for part in cell.parts} | {first.ticks})
    notes = {part.offset: part for part in first.parts if not part.rest}
    sounding = [range(note.offset, note.offset + note.length) for note in notes.values()]
    parts = [
        notes.get(cut) or CellPart(cut, after - cut, True)
        for cut, after in pairwise(cuts)
        if cut in notes or not any(cut in each for each in sounding)
    ]
    return Cell(first.text, first.ticks, tuple(parts))
