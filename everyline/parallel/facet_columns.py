"""What one counts lines by, as columns: first and last note, range, leaps, positions; with roles, what the
analyses have.

The first kind is read off the notes, a batch at a time. A facet of the same name counts the same lines.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from everyline.rules.line import Event
from everyline.rules.ruleset import Rules
from everyline.solver.columns import ABSENT, Batch, Columns, look_up
from everyline.solver.figure_marks import FIGURE, trace
from everyline.solver.line_marks import LineMarks
from everyline.solver.properties.base import MarkReader
from everyline.solver.properties.fretboard import every_position, hand_positions, position_masks
from everyline.solver.properties.start import entry_beat
from everyline.solver.properties.table import PROPERTIES

WORDS = pa.dictionary(pa.int16(), pa.string())
Values = npt.NDArray[Any]


@dataclass(frozen=True, slots=True)
class FacetColumn:
    """One column: name, Arrow type, what it says."""

    name: str
    kind: pa.DataType
    says: str


NOTE_FACETS = (
    FacetColumn("notes", pa.uint16(), "number of notes"),
    FacetColumn("start_pitch", pa.uint8(), "MIDI pitch of the first note"),
    FacetColumn("start_degree", WORDS, "first note as a degree of the first chord"),
    FacetColumn("entry_beat", WORDS, "beat on which the line starts"),
    FacetColumn("end_pitch", pa.uint8(), "MIDI pitch of the last note"),
    FacetColumn("end_degree", WORDS, "last note as a degree of the chord it sounds over"),
    FacetColumn("lowest_pitch", pa.uint8(), "MIDI pitch of the lowest note"),
    FacetColumn("highest_pitch", pa.uint8(), "MIDI pitch of the highest note"),
    FacetColumn("range_semitones", pa.uint8(), "semitones from the lowest note to the highest"),
    FacetColumn("largest_leap", pa.uint8(), "semitones of the widest interval from note to note"),
    FacetColumn("direction_changes", pa.uint16(), "how often the line turns from up to down or back"),
    FacetColumn("outside_notes", pa.uint16(), "notes that are not chord tones of the chord they sound over"),
    FacetColumn("positions", pa.uint64(), "fretboard positions that hold the line: bit f for lowest fret f"),
)
"""Read off the notes."""

_LIST = pa.list_(pa.string())
READING_FACETS = (
    FacetColumn("figures", _LIST, 'approach figures of any analysis; "no figure" where one has none'),
    FacetColumn("targets", _LIST, "degree and beat on which a figure lands, in any analysis"),
    FacetColumn("passing", _LIST, "kinds of passing notes of any analysis"),
    FacetColumn("handoffs", _LIST, "note on which each new chord is entered, in any analysis"),
    FacetColumn("endings", _LIST, "endings of any analysis"),
)
"""Only with roles."""


class NoteFacets:
    """The columns of NOTE_FACETS for batches of one set of lines."""

    def __init__(self, rules: Rules, columns: Columns) -> None:
        self.rules, self.columns = rules, columns
        first = rules.progression.chords[0]
        self.start_degrees = _Named(columns, lambda event: first.degree_of(event.pitch))
        self.entry_beats = _Named(columns, lambda event: entry_beat(rules, event.onset // rules.slot_ticks))
        self.end_degrees = _Named(
            columns, lambda event: rules.progression.chords[rules.note(event).chord].degree_of(event.pitch)
        )
        board, strings, span = hand_positions(rules)
        masks = position_masks(board, strings, span)
        self.outside = self._tables(lambda event: not rules.note(event).chord_tone, np.uint16, 0)
        self.positions = self._tables(lambda event: masks.get(event.pitch, 0), np.uint64, 2**64 - 1)
        self.every = every_position(board, span)

    def _tables(self, value: Callable[[Event], int], kind: Any, absent: int) -> list[Values]:
        """For each column the values of its codes, and as the last one that of no note."""
        return [np.array([*map(value, events), absent], dtype=kind) for events in self.columns.events]

    def arrays(self, batch: Batch) -> list[pa.Array]:
        """One array for each of NOTE_FACETS."""
        lines = len(batch)
        melody = _Melody(lines)
        outside = np.zeros(lines, dtype=np.uint16)
        positions = np.full(lines, self.every, dtype=np.uint64)
        starts, beats, ends = (
            np.zeros(lines, dtype=np.int16) for _ in (self.start_degrees, self.entry_beats, self.end_degrees)
        )
        for column, events in enumerate(self.columns.events):
            places = np.minimum(batch.codes[column], len(events)).astype(np.intp)
            present = places < len(events)
            fresh = present & (melody.notes == 0)
            if fresh.any():
                starts = np.where(fresh, look_up(self.start_degrees.codes[column], places), starts)
                beats = np.where(fresh, look_up(self.entry_beats.codes[column], places), beats)
            ends = np.where(present, look_up(self.end_degrees.codes[column], places), ends)
            outside += look_up(self.outside[column], places)
            positions &= look_up(self.positions[column], places)
            melody.take(batch.pitches(column), present)
        return [
            pa.array(melody.notes),
            pa.array(melody.start),
            self.start_degrees.array(starts),
            self.entry_beats.array(beats),
            pa.array(melody.last),
            self.end_degrees.array(ends),
            pa.array(melody.lowest),
            pa.array(melody.highest),
            pa.array(melody.highest - melody.lowest),
            pa.array(melody.leap),
            pa.array(melody.changes),
            pa.array(outside),
            pa.array(positions),
        ]


class _Melody:
    """What the pitches of many lines say, note after note."""

    def __init__(self, lines: int) -> None:
        self.notes = np.zeros(lines, dtype=np.uint16)
        self.start = np.zeros(lines, dtype=np.uint8)
        self.last = np.zeros(lines, dtype=np.uint8)
        self.lowest = np.full(lines, ABSENT, dtype=np.uint8)
        self.highest = np.zeros(lines, dtype=np.uint8)
        self.leap = np.zeros(lines, dtype=np.uint8)
        self.changes = np.zeros(lines, dtype=np.uint16)
        self._way = np.zeros(lines, dtype=np.int8)

    def take(self, pitches: npt.NDArray[np.uint8], present: npt.NDArray[np.bool_]) -> None:
        """One more column: the pitch where a note is present, else ABSENT."""
        follows = present & (self.notes > 0)
        step = np.where(follows, pitches.astype(np.int16) - self.last, 0)
        way = np.sign(step).astype(np.int8)
        self.changes += way * self._way < 0
        self._way = np.where(way != 0, way, self._way)
        self.leap = np.maximum(self.leap, np.abs(step).astype(np.uint8))
        self.lowest = np.minimum(self.lowest, pitches)
        sounding = np.where(present, pitches, 0).astype(np.uint8)
        self.highest = np.maximum(self.highest, sounding)
        self.start = np.where(self.notes == 0, sounding, self.start)
        self.last = np.where(present, pitches, self.last)
        self.notes += present


class _Named:
    """A value in words for each event, as codes by column; the words in the order of the events."""

    def __init__(self, columns: Columns, word: Callable[[Event], str]) -> None:
        self.words: dict[str, int] = {}
        self.codes = [
            np.array([*(self._code(word(event)) for event in events), 0], dtype=np.int16)
            for events in columns.events
        ]

    def _code(self, word: str) -> int:
        return self.words.setdefault(word, len(self.words))

    def array(self, codes: Values) -> pa.Array:
        return pa.DictionaryArray.from_arrays(pa.array(codes), pa.array(list(self.words), pa.string()))


class ReadingFacets:
    """The columns of READING_FACETS, line by line."""

    def __init__(self, rules: Rules, columns: Columns) -> None:
        graph = trace(rules, columns.diagram)
        self._marks = LineMarks(columns.diagram, graph)
        self._readers: list[MarkReader] = []
        for column in READING_FACETS:
            read = next(each.marks for each in PROPERTIES.values() if each.column == column.name)
            assert read is not None  # every column of READING_FACETS is one of the analyses
            self._readers.append(read(rules))

    def values(self, line: Sequence[Event]) -> tuple[list[str], ...]:
        """One list for each of READING_FACETS."""
        marks, bare = self._marks(tuple(line))
        found = []
        for reader in self._readers:
            words = {reader.label(mark) for mark in marks if mark.kind == reader.kind}
            if bare and reader.kind == FIGURE and reader.without is not None:
                words.add(reader.without)
            found.append(sorted(words))
        return tuple(found)
