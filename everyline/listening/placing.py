"""Where in the bar played notes were meant: places on the grid, the tempo followed from note to note.

A beam search over the places each note may have. Every hypothesis carries its own tempo, a Kalman filter over
time and length of beat (the tempo tracking of Cemgil and others, "On tempo tracking: tempogram representation
and Kalman filtering", Journal of New Music Research 29, 2000, 259-273), and its own ratio of swing.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from everyline.listening.played import PlayedNote
from everyline.rules.line import TICKS_PER_BEAT, Events
from everyline.rules.ruleset import Rules

RATIOS = (1.0, 1.15, 1.3, 1.5, 1.7, 2.0, 2.4, 3.0)
"""Ratios of long to short eighths that are tried."""
KEPT = 40
"""Hypotheses that are followed at a time."""
NOISE, LOOSE = 0.022, 0.03
"""How exactly a note is played and heard: standard deviation in seconds, and in beats on top."""
OFF_TEMPO = 0.05
"""By which part the tempo may be another than said, as a standard deviation."""
DRIFT = 0.012
"""By which part it changes within a beat, as a standard deviation."""
RARE, STRANGE = 4.0, 9.0
"""What a beat costs that is divided otherwise than the body of a line: as an ending or a cell divides it
there, or as nothing in the rules does."""
GAP = 6.0
"""What a note costs that leaves places before it empty, and begins where no ending has a note."""
NO_RHYTHM = 8.0
"""What a rhythm costs that no line under the rules has."""
OTHER_ENTRY = 8.0
"""What a beginning costs at a part of the beat where no line begins."""
AS_LIKELY = 6.0
"""Costs within which another fit is as likely as the best."""
LATE_ENTRY = 8
"""Among how many notes of the line asked for the first that was played is sought."""
_DIVISIONS = (1, 2, 3, 4, 6)


@dataclass(frozen=True, slots=True)
class Fit:
    """One way to read the take: ``ticks`` of each note, None for one that has no place; ``ratio`` of long to
    short eighths; ``even`` are the beats played as written; ``cost`` is lower for the likelier."""

    ticks: tuple[int | None, ...]
    ratio: float
    even: frozenset[int]
    cost: float

    def beats(self, tick: int) -> float:
        """Where a tick sounds, in beats."""
        return _sounds(tick, 2 if tick // TICKS_PER_BEAT not in self.even else 1, self.ratio)


@dataclass(frozen=True, slots=True)
class _Hypothesis:
    cost: float
    tick: int
    division: int
    """That of the last note's beat, 1 as long as no note fell inside it."""
    ratio: float
    at: float
    """The place of the last note as it sounds, in beats."""
    time: float
    period: float
    spread: tuple[float, float, float]
    """Variances of time and period, and their covariance (in the middle)."""
    before: _Hypothesis | None
    note: int

    @property
    def key(self) -> tuple[int, int, float]:
        return self.tick, self.division, self.ratio


class _Grid:
    """What the rules, or a line that was asked for, let one expect: how beats are divided, where notes begin.

    ``asked`` is the line asked for, empty where there is none.
    """

    def __init__(self, rules: Rules, asked: Events) -> None:
        meter = rules.progression.meter
        self.own = meter.parts if rules.cells else rules.progression.subdivision
        cells = {part.offset % TICKS_PER_BEAT for cell in rules.cells for part in cell.parts}
        self._anywhere = dict.fromkeys((2, 3, 4), STRANGE)
        self._anywhere |= {_division(tick): RARE for tick in cells if tick}
        self._anywhere[self.own] = 0.0
        self.written = {note.onset for ending in rules.endings for note in ending.notes}
        self.written |= {event.onset for event in asked}
        self._in_beat: dict[int, dict[int, float]] = {}
        for tick in self.written:
            division = _division(tick % TICKS_PER_BEAT)
            here = self._in_beat.setdefault(tick // TICKS_PER_BEAT, dict(self._anywhere))
            if division > 1:
                here[division] = min(here.get(division, STRANGE), 0.0 if asked else RARE)
        self._gaps_cost = bool(asked) or not rules.cells
        self._asked = bool(asked)
        self.rhythms = {tuple(event.onset for event in asked)} if asked else _rhythms(rules)
        self.swings = meter.in_quarters and self.own == 2

    def divisions(self, beat: int) -> dict[int, float]:
        """Into how many parts a beat, counted from tick 0, may be divided, and what that costs."""
        return self._in_beat.get(beat, self._anywhere)

    def gap(self, last: int, tick: int) -> float:
        """What a place costs after the one before it."""
        if not self._gaps_cost or tick in self.written:
            return 0.0
        return GAP if self._asked or tick - last > TICKS_PER_BEAT // self.own else 0.0


def fits(notes: Sequence[PlayedNote], rules: Rules, tempo: float, asked: Events | None = None) -> list[Fit]:
    """The likeliest ways to read a take at a tempo in beats a minute, best first: one for each place where
    the first note may fall. ``asked`` is the line asked for, if there is one: its places are likelier than
    others, its pitches count only in where the take begins. There is a note at least."""
    grid = _Grid(rules, asked or ())
    if asked:
        starts = _asked_starts(notes, asked)
    else:
        entries = [slot * rules.slot_ticks for slot in sorted(rules.entry.slots)]
        starts = dict.fromkeys(entries, 0.0)
        beat = entries[0] // TICKS_PER_BEAT * TICKS_PER_BEAT
        for phase in range(0, TICKS_PER_BEAT, TICKS_PER_BEAT // grid.own):
            if not any((each - phase) % TICKS_PER_BEAT == 0 for each in entries):
                starts[beat + phase] = OTHER_ENTRY
    ratios = RATIOS if grid.swings else RATIOS[:1]
    found = []
    for start, cost in starts.items():
        begun = [_begun(notes[0], start, ratio, tempo, cost) for ratio in ratios]
        beam = [replace(each, cost=each.cost + NO_RHYTHM) for each in begun]
        for place, note in enumerate(notes[1:], 1):
            beam = _kept(new for each in beam for new in _next(each, note, place, grid))
        for rhythm in grid.rhythms:
            if rhythm[0] == start and len(rhythm) == len(notes):
                beam += [_along(each, notes, rhythm) for each in begun]
        found.append(_fit(min(beam, key=lambda each: each.cost), len(notes)))
    found.sort(key=lambda fit: fit.cost)
    return [fit for fit in found if fit.cost <= found[0].cost + AS_LIKELY]


def _rhythms(rules: Rules) -> set[tuple[int, ...]]:
    """The ticks of the notes of lines: a note on every slot up to an ending's rhythm. Empty where the body is
    made of cells, whose rhythms are too many."""
    if rules.cells:
        return set()
    tails = {tuple(note.onset for note in ending.notes) for ending in rules.endings}
    if rules.plain:
        tails.add((rules.resolution_tick,))
    return {
        (*range(slot * rules.slot_ticks, tail[0], rules.slot_ticks), *tail)
        for slot in rules.entry.slots
        for tail in tails
    }


def _along(begun: _Hypothesis, notes: Sequence[PlayedNote], rhythm: Sequence[int]) -> _Hypothesis:
    """A hypothesis that follows one rhythm to its end."""
    inside: dict[int, int] = {}
    for tick in rhythm:
        beat, part = divmod(tick, TICKS_PER_BEAT)
        inside[beat] = max(inside.get(beat, 1), _division(part))
    for place, (note, tick) in enumerate(zip(notes, rhythm, strict=True)):
        if place:
            division = inside[tick // TICKS_PER_BEAT] if tick % TICKS_PER_BEAT else 1
            at = _sounds(tick, division, begun.ratio)
            begun = _moved(begun, note, place, tick, division, at, 0.0)
    return begun


def _asked_starts(notes: Sequence[PlayedNote], asked: Events) -> dict[int, float]:
    """Where a take of a line asked for may begin, and what that costs: at its beginning or, where the player
    came in late, so near to it that as many notes are as asked, each pitch in any octave."""
    heard = [note.pitch % 12 for note in notes]
    matches = {}
    for place, event in enumerate(asked[:LATE_ENTRY]):
        rest = [each.pitch % 12 for each in asked[place:]]
        matches[event.onset] = sum(a == b for a, b in zip(heard, rest, strict=False))
    best = max(matches.values())
    return {tick: 1.0 * (best - count) for tick, count in matches.items() if count >= best - 2} | {
        asked[0].onset: float(best - matches[asked[0].onset])
    }


def _division(tick: int) -> int:
    """The least division of the beat that has a tick of it."""
    return next((each for each in _DIVISIONS if tick * each % TICKS_PER_BEAT == 0), 8)


def _sounds(tick: int, division: int, ratio: float) -> float:
    """Where a tick sounds in beats: only a beat of eighths swings."""
    beat, inside = divmod(tick, TICKS_PER_BEAT)
    if division == 2 and 2 * inside == TICKS_PER_BEAT:
        return beat + ratio / (1 + ratio)
    return tick / TICKS_PER_BEAT


def _noise(period: float) -> float:
    return NOISE**2 + (LOOSE * period) ** 2


def _begun(note: PlayedNote, start: int, ratio: float, tempo: float, cost: float) -> _Hypothesis:
    period = 60 / tempo
    division = _division(start % TICKS_PER_BEAT)
    spread = (_noise(period), 0.0, (OFF_TEMPO * period) ** 2)
    at = _sounds(start, division, ratio)
    return _Hypothesis(cost, start, division, ratio, at, note.onset, period, spread, None, 0)


def _next(last: _Hypothesis, note: PlayedNote, place: int, grid: _Grid) -> Iterator[_Hypothesis]:
    """What may come of a hypothesis with the next note: a place near where it was heard, or none at all."""
    yield _Hypothesis(
        last.cost + 6 + 16 * note.sure, last.tick, last.division, last.ratio, last.at, last.time, last.period,
        last.spread, last, place,
    )  # fmt: skip
    about = last.at + (note.onset - last.time) / last.period
    for beat in range(math.floor(about - 0.5), math.floor(about + 0.5) + 1):
        same = beat == last.tick // TICKS_PER_BEAT
        divisions = grid.divisions(beat)
        for division, strange in divisions.items():
            if same and last.division not in (1, division):
                continue
            for part in range(division):
                tick = beat * TICKS_PER_BEAT + part * TICKS_PER_BEAT // division
                if tick <= last.tick or (part == 0 and division != min(divisions)):
                    continue
                inside = division if part else 1
                at = _sounds(tick, inside, last.ratio)
                if abs(at - about) <= 0.5:
                    new = inside > 1 and not (same and last.division > 1)
                    cost = grid.gap(last.tick, tick) + (strange if new else 0.0)
                    yield _moved(last, note, place, tick, inside, at, cost)


def _moved(
    last: _Hypothesis, note: PlayedNote, place: int, tick: int, division: int, at: float, extra: float
) -> _Hypothesis:
    """The filter's prediction and correction. A note far off costs less than its square and moves the tempo
    little."""
    gone, period = at - last.at, last.period
    time, both, beat = last.spread
    beat_then = beat + (DRIFT * period) ** 2 * gone
    both_then = both + gone * beat
    time_then = time + 2 * gone * both + gone * gone * beat
    off = note.onset - (last.time + gone * period)
    noise = _noise(period)
    whole = time_then + noise
    size = off * off / whole
    cost = size if size <= 4 else 4 * math.sqrt(size) - 4
    whole *= max(1.0, size / 4)
    gain, tempo_gain = time_then / whole, both_then / whole
    spread = (
        time_then * (1 - gain),
        both_then * (1 - gain),
        max(1e-12, beat_then - tempo_gain * both_then),
    )
    return _Hypothesis(
        cost=last.cost + cost + math.log((time_then + noise) / noise) + extra,
        tick=tick,
        division=division,
        ratio=last.ratio,
        at=at,
        time=last.time + gone * period + gain * off,
        period=min(max(period + tempo_gain * off, 0.1), 4.0),
        spread=spread,
        before=last,
        note=place,
    )


def _kept(found: Iterator[_Hypothesis]) -> list[_Hypothesis]:
    """The best of each kind, and of those the best altogether."""
    best: dict[tuple[int, int, float], _Hypothesis] = {}
    for each in found:
        have = best.get(each.key)
        if have is None or each.cost < have.cost:
            best[each.key] = each
    return sorted(best.values(), key=lambda each: each.cost)[:KEPT]


def _fit(last: _Hypothesis, count: int) -> Fit:
    ticks: list[int | None] = [None] * count
    even = set()
    each: _Hypothesis | None = last
    while each is not None:
        if each.before is None or each.tick != each.before.tick:
            ticks[each.note] = each.tick
            if each.division > 2:
                even.add(each.tick // TICKS_PER_BEAT)
        each = each.before
    return Fit(tuple(ticks), last.ratio, frozenset(even), last.cost)
