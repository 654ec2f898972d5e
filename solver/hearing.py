"""What a taste hears of a diagram's lines: of each note the move to it, and beats where notes have rhythm.

A move is the interval to a note and the one before it, its degree, and where it falls; so the fold remembers
the last note and the interval to it, and the beat under way. The value of an arc is what is *heard* there,
which any taste can then price.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from everyline.corpora.tastes import PLACES_PER_BEAT
from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.ruleset import Rules
from everyline.rules.taste import WIDEST, HeardMove, Places, Statistics, Taste, clipped, tone
from everyline.rules.taste_learning import statistics
from everyline.solver.diagram import Diagram
from everyline.solver.fold import Fold

BeatPair = tuple[Places | None, Places]
"""Places of onset of the beat before (None at the line's first) and of a beat."""


class Heard(NamedTuple):
    """What a taste hears at one note: the move to it (None at the first note), and beats that are over."""

    move: HeardMove | None
    beats: tuple[BeatPair, ...] = ()

    def cost(self, taste: Taste) -> int:
        """What it costs, in sixteenths of a bit."""
        cost = 0 if self.move is None else taste.move_cost(self.move)
        return cost + sum(taste.beat_cost(*pair) for pair in self.beats)


@dataclass(frozen=True, eq=False)
class Hearing:
    """A diagram's lines as a taste hears them. The fold's values index ``heard``."""

    fold: Fold[Any, int]
    heard: tuple[Heard, ...]

    @classmethod
    def of(cls, rules: Rules, diagram: Diagram) -> Hearing:
        """The lines of a diagram compiled from ``rules``."""
        melody = _Melody(rules, diagram)
        if not rules.cells:
            fold: Fold[Any, int] = Fold[int, int].of(diagram, _NO_NOTE, melody.step)
            return cls(fold, tuple(map(Heard, melody.moves)))
        beats = _Beats.of(rules, diagram)
        known: dict[tuple[int, tuple[BeatPair, ...]], int] = {}

        def step(memory: tuple[int, _Beat | None], label: int) -> tuple[tuple[int, _Beat], int]:
            after, move = melody.step(memory[0], label)
            beat, over = beats.step(memory[1], label)
            return (after, beat), known.setdefault((move, over), len(known))

        def close(memory: tuple[int, _Beat | None]) -> int:
            return known.setdefault((0, beats.close(memory[1])), len(known))

        fold = Fold[Any, int].of(diagram, (_NO_NOTE, None), step, close=close)
        return cls(fold, tuple(Heard(melody.moves[move], over) for move, over in known))

    def costs(self, taste: Taste) -> list[int]:
        """What each thing heard costs, in sixteenths of a bit."""
        return [each.cost(taste) for each in self.heard]

    def priced(self, taste: Taste) -> Fold[Any, int]:
        """The fold whose values are costs."""
        return self.fold.valued(self.costs(taste))

    def statistics(self, weights: Mapping[int, float]) -> Statistics:
        """The statistics of what is heard so often."""
        moves: Counter[HeardMove] = Counter()
        beats: Counter[BeatPair] = Counter()
        for value, weight in weights.items():
            heard = self.heard[value]
            if heard.move is not None:
                moves[heard.move] += weight  # type: ignore[assignment]
            for pair in heard.beats:
                beats[pair] += weight  # type: ignore[assignment]
        return statistics(moves, beats)


_NO_NOTE = -1


class _Melody:
    """Hears each note's move: ``moves`` has each kind of move once, first that of a line's first note, None.

    What is remembered is one number: the last note (as far as a taste tells it apart) and the interval to it.
    """

    def __init__(self, rules: Rules, diagram: Diagram) -> None:
        self.moves: list[HeardMove | None] = [None]
        self._pitches = [event.pitch for event in diagram.events]
        tones = [tone(rules, event) for event in diagram.events]
        self._tones = list(dict.fromkeys(tones))
        number = {each: place for place, each in enumerate(self._tones)}
        self._tone_of = [number[each] for each in tones]
        alike: dict[Hashable, int] = {}
        self._last = [
            alike.setdefault((event.pitch, each.degree, each.family), label)
            for label, (event, each) in enumerate(zip(diagram.events, tones, strict=True))
        ]
        self._known: dict[tuple[int, int, int, int], int] = {}

    def step(self, memory: int, label: int) -> tuple[int, int]:
        """(what is remembered then, which of the moves)."""
        if memory < 0:
            return self._last[label] * _INTERVALS, 0
        last, before = divmod(memory, _INTERVALS)
        interval = clipped(self._pitches[label] - self._pitches[last])
        key = before, self._tone_of[last], interval, self._tone_of[label]
        move = self._known.get(key)
        if move is None:
            move = self._known[key] = len(self.moves)
            self.moves.append(self._move(*key))
        return self._last[label] * _INTERVALS + interval + WIDEST + 1, move

    def _move(self, before: int, last: int, interval: int, here: int) -> HeardMove:
        was, now = self._tones[last], self._tones[here]
        step = before - WIDEST - 1 if before else None
        return HeardMove(step, interval, now.on, was.family, was.degree, now.family, now.degree)


_INTERVALS = 2 * WIDEST + 2
"""Clipped intervals, and none, which is 0."""

_Beat = tuple[int, Places, Places | None]
"""A beat, the places of onset in it so far, and those of the beat before it."""


@dataclass(frozen=True, slots=True)
class _Beats:
    """Hears the beats of a line, each when it is over: up to ``end``, the first that is not heard."""

    end: int
    at: tuple[tuple[int, int], ...]
    """The beat and the place in it of each label."""

    @classmethod
    def of(cls, rules: Rules, diagram: Diagram) -> _Beats:
        per_place = TICKS_PER_BEAT // PLACES_PER_BEAT
        at = (divmod(event.onset, TICKS_PER_BEAT) for event in diagram.events)
        return cls(
            -(-rules.resolution_tick // TICKS_PER_BEAT),
            tuple((beat, tick // per_place) for beat, tick in at),
        )

    def step(self, under_way: _Beat | None, label: int) -> tuple[_Beat, tuple[BeatPair, ...]]:
        beat, place = self.at[label]
        beat = min(beat, self.end)
        over: list[BeatPair] = []
        if under_way is None:
            under_way = beat, (), None
        while under_way[0] < beat:
            now, places, before = under_way
            over.append((before, places))
            under_way = now + 1, (), places
        if beat == self.end:  # what comes after makes no difference
            return (beat, (), None), tuple(over)
        return (beat, (*under_way[1], place), under_way[2]), tuple(over)

    def close(self, under_way: _Beat | None) -> tuple[BeatPair, ...]:
        """The beats from the one under way to the last."""
        over: list[BeatPair] = []
        while under_way is not None and under_way[0] < self.end:
            now, places, before = under_way
            over.append((before, places))
            under_way = now + 1, (), places
        return tuple(over)
