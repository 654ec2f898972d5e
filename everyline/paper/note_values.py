"""Note values: how sounding lengths are written within a bar, with dots, ties, triplets and rests.

Time here is in units of 480 to a *quarter note*, from the bar line. Note values follow engraving practice: a
bar's middle stays visible, a note off the beat reaches over one beat at most, rests stand on multiples of
their own value (E. Gould, Behind Bars, 2011, chapters on grouping and rests; from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

QUARTER = 480
WHOLE = 4 * QUARTER

TYPES: dict[int, str] = {
    2 * WHOLE: "breve",
    WHOLE: "whole",
    960: "half",
    480: "quarter",
    240: "eighth",
    120: "16th",
    60: "32nd",
    30: "64th",
    15: "128th",
}
"""MusicXML's names of the undotted values, by length."""

FINEST = 15
_VALUES = sorted([(v, v, 0) for v in TYPES] + [(v * 3 // 2, v, 1) for v in TYPES if v > FINEST], reverse=True)
_WINDOWS = (120, 240, 480, 960, 1920)


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of a bar before it is written: a note (by its index in the line) or, with None, a rest."""

    start: int
    end: int
    note: int | None
    tie_in: bool = False
    tie_out: bool = False


@dataclass(frozen=True, slots=True)
class Tuplet:
    """A triplet: ``start`` and ``size`` are sounding, ``size`` a plain value's length; three of its halves
    fill it.
    """

    start: int
    size: int

    @property
    def end(self) -> int:
        """Where it ends."""
        return self.start + self.size


@dataclass(frozen=True, slots=True)
class WrittenNote:
    """One written note or rest. ``value`` is the undotted length that names its type; ``length`` sounds."""

    start: int
    length: int
    value: int
    dots: int
    note: int | None
    tie_in: bool = False
    tie_out: bool = False
    tuplet: Tuplet | None = None
    whole_bar: bool = False

    @property
    def type(self) -> str:
        """MusicXML's name of the value."""
        return TYPES[self.value]

    @property
    def end(self) -> int:
        """Where it ends."""
        return self.start + self.length


@dataclass(frozen=True, slots=True)
class WrittenMeter:
    """A meter as it is written: its upper figure, and the note value of its lower one (4 a quarter)."""

    beats: int
    unit: int

    @property
    def beat(self) -> int:
        """Length of a beat."""
        return WHOLE // self.unit

    @property
    def bar(self) -> int:
        """Length of a bar."""
        return self.beats * self.beat

    @property
    def compound(self) -> bool:
        """Whether eighths go in threes, as in 6/8."""
        return self.unit == 8 and self.beats % 3 == 0

    @property
    def middle(self) -> int | None:
        """Where the bar divides in two halves that must stay visible; None where it does not."""
        return self.bar // 2 if not self.compound and self.beats % 2 == 0 and self.beats > 2 else None


def write_bar(
    pieces: Iterable[Stretch], meter: WrittenMeter, length: int, offset: int = 0
) -> list[WrittenNote]:
    """Write the pieces of one bar, in order and without gaps, as note values.

    ``length`` is the bar's own length and ``offset`` where it begins in a full bar: a pickup bar has the last
    part of one. Raises ValueError for a length that no value or triplet can show.
    """
    pieces = [replace(each, start=each.start + offset, end=each.end + offset) for each in pieces]
    if len(pieces) == 1 and pieces[0].note is None and length == meter.bar:
        return [WrittenNote(0, length, WHOLE, 0, None, whole_bar=True)]
    points = {offset, offset + length, *(p.start for p in pieces), *(p.end for p in pieces)}
    tuplets = find_tuplets(points, meter, offset, offset + length)
    written = []
    for piece in pieces:
        values = [value for part in _cut(piece, tuplets) for value in _values(part, tuplets, meter)]
        for place, value in enumerate(values):
            if piece.note is not None:
                first, last = place == 0, place == len(values) - 1
                value = replace(value, tie_in=not first or piece.tie_in, tie_out=not last or piece.tie_out)
            written.append(replace(value, start=value.start - offset, tuplet=_moved(value.tuplet, -offset)))
    return written


def _moved(tuplet: Tuplet | None, by: int) -> Tuplet | None:
    return None if tuplet is None else Tuplet(tuplet.start + by, tuplet.size)


# -- triplets ------------------------------------------------------------------------------------------------


def find_tuplets(points: set[int], meter: WrittenMeter, first: int, last: int) -> list[Tuplet]:
    """The triplets that a bar needs, given every moment where something begins or ends."""
    found: list[Tuplet] = []
    for point in sorted(p for p in points if p % FINEST):
        if any(tuplet.start < point < tuplet.end for tuplet in found):
            continue
        choices = [
            tuplet
            for size in _WINDOWS
            for tuplet in [Tuplet(point // size * size, size)]
            if _holds(tuplet, points, meter, first, last)
            and not any(tuplet.start < other.end and other.start < tuplet.end for other in found)
        ]
        if not choices:
            raise ValueError(f"a note that begins or ends at {point} of 480 to a quarter has no note value")
        closed = [t for t in choices if t.start in points and t.end in points]
        beat = [t for t in choices if t.size == meter.beat]
        found.append((closed or beat or choices)[0])
    return found


def _holds(tuplet: Tuplet, points: set[int], meter: WrittenMeter, first: int, last: int) -> bool:
    """Whether a triplet lies in the bar, keeps to its groups, and has everything inside on its sixths; one
    that is longer than a beat, and so hides beats, on its thirds.
    """
    if tuplet.start < first or tuplet.end > last:
        return False
    if meter.compound and tuplet.start // 720 != (tuplet.end - 1) // 720:
        return False
    inside = [p - tuplet.start for p in points if tuplet.start < p < tuplet.end]
    parts = 3 if tuplet.size > meter.beat else 6
    return all(p * parts % tuplet.size == 0 for p in inside)


def _cut(piece: Stretch, tuplets: list[Tuplet]) -> list[Stretch]:
    """The piece in parts, none of which crosses the edge of a triplet."""
    edges = {edge for tuplet in tuplets for edge in (tuplet.start, tuplet.end)}
    cuts = [piece.start, *sorted(edge for edge in edges if piece.start < edge < piece.end), piece.end]
    return [replace(piece, start=start, end=end) for start, end in pairwise(cuts)]


# -- values --------------------------------------------------------------------------------------------------


def _values(piece: Stretch, tuplets: list[Tuplet], meter: WrittenMeter) -> Iterator[WrittenNote]:
    """The values of one part of a piece, longest first as the meter allows."""
    around = next((t for t in tuplets if t.start <= piece.start and piece.end <= t.end), None)
    if around is not None and around.start == piece.start and around.end == piece.end:
        around = None
    start = piece.start
    while start < piece.end:
        for length, value, dots in _VALUES:
            sounding = length if around is None else length * 2 // 3
            if start + sounding > piece.end:
                continue
            if around is None:
                allowed = _rest_fits if piece.note is None else _note_fits
                if not allowed(start, length, dots, meter):
                    continue
            elif length * 2 % 3 or (piece.note is None and dots):
                continue
            yield WrittenNote(start, sounding, value, dots, piece.note, tuplet=around)
            start += sounding
            break
        else:
            raise ValueError(f"a length of {piece.end - start} (480 to a quarter) has no note value")


def _note_fits(start: int, length: int, dots: int, meter: WrittenMeter) -> bool:
    """Whether one note of this length reads well from here."""
    end, beat = start + length, meter.beat
    if meter.compound:
        into = start % 720
        return into + length <= 720 or (into == 0 and length % 720 == 0)
    into = start % beat
    middle = meter.middle
    if middle is not None and start < middle < end:
        # Over the middle: from beat 1, or as a whole number of beats from beat 2.
        return start == 0 or (start == beat and length % beat == 0)
    if into == 0 or into + length <= beat:
        return True
    return into * 2 == beat and length in (beat, beat * 3 // 2)


def _rest_fits(start: int, length: int, dots: int, meter: WrittenMeter) -> bool:
    """Whether one rest of this length reads well from here."""
    if meter.compound:
        into = start % 720
        return (
            (into == 0 and length == 720)
            or (meter.beats == 12 and length == 1440 and start % 1440 == 0)
            or (
                dots == 0
                and length <= 480
                and into % 240 == 0
                and into + length <= 720
                and (into == 0 or length <= 240)
            )
            or (dots == 0 and length < 240 and start % length == 0)
        )
    longest = (
        2 * meter.beat if meter.middle is not None and meter.middle % (2 * meter.beat) == 0 else meter.beat
    )
    return dots == 0 and length <= longest and start % length == 0
