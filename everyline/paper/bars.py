"""A line laid out in bars: written values, rests, beams and chord symbols, ready for any kind of staff."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from everyline.paper.beams import Beams, beam
from everyline.paper.note_values import FINEST, Stretch, WrittenMeter, WrittenNote, write_bar
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.chords import Chord


@dataclass(frozen=True, slots=True)
class PlacedChord:
    """A chord symbol in a bar, ``at`` 480 to a quarter note from the bar line."""

    at: int
    chord: Chord


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar. ``number`` counts from 1, a pickup is bar 0; lengths are 480 to a quarter note.

    ``written`` fills the bar without gaps; ``beams`` has one entry for each of its notes and rests.
    """

    number: int
    length: int
    written: tuple[WrittenNote, ...]
    beams: tuple[Beams, ...]
    chords: tuple[PlacedChord, ...]

    @property
    def pickup(self) -> bool:
        """Whether it is a pickup bar, shorter than the meter."""
        return self.number == 0


def meter_of(line: AnnotatedLine) -> WrittenMeter:
    """The meter of the line's changes, as it is written."""
    meter = line.rules.progression.meter
    return WrittenMeter(meter.count, meter.unit)


def quarter_ticks(ticks: int, line: AnnotatedLine) -> int:
    """Ticks (480 a beat) as lengths of 480 to a quarter note. Raises ValueError where that is no whole
    number.
    """
    meter = line.rules.progression.meter
    value = meter.value(ticks)
    if value is None:
        raise ValueError(f"{ticks} ticks in a meter of {meter} have no note value")
    return value


def bars_of(
    line: AnnotatedLine,
    *,
    fours: bool = True,
    whole_form: bool = True,
    blanks: frozenset[int] = frozenset(),
) -> tuple[Bar, ...]:
    """The line in bars: a pickup bar if it needs one, then from bar 1 to the end of the form.

    ``fours`` beams plain eighths of 4/4 by half a bar; without ``whole_form`` the last bar is the one in
    which the line ends. A line that outlasts its changes gets the bars that it needs. ``blanks`` are
    notes (by index) that will not be printed.
    """
    meter = meter_of(line)
    spans = [(quarter_ticks(n.onset, line), quarter_ticks(n.onset + n.length, line)) for n in line.notes]
    end = max((end for _, end in spans), default=0)
    needed = -(-end // meter.bar)
    count = max(needed, line.rules.progression.bars) if whole_form else max(needed, 1)
    first = min((start for start, _ in spans), default=0)
    chords = _chords(line)
    edges = [(number * meter.bar, (number + 1) * meter.bar) for number in range(count)]
    if first < 0:
        edges.insert(0, (-_pickup(-first, meter), 0))
    bars = []
    for start, stop in edges:
        offset = meter.bar - (stop - start) if start < 0 else 0
        written = write_bar(_pieces(spans, start, stop), meter, stop - start, offset)
        bars.append(
            Bar(
                stop // meter.bar,
                stop - start,
                tuple(written),
                tuple(beam(written, meter, offset, fours, blanks)),
                tuple(PlacedChord(at - start, chord) for at, chord in chords if start <= at < stop),
            )
        )
    return tuple(bars)


def _pickup(length: int, meter: WrittenMeter) -> int:
    """Length of the pickup bar: as long as its notes, or whole beats where they are triplets."""
    return length if length % FINEST == 0 else -(-length // meter.beat) * meter.beat


def _chords(line: AnnotatedLine) -> list[tuple[int, Chord]]:
    """Each change and where it stands; the one chord of a vamp is written once."""
    progression = line.rules.progression
    found: list[tuple[int, Chord]] = []
    for start, chord in zip(progression.starts, progression.chords, strict=True):
        if not found or found[-1][1].key != chord.key:
            found.append((quarter_ticks(start * progression.slot_ticks, line), chord))
    return found


def _pieces(spans: list[tuple[int, int]], start: int, stop: int) -> Iterator[Stretch]:
    """What sounds from ``start`` to ``stop``, with the silences between, counted from ``start``."""
    at = start
    for index, (onset, end) in enumerate(spans):
        if end <= start or onset >= stop:
            continue
        if onset > at:
            yield Stretch(at - start, onset - start, None)
        at = min(end, stop)
        yield Stretch(max(onset, start) - start, at - start, index, onset < start, end > stop)
    if at < stop:
        yield Stretch(at - start, stop - start, None)
