"""The rhythm of a line before its ending: where the next note may stand, and where an ending may cut in."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from tests.reference.progression import BEAT, Progression

Word = tuple[bool, int]  # whether it is a rest, and its ticks
Cell = tuple[Word, ...]


class Rhythm(NamedTuple):
    """The cells that the line is made of; every cell begins on a multiple of `grid`."""

    cells: tuple[Cell, ...]
    grid: int
    plain: bool  # whether a note may stand on the resolution slot, as the last one


class Place(NamedTuple):
    """A note's place in time."""

    onset: int
    length: int
    left: Cell  # what is left of its cell after it
    chord: int


def parse_word(word: str, whole: int) -> Word:
    """Whether a rhythm word is a rest, and its length: `8` `4.` `8t` `r8`; `whole` are the ticks of a whole
    note."""
    found = re.fullmatch(r"(r?)(\d+)(\.?)(t?)", word)
    if not found:
        raise ValueError(f"{word!r} is not a note value")
    ticks = Fraction(whole, int(found[2]))
    if found[3]:
        ticks *= Fraction(3, 2)
    if found[4]:
        ticks *= Fraction(2, 3)
    if ticks.denominator != 1:
        raise ValueError(f"{word!r} is no whole number of ticks")
    return bool(found[1]), int(ticks)


def length_of(cell: Cell) -> int:
    return sum(ticks for _, ticks in cell)


def parse_cell(text: str, progression: Progression) -> Cell:
    """The rules say: "A cell lasts a whole number of beats, at most a bar, and has a note"."""
    cell = tuple(parse_word(word, progression.whole) for word in text.split())
    length = length_of(cell)
    if length % BEAT or length > progression.bar or all(rest for rest, _ in cell):
        raise ValueError(f"{text!r} is not a cell of this meter")
    return cell


def slot_rhythm(subdivision: int, plain: bool) -> Rhythm:
    """The rules say: "Without this table the body has a note on every slot": a cell is one slot."""
    slot = BEAT // subdivision
    return Rhythm((((False, slot),),), slot, plain)


def cell_rhythm(texts: list[str], progression: Progression, plain: bool) -> Rhythm:
    """The rules say: "each chord lasts a whole number of beats, else it is an error"."""
    if any(first % BEAT for first in progression.firsts):
        raise ValueError("with cells each chord lasts a whole number of beats")
    return Rhythm(tuple({parse_cell(text, progression): None for text in texts}), BEAT, plain)


def fits(rhythm: Rhythm, progression: Progression, cell: Cell, start: int) -> bool:
    """The rules say: "each begins on a beat and lies inside one bar and inside one chord", and: "A cell that
    is cut, at the entry or before an ending, must fit its bar and chord as it is written"."""
    end = start + length_of(cell)
    one_bar = start // progression.bar == (end - 1) // progression.bar
    one_chord = progression.index_at(start) == progression.index_at(end - 1)
    return start % rhythm.grid == 0 and one_bar and one_chord and end <= progression.resolution


def places(rhythm: Rhythm, progression: Progression, clock: int, left: Cell) -> Iterator[Place]:
    """Where the next note may stand, when the note before it ends at `clock` and `left` is left of its cell.

    The rules say: "cells follow one another without gaps"; "For `plain` the cells end at the resolution
    slot"; "the handoff on the resolution slot is the last note and is held for one beat".
    """
    while left and left[0][0]:
        clock, left = clock + left[0][1], left[1:]
    if left:
        yield Place(clock, left[0][1], left[1:], progression.index_at(clock))
    elif clock < progression.resolution:
        for cell in rhythm.cells:
            if fits(rhythm, progression, cell, clock):
                yield from places(rhythm, progression, clock, cell)
    elif rhythm.plain:
        yield Place(clock, BEAT, (), progression.last)


def cuts(rhythm: Rhythm, progression: Progression, clock: int, left: Cell) -> Iterator[int]:
    """Where a stock ending may begin.  The rules say: "The last cell before a stock ending is cut where the
    ending begins: that is the onset of one of its notes or rests, or its end"; "The last cell may be cut
    before any of its notes"."""
    yield clock
    while left and left[0][0]:
        clock, left = clock + left[0][1], left[1:]
        yield clock
    if not left:
        for cell in rhythm.cells:
            if fits(rhythm, progression, cell, clock) and cell[0][0]:
                yield from cuts(rhythm, progression, clock, cell)


def entry_places(rhythm: Rhythm, progression: Progression, tick: int) -> Iterator[Place]:
    """Every way to enter at a tick.  The rules say: "The first cell is the one that holds the entry: it
    begins on any beat not after the entry; what it has before the entry is not played; the entry is the onset
    of one of its notes"."""
    for cell in rhythm.cells:
        for start in range(tick - length_of(cell) + 1, tick + 1):
            if not fits(rhythm, progression, cell, start):
                continue
            onset = start
            for number, (rest, ticks) in enumerate(cell):
                if onset == tick and not rest:
                    yield Place(tick, ticks, cell[number + 1 :], 0)
                onset += ticks
