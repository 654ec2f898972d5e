"""What the columns of an exported set of lines are, and how a batch becomes a table of them."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa

from everyline.parallel.facet_columns import NOTE_FACETS, READING_FACETS, WORDS, NoteFacets, ReadingFacets
from everyline.rules.annotate import annotate
from everyline.rules.ruleset import Rules
from everyline.solver.column_roughness import ColumnRoughness
from everyline.solver.columns import Batch, Columns

FORMAT = 3
"""Raised when there are other columns, or the meaning of any changes."""
LARGEST_NUMBER = 2**63 - 1


@dataclass(frozen=True, slots=True)
class Field:
    """One column: name, Arrow type, what it says; ``column`` is the column of notes that it is read off."""

    name: str
    kind: pa.DataType
    says: str
    column: int | None = None


class Schema:
    """The columns for one set of lines.

    ``number`` is a whole number where the whole set has at most 2^63 - 1 lines, else its decimal digits as
    text. A pitch is a sounding MIDI number, null where no note begins; lengths have a column only where notes
    with that onset differ in it, and stand in the schema's metadata for all other onsets. With ``roles`` come
    the ending and each note's role in the analysis that is shown, and what any analysis has.
    """

    def __init__(self, rules: Rules, columns: Columns, roles: bool = False) -> None:
        self.rules, self.columns, self.roles = rules, columns, roles
        self.roughness = ColumnRoughness(rules.weights)
        small = columns.count <= LARGEST_NUMBER
        self.number = Field("number", pa.int64() if small else pa.string(), "place in the order, from 1")
        self.fields = [self.number, Field("roughness", pa.int32(), "lower is smoother")]
        self.fields += [Field(each.name, each.kind, each.says) for each in NOTE_FACETS]
        self.facets = NoteFacets(rules, columns)
        self.readings = ReadingFacets(rules, columns) if roles else None
        self.pitches: list[Field] = []
        self.lengths: list[Field] = []
        self.role_fields: list[Field] = []
        self.fixed: dict[int, int] = {}
        for place, (tick, events) in enumerate(zip(columns.ticks, columns.events, strict=True)):
            self.pitches.append(Field(f"pitch_{tick}", pa.uint8(), f"MIDI pitch, onset {tick}", place))
            lengths = {event.length for event in events}
            if len(lengths) > 1:
                says = f"length in ticks, onset {tick}"
                self.lengths.append(Field(f"length_{tick}", pa.uint16(), says, place))
            else:
                self.fixed[tick] = lengths.pop()
            if roles:
                self.role_fields.append(
                    Field(f"role_{tick}", WORDS, f"role of the note, onset {tick}", place)
                )
        self.fields += self.pitches + self.lengths
        if roles:
            self.fields += [Field("ending", WORDS, "name of the ending"), *self.role_fields]
            self.fields += [Field(each.name, each.kind, each.says) for each in READING_FACETS]
        self.arrow = pa.schema(
            [pa.field(each.name, each.kind, each is not self.number) for each in self.fields],
            metadata={"everyline": json.dumps(self.metadata(), sort_keys=True)},
        )

    def metadata(self) -> dict[str, Any]:
        """What a reader must know beside the columns: units, onsets, the lengths that never differ."""
        return {
            "format": FORMAT,
            "ticks_per_beat": 480,
            "meter": str(self.rules.progression.meter),
            "beat": self.rules.progression.meter.beat_name,
            "onsets": list(self.columns.ticks),
            "lengths": {str(tick): length for tick, length in self.fixed.items()},
            "changes": " ".join(self.rules.progression.text.split()),
        }

    def table(self, batch: Batch) -> pa.Table:
        """A batch as an Arrow table, one row a line."""
        numbers: pa.Array
        if pa.types.is_integer(self.number.kind):
            numbers = pa.array(np.arange(batch.first, batch.first + len(batch), dtype=np.int64))
        else:
            numbers = pa.array([str(batch.first + place) for place in range(len(batch))])
        arrays = [numbers, pa.array(self.roughness(batch)), *self.facets.arrays(batch)]
        for found, fields in ((batch.pitches, self.pitches), (batch.lengths, self.lengths)):
            for field in fields:
                absent = batch.codes[field.column] == self.columns.absent
                arrays.append(pa.array(found(field.column), mask=absent if absent.any() else None))
        if self.readings is not None:
            arrays += self._roles(batch, self.readings)
        return pa.Table.from_arrays(arrays, schema=self.arrow)

    def _roles(self, batch: Batch, readings: ReadingFacets) -> list[pa.Array]:
        """The ending, roles by onset, and what any analysis has: the one thing that looks at every line by
        itself."""
        place = {tick: column for column, tick in enumerate(self.columns.ticks)}
        endings: list[str] = []
        roles: list[list[str | None]] = [[None] * len(batch) for _ in place]
        read: list[tuple[list[str], ...]] = []
        for row in range(len(batch)):
            events = batch.line(row)
            read.append(readings.values(events))
            line = annotate(self.rules, events)
            endings.append(line.ending)
            for note in line.notes:
                roles[place[note.onset]][row] = note.role
        columns = zip(*read, strict=True)
        lists = [pa.array(each, field.kind) for each, field in zip(columns, READING_FACETS, strict=True)]
        return [_words(endings), *map(_words, roles), *lists]


def _words(values: Sequence[str | None]) -> pa.Array:
    return pa.array(values, pa.string()).dictionary_encode().cast(WORDS)
