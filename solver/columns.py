"""Lines as columns: one column for each onset, filled at the speed of copying memory.

All lines of a space have their onsets on the same few ticks. A column holds, for one tick, what each line
has there: a *code*, which is the place of an event among all events with that onset (in the order of events:
lower pitch, then shorter length), or ``ABSENT`` where no note begins. So a code says pitch and length both,
and a batch of lines is a matrix of bytes.

Many lines end alike. The lines from one node of the diagram on are a *block*; a block of up to
``BLOCK_LINES`` lines is written out once and then copied wherever its node is reached, and what comes before
it is one value repeated. So most lines are never looked at one by one.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from everyline.rules.line import Event, Events
from everyline.solver.diagram import Diagram

ABSENT = 255
"""The code where a line has no onset, and the pitch that stands for it."""
WIDE_ABSENT = 65535
"""The same where some tick has so many different events that codes need two bytes."""
BLOCK_LINES = 1 << 16
BLOCK_BYTES = 64 << 20
"""How many bytes of blocks are kept; beyond, they are written out afresh when they are needed."""
BATCH_BYTES = 16 << 20
"""How large a batch is unless its number of lines is given: memory stays the same for any form."""

_N = TypeVar("_N", bound=np.generic)
Matrix = npt.NDArray[Any]
"""Codes, uint8 or uint16, shape (columns, lines)."""


def look_up(table: npt.NDArray[_N], places: npt.NDArray[Any]) -> npt.NDArray[_N]:
    """``table[places]`` for places that are all inside, many times as fast: numpy is quick only with places
    as wide as a machine word and without a check of each."""
    return table.take(places.astype(np.intp, copy=False), mode="clip")


@dataclass(frozen=True, eq=False)
class Batch:
    """Lines ``first`` to ``first + len(batch) - 1``.

    ``codes`` has shape (columns, lines): row c is the column of tick ``columns.ticks[c]``.
    """

    columns: Columns
    first: int
    codes: Matrix

    def __len__(self) -> int:
        return int(self.codes.shape[1])

    def pitches(self, column: int | None = None) -> npt.NDArray[np.uint8]:
        """MIDI pitches, ABSENT where no note begins: one column, or all of them, shape (columns, lines)."""
        return self._looked_up(self.columns.pitch_of, column)

    def lengths(self, column: int | None = None) -> npt.NDArray[np.uint16]:
        """Lengths in ticks, 0 where no note begins: one column or all of them."""
        return self._looked_up(self.columns.length_of, column)

    def _looked_up(self, tables: list[npt.NDArray[_N]], column: int | None) -> npt.NDArray[_N]:
        if column is not None:
            return look_up(tables[column], self.codes[column])
        return np.stack([look_up(table, codes) for table, codes in zip(tables, self.codes, strict=True)])

    def line(self, place: int) -> Events:
        """The line at a place of the batch, from 0."""
        absent, events = self.columns.absent, self.columns.events
        codes = self.codes[:, place].tolist()
        return tuple(here[code] for here, code in zip(events, codes, strict=True) if code != absent)


class Columns:
    """All lines of a diagram as columns.

    ``ticks`` are the onsets, rising; ``events[c]`` the events with onset ``ticks[c]``, so that a code k of
    column c stands for ``events[c][k]``; ``absent`` is the code for no note. ``pitch_of[c]`` and
    ``length_of[c]`` give for each code the MIDI pitch and the length in ticks.
    """

    def __init__(self, diagram: Diagram, block_lines: int = BLOCK_LINES) -> None:
        self.diagram = diagram
        self._block_lines = block_lines
        used = {label for labels in diagram.labels for label in labels}
        self.ticks = tuple(sorted({diagram.events[label].onset for label in used}))
        place = {tick: column for column, tick in enumerate(self.ticks)}
        by_column: list[list[Event]] = [[] for _ in self.ticks]
        for event in sorted(diagram.events[label] for label in used):
            by_column[place[event.onset]].append(event)
        self.events: tuple[Events, ...] = tuple(map(tuple, by_column))
        narrow = max(map(len, self.events), default=0) <= ABSENT
        self.dtype: type[np.uint8] | type[np.uint16] = np.uint8 if narrow else np.uint16
        self.absent = ABSENT if narrow else WIDE_ABSENT
        self.pitch_of = [self._table([e.pitch for e in here], np.uint8, ABSENT) for here in self.events]
        self.length_of = [self._table([e.length for e in here], np.uint16, 0) for here in self.events]
        codes = {event: code for here in self.events for code, event in enumerate(here)}
        self._column = [place.get(event.onset, -1) for event in diagram.events]
        self._code = [codes.get(event, -1) for event in diagram.events]
        self._first = self._firsts()
        self._blocks: dict[int, Matrix] = {}
        self._held = 0

    def _table(self, values: list[int], dtype: type[_N], absent: int) -> npt.NDArray[_N]:
        table = np.full(self.absent + 1, absent, dtype=dtype)
        table[: len(values)] = values
        return table

    def _firsts(self) -> list[int]:
        """For each node the first column in which a line may have an onset from there on."""
        end = len(self.ticks)
        return [self._column[labels[0]] if labels else end for labels in self.diagram.labels]

    @property
    def count(self) -> int:
        """The exact number of lines."""
        return self.diagram.count

    @property
    def batch_lines(self) -> int:
        """How many lines a batch has unless it is said: a power of two."""
        fitting = BATCH_BYTES // (max(1, len(self.ticks)) * np.dtype(self.dtype).itemsize)
        return 1 << max(0, fitting.bit_length() - 1)

    # -- batches -------------------------------------------------------------------------------------------

    def batches(
        self, first: int = 1, last: int | None = None, size: int | None = None, reuse: bool = False
    ) -> Iterator[Batch]:
        """Lines ``first`` to ``last`` (the end unless given) in batches of ``size`` lines (about BATCH_BYTES
        unless given), the last one shorter.

        With ``reuse`` all batches share one buffer: each is good until the next is asked for. Raises
        IndexError where ``first`` or ``last`` is no number of a line, ValueError for a size below 1.
        """
        last = self.count if last is None else last
        size = self.batch_lines if size is None else size
        if not 1 <= first <= last + 1 <= self.count + 1:
            raise IndexError(f"lines {first} to {last} of {self.count}")
        if size < 1:
            raise ValueError(f"a batch of {size} lines")
        return self._batches(first, last, size, reuse)

    def _batches(self, first: int, last: int, size: int, reuse: bool) -> Iterator[Batch]:
        shape = len(self.ticks), min(size, last - first + 1)
        buffer: Matrix = np.empty(shape, dtype=self.dtype)
        for start in range(first, last + 1, size):
            lines = min(size, last + 1 - start)
            codes = buffer[:, :lines]
            self.fill(codes, start)
            yield Batch(self, start, codes)
            if not reuse and start + lines <= last:
                buffer = np.empty(shape, dtype=self.dtype)

    def fill(self, out: Matrix, first: int) -> None:
        """Fill ``out`` (shape: columns, lines; of ``dtype``) with the lines from number ``first`` on."""
        self._fill(out, self.diagram.root, first - 1, first - 1 + out.shape[1], self._block_lines)

    def _fill(self, out: Matrix, root: int, low: int, high: int, block_lines: int) -> None:
        """Write lines ``low`` to ``high`` - 1, in the node's own numbering from 0, to ``out``, whose last
        row is the last column."""
        skip = len(self.ticks) - out.shape[0]
        totals, accepts, firsts = self.diagram.totals, self.diagram.accepts, self._first
        work = [(root, low, high, 0)]
        while work:
            node, low, high, at = work.pop()
            row = firsts[node] - skip
            if totals[node] <= block_lines:
                out[row:, at : at + high - low] = self._block(node)[:, low:high]
                continue
            if accepts[node] and low == 0:
                out[row:, at] = self.absent
            self._edges(out, skip, node, low, high, at, work)

    def _edges(
        self,
        out: Matrix,
        skip: int,
        node: int,
        low: int,
        high: int,
        at: int,
        work: list[tuple[int, int, int, int]],
    ) -> None:
        """Write the next event of a node's lines, and note what is to be done below."""
        labels, children = self.diagram.labels[node], self.diagram.children[node]
        ends, firsts = self.diagram.offsets(node), self._first
        edge = max(0, bisect_right(ends, low) - 1)
        while edge < len(labels) and ends[edge] < high:
            start, stop = max(low, ends[edge]), min(high, ends[edge + 1])
            child, label = children[edge], labels[edge]
            column = self._column[label]
            lines = slice(at + start - low, at + stop - low)
            if column > firsts[node]:
                out[firsts[node] - skip : column - skip, lines] = self.absent
            out[column - skip, lines] = self._code[label]
            if firsts[child] > column + 1:
                out[column + 1 - skip : firsts[child] - skip, lines] = self.absent
            if firsts[child] < len(self.ticks):
                work.append((child, start - ends[edge], stop - ends[edge], lines.start))
            edge += 1

    def _block(self, node: int) -> Matrix:
        """The lines of a node, from its first column on, written out."""
        found = self._blocks.get(node)
        if found is None:
            total = self.diagram.totals[node]
            found = np.empty((len(self.ticks) - self._first[node], total), dtype=self.dtype)
            if self._held + found.nbytes > BLOCK_BYTES:
                self._blocks.clear()
                self._held = 0
            # A block is made of smaller ones, down to single edges.
            self._fill(found, node, 0, total, min(total - 1, self._block_lines >> 3))
            self._blocks[node] = found
            self._held += found.nbytes
        return found
