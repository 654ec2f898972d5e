"""Lines as text for the music stand: bars, beats counted aloud, chords above, notes, roles and degrees
below."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from everyline.corpora.note_lengths import counted_aloud
from everyline.rules.analysis import (
    APPROACH,
    ARPEGGIO,
    ENDING,
    ENTRY,
    HANDOFF,
    PASSING,
    TARGET,
    UNEXPLAINED,
)
from everyline.rules.annotate import AnnotatedLine, AnnotatedNote
from everyline.rules.line import TICKS_PER_BEAT

WIDTH = 100
ROLE_WORDS = {
    ENTRY: "entry",
    ARPEGGIO: "arp",
    PASSING: "pass",
    APPROACH: "appr",
    TARGET: "target",
    HANDOFF: "handoff",
    ENDING: "end",
    UNEXPLAINED: "?",
}
"""How each role is written under its note."""

HELD, REST, SILENT = "–", "r", "·"
"""A note that goes on, where a rest begins, silence that goes on."""

_GRIDS = (2, 3, 4)
_HEADS = ("chord", "count", "note", "role", "degree")


@dataclass(frozen=True, slots=True)
class _Column:
    """What stands at one moment, top to bottom."""

    chord: str
    count: str
    note: str
    role: str
    degree: str

    @property
    def cells(self) -> tuple[str, ...]:
        return self.chord, self.count, self.note, self.role, self.degree

    @property
    def width(self) -> int:
        """The chord's name may run over the columns to its right, so it does not widen its own."""
        return max(len(self.count), len(self.note), len(self.role), len(self.degree), 2)


def title(line: AnnotatedLine, count: int | None = None) -> str:
    """Number, roughness, strangeness and ending of a line, in words."""
    number = (
        ""
        if line.number is None
        else f"line {line.number}" + (f" of {count}" if count is not None else "") + ", "
    )
    return f"{number}roughness {line.roughness}, strangeness {line.strangeness}, {line.ending_words}"


def draw(line: AnnotatedLine, count: int | None = None, width: int = WIDTH) -> str:
    """The line as text at most ``width`` characters wide where a single bar fits."""
    systems: list[list[str]] = []
    room = 0
    for bar in _bars(line):
        rows = _rows(bar)
        if systems and room + len(rows[1]) <= width:
            systems[-1] = [left + right for left, right in zip(systems[-1], rows, strict=True)]
            room += len(rows[1])
        else:
            systems.append([f"{head:<7}|{row}" for head, row in zip(_HEADS, rows, strict=True)])
            room = len(systems[-1][1])
    blocks = ["\n".join(row.rstrip() for row in system) for system in systems]
    return "\n".join(
        [title(line, count), *("\n" + block if place else block for place, block in enumerate(blocks))]
    )


def _rows(bar: list[_Column]) -> list[str]:
    """The five rows of one bar, each closed by a bar line and all equally long."""
    widths = [column.width + 1 for column in bar]
    rows = []
    for kind in range(5):
        row = " "
        due = 1
        for column, width in zip(bar, widths, strict=True):
            cell = column.cells[kind]
            if cell:
                row = row.ljust(due) if len(row) <= due else row + " "
                row += cell
            due += width
        rows.append(row)
    longest = max(sum(widths) + 1, *(len(row) for row in rows))
    return [row.ljust(longest) + "|" for row in rows]


def _bars(line: AnnotatedLine) -> Iterator[list[_Column]]:
    progression = line.rules.progression
    bar_ticks = progression.beats_per_bar * TICKS_PER_BEAT
    first = line.notes[0].onset
    end = line.notes[-1].onset + line.notes[-1].length
    sounding = {note.onset: note for note in line.notes}
    chords = {
        start * line.rules.slot_ticks: chord.symbol
        for start, chord in zip(progression.starts, progression.chords, strict=True)
    }
    for bar in range(first // bar_ticks, -(-end // bar_ticks)):
        start = bar * bar_ticks
        ticks = [
            t
            for beat in range(progression.beats_per_bar)
            for t in _moments(line, start + beat * TICKS_PER_BEAT)
        ]
        if bar < 0:
            ticks = [t for t in ticks if t >= first - first % TICKS_PER_BEAT]
        yield [_column(line, t, start, sounding, chords) for t, _ in ((t, None) for t in ticks)]


def _moments(line: AnnotatedLine, beat: int) -> list[int]:
    """The ticks of one beat that get a column: the coarsest grid that is counted aloud and has everything
    that begins or falls silent in it, else those moments alone.
    """
    ticks = _changes(line, beat)
    if not ticks:
        return [beat]
    # A beat is counted as the body is; a body of cells has no count of its own, so it begins with eighths.
    progression = line.rules.progression
    own = progression.meter.parts if line.rules.cells else progression.subdivision
    for parts in (own, *_GRIDS):
        grid = [beat + part * TICKS_PER_BEAT // parts for part in range(parts)]
        if ticks <= set(grid):
            return grid
    return sorted(ticks | {beat})


def _changes(line: AnnotatedLine, beat: int) -> set[int]:
    """The ticks of one beat at which a note begins or a rest within the line does."""
    onsets = {note.onset for note in line.notes}
    ends = {note.onset + note.length for note in line.notes[:-1]} - onsets
    begun = {tick for tick in onsets if beat <= tick < beat + TICKS_PER_BEAT}
    return begun | {tick for tick in ends if beat < tick < beat + TICKS_PER_BEAT}


def _column(
    line: AnnotatedLine, tick: int, bar: int, sounding: dict[int, AnnotatedNote], chords: dict[int, str]
) -> _Column:
    beat, into = divmod(tick - bar, TICKS_PER_BEAT)
    count = str(beat + 1) if into == 0 else counted_aloud(into)
    note = sounding.get(tick)
    chord = chords.get(tick, "")
    if note is None:
        return _Column(chord, count, _between(line, tick), "", "")
    return _Column(chord, count, note.name, ROLE_WORDS[note.role], note.degree)


def _between(line: AnnotatedLine, tick: int) -> str:
    """What stands where no note begins."""
    before = [note for note in line.notes if note.onset < tick]
    if not before:
        return ""
    end = before[-1].onset + before[-1].length
    if end > tick:
        return HELD
    return REST if end == tick and before[-1] is not line.notes[-1] else SILENT
