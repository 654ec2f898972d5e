"""Listings of many lines, made from columns: the same bytes as ``text.notes_only`` writes line by line.

What a note is written as depends on its event alone, so a table holds it for each code of a column, and a
row is the join of such pieces. Pieces are arrays of equally wide words, filled up with zero bytes; laid side
by side in memory they are the rows but for those zeros, which are then dropped all at once.
"""

from __future__ import annotations

import json
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from everyline.rules.annotate import spell_each
from everyline.rules.line import Event
from everyline.rules.line_text import format_line, rests
from everyline.rules.ruleset import Rules
from everyline.rules.taste import Taste, default_taste
from everyline.solver.column_roughness import ColumnRoughness
from everyline.solver.column_strangeness import ColumnStrangeness
from everyline.solver.columns import Batch, Columns, look_up
from everyline.solver.diagram import Diagram
from everyline.text.rows import NOTES_COLUMNS

FIRST_LINES = 1000
"""Lines of the first batch: whoever wants to see only some has them at once."""
BATCH_BYTES = 2 << 20
"""About how large a batch of rows is, before zeros are dropped; small enough for a processor's cache."""

Words = npt.NDArray[np.bytes_]
"""Words of one width, shape (lines,), filled up with zero bytes."""
Piece = Words | bytes
"""A part of every row: its words, or one word for all."""


def texts(
    rules: Rules, diagram: Diagram, first: int, last: int, form: str, taste: Taste | None = None
) -> Iterator[str]:
    """Lines ``first`` to ``last`` as text, a batch at a time, with the strangeness under a taste (the default
    one where it is None). Raises IndexError for lines there are not."""
    columns = Columns(diagram)
    kinds: dict[str, Callable[[Rules, Columns, Taste], _Rows]] = {"text": _Text, "jsonl": _Jsonl, "csv": _Csv}
    rows = kinds[form](rules, columns, taste or default_taste())
    if rows.head:
        yield rows.head
    size = max(1, min(columns.batch_lines, BATCH_BYTES // (rows.width + len(str(last)) + 1)))
    early = min(last, first + FIRST_LINES - 1)
    for batch in columns.batches(first, early, size, reuse=True):
        yield rows.rows(batch).decode()
    for batch in columns.batches(early + 1, last, size, reuse=True):
        yield rows.rows(batch).decode()


def _words(texts: Sequence[str]) -> Words:
    words: Words = np.array([text.encode() for text in texts], dtype=np.bytes_)
    return words


def join(pieces: Sequence[Piece], lines: int) -> bytearray:
    """Rows whose parts are the pieces, in order."""
    made = [np.bytes_(piece) if isinstance(piece, bytes) else piece for piece in pieces]
    kind = np.dtype([(str(place), piece.dtype) for place, piece in enumerate(made)])
    room = bytearray(kind.itemsize * lines)
    table = np.frombuffer(room, dtype=kind)
    for place, piece in enumerate(made):
        table[str(place)] = piece
    return room.translate(None, b"\0")


class _Rows(ABC):
    """Rows of one format. ``width`` is about how many bytes a row takes in memory, numbers aside."""

    head = ""

    def __init__(self, rules: Rules, columns: Columns, taste: Taste) -> None:
        self.rules, self.columns = rules, columns
        self.roughness = ColumnRoughness(rules.weights)
        self.strangeness = ColumnStrangeness(rules, columns, taste)
        self.width = 1

    @abstractmethod
    def rows(self, batch: Batch) -> bytearray:
        """A batch as rows."""

    def _tables(self, word: Callable[[Event], str]) -> list[Words]:
        """For each column the words of its codes, and as the last one that of no note."""
        return [_words([*map(word, events), ""]) for events in self.columns.events]

    def _places(self, batch: Batch, column: int) -> npt.NDArray[Any]:
        """Where each line's word stands in a table of a column."""
        most = len(self.columns.events[column])
        places: npt.NDArray[Any] = np.minimum(batch.codes[column], most).astype(np.intp)
        return places


class _Text(_Rows):
    """The line as it is typed, behind its number and a tab."""

    def __init__(self, rules: Rules, columns: Columns, taste: Taste) -> None:
        super().__init__(rules, columns, taste)
        self.first = self._tables(lambda event: format_line(rules, [event], spell_each(rules, [event])))
        self.further = self._tables(self._token)
        widest = zip(self.first, self.further, strict=True)
        self.width = sum(max(a.itemsize, b.itemsize) + 1 for a, b in widest)
        self.ends = [np.array([*(event.end for event in events), 0], np.int32) for events in columns.events]

    def _token(self, event: Event) -> str:
        """The token, without where a line that began there would start."""
        text = format_line(self.rules, [event], spell_each(self.rules, [event]))
        return " " + text.split(" ")[-1]

    def rows(self, batch: Batch) -> bytearray:
        pieces: list[Piece] = [*numbers(batch), b"\t"]
        begun = np.zeros(len(batch), dtype=bool)
        end = np.zeros(len(batch), dtype=np.int32)
        for column, tick in enumerate(self.columns.ticks):
            places = self._places(batch, column)
            present = places < len(self.columns.events[column])
            pieces += self._gaps(np.where(begun & present, tick - end, 0))
            further = look_up(self.further[column], places)
            fresh = present & ~begun
            if fresh.any():
                further = np.where(fresh, look_up(self.first[column], places), further)
            pieces.append(further)
            end = np.where(present, look_up(self.ends[column], places), end)
            begun |= present
        return join([*pieces, b"\n"], len(batch))

    def _gaps(self, gaps: npt.NDArray[np.int32]) -> list[Piece]:
        """The rests before a note."""
        if gaps.max(initial=0) <= 0:
            return []
        sizes, places = np.unique(gaps, return_inverse=True)
        words = [" " + " ".join(rests(size, self.rules)) if size > 0 else "" for size in sizes.tolist()]
        return [look_up(_words(words), places)]


class _Jsonl(_Rows):
    """One JSON object a line."""

    def __init__(self, rules: Rules, columns: Columns, taste: Taste) -> None:
        super().__init__(rules, columns, taste)
        self.first = self._tables(_note)
        self.further = self._tables(lambda event: ", " + _note(event))
        self.width = 60 + sum(table.itemsize for table in self.further)

    def rows(self, batch: Batch) -> bytearray:
        pieces: list[Piece] = [b'{"number": ', *numbers(batch), b', "roughness": ']
        pieces += [*digits(self.roughness(batch)), b', "strangeness": ']
        pieces += [*signed(self.strangeness(batch)), b', "notes": [']
        begun = np.zeros(len(batch), dtype=bool)
        for column in range(len(self.columns.ticks)):
            places = self._places(batch, column)
            words = look_up(self.further[column], places)
            if not begun.all():
                words = np.where(begun, words, look_up(self.first[column], places))
                begun |= places < len(self.columns.events[column])
            pieces.append(words)
        return join([*pieces, b"]}\n"], len(batch))


def _note(event: Event) -> str:
    return json.dumps({"tick": event.onset, "length": event.length, "pitch": event.pitch})


class _Csv(_Rows):
    """One note a row."""

    head = ",".join(NOTES_COLUMNS) + "\n"

    def __init__(self, rules: Rules, columns: Columns, taste: Taste) -> None:
        super().__init__(rules, columns, taste)
        tables = [[f",{e.onset},{e.length},{e.pitch}\n" for e in events] for events in columns.events]
        self.words = _words([word for table in tables for word in table])
        self.starts = np.cumsum([0, *map(len, tables)])[:-1]
        self.width = len(tables) * (self.words.itemsize + 40)

    def rows(self, batch: Batch) -> bytearray:
        codes = np.ascontiguousarray(batch.codes.T)
        line, column = np.nonzero(codes != self.columns.absent)
        words = look_up(self.words, codes[line, column] + look_up(self.starts, column))
        counts = np.bincount(line, minlength=len(batch))
        before = np.cumsum(counts) - counts
        places = np.arange(1, len(line) + 1) - look_up(before, line)
        own: list[Piece] = [*numbers(batch), b",", *digits(self.roughness(batch)), b","]
        own += [*signed(self.strangeness(batch)), b","]
        pieces = [piece if isinstance(piece, bytes) else look_up(piece, line) for piece in own]
        return join([*pieces, *digits(places), words], len(line))


# -- numbers -------------------------------------------------------------------------------------------------

_GROUP = 10**4
_FULL, _NONE = _GROUP, 2 * _GROUP
_DIGITS = _words([*map(str, range(_GROUP)), *(f"{each:04}" for each in range(_GROUP)), ""])
"""Four digits: without leading zeros, with them, and none at all."""
LOW = _GROUP**4
"""Numbers below are written by their groups of four digits; of larger ones the lower sixteen digits are."""


def numbers(batch: Batch) -> list[Piece]:
    """The numbers of a batch's lines, of any size."""
    high, low = divmod(batch.first, LOW)
    if low + len(batch) > LOW:
        return [_words([str(batch.first + place) for place in range(len(batch))])]
    values = np.arange(low, low + len(batch), dtype=np.int64)
    return digits(values) if not high else [str(high).encode(), *_padded(values)]


def digits(values: npt.NDArray[Any]) -> list[Piece]:
    """Whole numbers from 0 on, written in decimal."""
    left, group = np.divmod(values, _GROUP)
    found: list[Piece] = [look_up(_DIGITS, group + _FULL * (left > 0))]
    while left.any():
        rest, group = np.divmod(left, _GROUP)
        found.append(look_up(_DIGITS, np.where(left > 0, group + _FULL * (rest > 0), _NONE)))
        left = rest
    return found[::-1]


def signed(values: npt.NDArray[Any]) -> list[Piece]:
    """Whole numbers, written in decimal."""
    return [np.where(values < 0, b"-", b""), *digits(np.abs(values))]


def _padded(values: npt.NDArray[np.int64]) -> list[Piece]:
    """Numbers below LOW with all their sixteen digits."""
    return [look_up(_DIGITS, _FULL + values // _GROUP**place % _GROUP) for place in (3, 2, 1, 0)]
