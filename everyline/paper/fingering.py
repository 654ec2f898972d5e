"""Where a line lies on a fretboard: the best path over string, fret and hand position.

A hand position is the fret under the first finger. A shortest path (Viterbi 1967) through all ways to play
each note has first the fewest leaps of six frets along a string in the time of an eighth, then the fewest
shifts of the hand, and among those the least effort: stretches, crossed strings, distance, a high place on
the neck. The figures are ours, in half steps of effort; the same line always gets the same fingering. Which
finger plays each note follows in ``fingers``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise
from math import floor
from typing import NamedTuple

from everyline.corpora.errors import InputError, did_you_mean
from everyline.paper.fingers import Placed, fingers
from everyline.rules.annotate import AnnotatedLine, AnnotatedNote
from everyline.rules.limits.fretboard import Playable
from everyline.rules.pitch import parse_pitch
from everyline.rules.ranges import DEFAULT_SPAN, Fretboard
from everyline.rules.ruleset import Rules
from everyline.rules.spelling import with_octave

OPEN_STRINGS = ("avoid", "allow", "prefer", "never")

LEAP, SHIFT = 10**12, 10**6
"""One leap outweighs any number of shifts, one shift any effort."""
LEAP_FRETS, LEAP_TIME = 6, 240
"""A leap goes so many frets along one string, in at most so long (480 a quarter note)."""
OPEN_COST = {"avoid": SHIFT, "allow": 1, "prefer": -SHIFT // 2}
"""An open string to be avoided is as bad as a shift; two that are preferred are worth one."""

SHIFT_FRET, SHIFT_HURRIED = 2, 24
STRETCH = 5
CROSSING, SKIPPED_STRING = 1, 3
SAME_FINGER = 2
WIDE_FRETS, WIDE = 4, 5
EASY_POSITION, HIGH_COST = 8, 1
HIGHEST_EASY, TOO_HIGH = 15, 20
"""Beyond this position, and beyond this fret, playing is less easy; each fret more costs so much."""
FIFTHS_SPAN = 6
"""Frets under one hand on an instrument tuned in fifths, where each finger serves two (common practice)."""


@dataclass(frozen=True, slots=True)
class Hand:
    """What the player wants. ``open_strings`` is avoid, allow, prefer or never; ``strings`` (1 the highest)
    and ``position`` (the fret under the first finger) bind the whole line, ``span`` is how many frets the
    hand covers, None for what suits the tuning. A rule file's own position and strings come first. Raises
    InputError.
    """

    open_strings: str = "avoid"
    strings: tuple[int, ...] | None = None
    position: int | None = None
    span: int | None = None

    def __post_init__(self) -> None:
        """Check the words and numbers."""
        if self.open_strings not in OPEN_STRINGS:
            raise InputError(
                f'open strings "{self.open_strings}" is none of: {", ".join(OPEN_STRINGS)}.'
                f"{did_you_mean(self.open_strings, OPEN_STRINGS)}"
            )
        if self.span is not None and not 2 <= self.span <= 12:
            raise InputError(f"a hand that spans {self.span} frets is out of reach: 2 to 12 frets.")


@dataclass(frozen=True, slots=True)
class Fretted:
    """One note on the fretboard: string (1 the highest), fret (0 open), finger (0 none, 1 to 4), hand
    position.
    """

    string: int
    fret: int
    finger: int
    position: int


@dataclass(frozen=True, slots=True)
class Fingering:
    """A whole line on the fretboard; ``cost`` is lower for the better of two fingerings of one line."""

    notes: tuple[Fretted, ...]
    cost: int

    @property
    def positions(self) -> tuple[int, ...]:
        """The hand positions in order, each once until the hand moves."""
        found: list[int] = []
        for note in self.notes:
            if note.fret and (not found or found[-1] != note.position):
                found.append(note.position)
        return tuple(found)


class _Timed(NamedTuple):
    """A note for the search: its pitch, and how long after the note before it begins (480 a quarter)."""

    pitch: int
    gap: int


@dataclass(frozen=True, slots=True)
class _Frame:
    """What binds one search: the hand covers ``span`` frets from a position, and the first finger reaches
    ``stretch`` frets back.
    """

    board: Fretboard
    strings: tuple[int, ...]
    positions: tuple[int, ...]
    span: int
    stretch: int
    open_cost: int | None


def finger(line: AnnotatedLine, board: Fretboard | None = None, hand: Hand | None = None) -> Fingering:
    """The best fingering of a line, on the rules' own instrument unless a fretboard is given.

    Raises InputError where the instrument has no frets or the line cannot be played as asked, naming the
    note.
    """
    board, hand = board or fretboard_of(line.rules), hand or Hand()
    sections = line.sections
    if len(sections) > 1 and any(_bound(each, board) for each in sections):
        # Rules of their own bind the hand in some of them; between two, it has time to move.
        found = [finger(each, board, hand) for each in sections]
        return Fingering(sum((each.notes for each in found), ()), sum(each.cost for each in found))
    return _search(_timed(line), line, _frames(line, board, hand))


def _bound(line: AnnotatedLine, board: Fretboard) -> bool:
    """Whether the line's own rules ask for a position."""
    return line.rules.position is not None or _one_position(line, board) is not None


def fretboard_of(rules: Rules) -> Fretboard:
    """The fretboard of the rules' instrument. Raises InputError where there is none."""
    board = Fretboard.of(rules.instrument) if rules.instrument is not None else None
    if board is None:
        who = f"the {rules.instrument.name}" if rules.instrument else "a line without an instrument"
        raise InputError(
            f"{who} has no frets, so there is neither tablature nor a fretboard; ask for the staff alone."
        )
    return board


def default_span(board: Fretboard) -> int:
    """How many frets one hand covers, five in fourths (a rule file's own default), six in fifths."""
    gaps = {high - low for high, low in zip(board.open, board.open[1:], strict=False)}
    return FIFTHS_SPAN if gaps == {7} else DEFAULT_SPAN


def _frames(line: AnnotatedLine, board: Fretboard, hand: Hand) -> list[_Frame]:
    """The searches to make (the cheapest counts): one for each position where the rules ask for one."""
    strings = hand.strings or board.strings
    wrong = [string for string in strings if string not in board.strings]
    if wrong:
        raise InputError(
            f"string {wrong[0]}: the {board.name} has strings 1 (the highest) to {len(board.open)}."
        )
    span, stretch, fret = hand.span or default_span(board), 1, hand.position
    bound = line.rules.position
    on_own = line.rules.instrument is not None and Fretboard.of(line.rules.instrument) == board
    if bound is not None and on_own:
        strings = (
            tuple(s for s in bound.strings if hand.strings is None or s in hand.strings) or bound.strings
        )
        span, stretch = bound.span, 0
        fret = bound.fret if bound.fret is not None else fret
    open_cost = OPEN_COST.get(hand.open_strings)
    if fret is not None:
        return [_Frame(board, strings, (fret,), span, stretch, open_cost)]
    limit = _one_position(line, board)
    if limit is None:
        return [_Frame(board, strings, tuple(range(1, board.frets + 1)), span, stretch, open_cost)]
    there = limit.positions(line.rules.notes(line.events))
    strings = hand.strings or limit.strings
    return [_Frame(board, strings, (each,), limit.span, 0, open_cost) for each in there]


def _one_position(line: AnnotatedLine, board: Fretboard) -> Playable | None:
    """The limit of the rules that asks that all notes lie in one position."""
    limits = (limit for limit in line.rules.limits if isinstance(limit, Playable))
    return next((limit for limit in limits if limit.fretboard == board), None)


# -- the search ----------------------------------------------------------------------------------------------

_Place = tuple[int, int, int]  # string, fret, hand position
_Step = tuple[int, _Place | None]  # cost of getting to a place, and the place before


def _timed(line: AnnotatedLine) -> list[_Timed]:
    """Pitch of each note, and the time since the note before began (480 to a quarter note)."""
    quarters = line.rules.progression.meter.quarters
    onsets = [floor(note.onset * quarters) for note in line.notes]
    gaps = [LEAP_TIME * 4, *(after - before for before, after in pairwise(onsets))]
    return [_Timed(note.pitch, gap) for note, gap in zip(line.notes, gaps, strict=True)]


def _search(notes: Sequence[_Timed], line: AnnotatedLine, frames: list[_Frame]) -> Fingering:
    paths = [_best(notes, frame) for frame in frames]
    found = [path for path in paths if isinstance(path, Fingering)]
    if found:
        return min(found, key=lambda each: each.cost)
    # What the search that came furthest could not reach says best what is wrong.
    place = max((path for path in paths if isinstance(path, int)), default=0)
    board, strings = frames[0].board, frames[0].strings
    where = "any string" if strings == board.strings else f"strings {', '.join(map(str, strings))}"
    raise InputError(
        f"note {place + 1}, {line.notes[place].name}, cannot be reached on {where} of the {board.name} "
        f"as asked; allow more strings or another position, or choose another line."
    )


def _best(notes: Sequence[_Timed], frame: _Frame) -> Fingering | int:
    """The best path through all places of each note, or the index of the first note that has none."""
    layers: list[dict[_Place, _Step]] = []
    for index, note in enumerate(notes):
        places = _places(note.pitch, frame)
        if not places:
            return index
        layers.append(_layer(places, layers[-1] if layers else None, note.gap, frame))
        if not layers[-1]:
            return index
    place, (cost, _) = min(layers[-1].items(), key=lambda item: (item[1][0], item[0]))
    path: list[_Place] = []
    at: _Place | None = place
    for layer in reversed(layers):
        assert at is not None
        path.append(at)
        at = layer[at][1]
    path.reverse()
    played = fingers([Placed(*each) for each in path], frame.span)
    return Fingering(
        tuple(Fretted(s, f, each, p) for (s, f, p), each in zip(path, played, strict=True)), cost
    )


def _places(pitch: int, frame: _Frame) -> list[_Place]:
    """Every way to play a pitch: string, fret, hand position. An open string leaves the hand where it is."""
    places = []
    for string in frame.strings:
        fret = pitch - frame.board.open[string - 1]
        if not 0 <= fret <= frame.board.frets:
            continue
        for position in frame.positions:
            low = position - frame.stretch if position > 1 else position
            reached = low <= fret < position + frame.span
            if (fret == 0 and (reached or frame.open_cost is not None)) or (fret > 0 and reached):
                if fret == 0 and len(frame.positions) == 1 and position > 0:
                    continue
                places.append((string, fret, position))
    return places


def _layer(
    places: list[_Place], before: dict[_Place, _Step] | None, gap: int, frame: _Frame
) -> dict[_Place, _Step]:
    """For each place of a note, the least cost of getting there and the place that it was reached from."""
    layer: dict[_Place, _Step] = {}
    if before is None:
        return {place: (_own_cost(place, frame), None) for place in places}
    furthest = SHIFT_FRET * frame.board.frets + SHIFT_HURRIED
    # What a move costs splits in two, so by hand position first: cross to the string, then shift the hand.
    for string, fret in sorted({(place[0], place[1]) for place in places}):
        reached: dict[tuple[int, bool], tuple[int, _Place]] = {}
        for origin, (cost, _) in before.items():
            step = (cost + _crossing(origin, string, fret, gap), origin)
            hand = (origin[2], origin[1] == 0)
            if hand not in reached or step < reached[hand]:
                reached[hand] = step
        least = min(cost for cost, _ in reached.values())
        # From a hand that is dearer than the cheapest by all that shifts can differ in, none ever shifts.
        near = [
            (hand, is_open, cost, origin)
            for (hand, is_open), (cost, origin) in reached.items()
            if fret > 0 and cost <= least + furthest
        ]
        for place in places:
            if place[0] != string:
                continue
            position = place[2]
            stays = [reached[hand] for hand in ((position, False), (position, True)) if hand in reached]
            moves = [
                (cost + _shift(position - hand, is_open, gap), origin)
                for hand, is_open, cost, origin in near
                if hand != position
            ]
            if stays or moves:
                cost, origin = min(stays + moves)
                layer[place] = (cost + _own_cost(place, frame), origin)
    return layer


def _own_cost(place: _Place, frame: _Frame) -> int:
    """What it costs to play there, wherever the hand comes from."""
    _, fret, position = place
    if fret == 0 and position > 0:
        return frame.open_cost or 0
    stretched = fret < position or fret >= position + min(frame.span, 4)
    high = HIGH_COST * max(0, position - EASY_POSITION) + TOO_HIGH * max(0, fret - HIGHEST_EASY)
    return STRETCH * stretched + high


def _crossing(origin: _Place, string: int, fret: int, gap: int) -> int:
    """Cost of going to another string or far along the same one, ``gap`` after the note before began."""
    strings, frets = abs(origin[0] - string), abs(origin[1] - fret)
    fretted = fret > 0 and origin[1] > 0
    if strings == 0:
        return LEAP * (fretted and frets >= LEAP_FRETS and gap <= LEAP_TIME)
    rolled = SAME_FINGER if frets == 0 and fretted else 0
    wide = WIDE * (fretted and frets > WIDE_FRETS)
    return CROSSING + SKIPPED_STRING * (strings - 1) + rolled + wide


def _shift(frets: int, after_open: bool, gap: int) -> int:
    """Cost of moving the hand; with an open string or a longer note before, there is time for it."""
    if frets == 0:
        return 0
    in_time = after_open or gap > LEAP_TIME
    return SHIFT + SHIFT_FRET * abs(frets) + SHIFT_HURRIED * (not in_time)


# -- alternatives --------------------------------------------------------------------------------------------


def alternatives(
    line: AnnotatedLine, size: int, board: Fretboard | None = None, hand: Hand | None = None
) -> Iterator[tuple[tuple[int, ...], Fingering]]:
    """The line on every set of ``size`` neighbouring strings that can hold it, from the highest set down.

    Yields the strings and the best fingering on them. Raises InputError for a size that the instrument lacks.
    """
    board, hand = board or fretboard_of(line.rules), hand or Hand()
    if not 1 <= size <= len(board.open):
        raise InputError(f"a set of {size} strings: the {board.name} has 1 to {len(board.open)}.")
    notes = _timed(line)
    free = replace(line, rules=replace(line.rules, position=None, limits=()))
    for strings in combinations(board.strings, size):
        if strings[-1] - strings[0] != size - 1:
            continue
        frame = _frames(free, board, replace(hand, strings=strings))[0]
        found = _best(notes, frame)
        if isinstance(found, Fingering):
            yield strings, found


def in_octave(line: AnnotatedLine, octaves: int) -> AnnotatedLine:
    """The same line so many octaves higher (negative: lower). It is another line, so it has no number.

    Raises InputError where a note leaves what the instrument sounds (MIDI 0 to 127 without one).
    """
    instrument = line.rules.instrument
    low, high = (parse_pitch(instrument.lowest), parse_pitch(instrument.highest)) if instrument else (0, 127)
    moved = tuple(_in_octave(note, octaves) for note in line.notes)
    outside = next((note for note in moved if not low <= note.pitch <= high), None)
    if outside is not None:
        who = f"the {instrument.name}" if instrument else "MIDI"
        raise InputError(
            f"{outside.name} is out of reach of {who}, so the line cannot move {octaves:+d} octaves."
        )
    return replace(line, notes=moved, number=None)


def _in_octave(note: AnnotatedNote, octaves: int) -> AnnotatedNote:
    pitch = note.pitch + 12 * octaves
    return replace(note, pitch=pitch, name=with_octave(note.name.rstrip("-0123456789"), pitch))
