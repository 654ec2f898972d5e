"""The swing map: when a tick sounds. MIDI, audio and the highlighting on the page all read this one.

Only eighths swing: the upbeat halfway through a quarter-note beat is delayed, and what lies on either side of
it stretches with it. Triplets stay where they are written, and so do all notes of a beat that holds one.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from everyline.corpora.errors import InputError, did_you_mean
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.line import TICKS_PER_BEAT

BY_TEMPO, STRAIGHT = "by-tempo", "straight"
SWING_WORDS = (BY_TEMPO, STRAIGHT)
SHORT_NOTE = 0.1
"""Seconds that the short note of a pair lasts at medium and fast tempi."""
LARGEST_RATIO = 3.5
SLOWEST, FASTEST = 30.0, 400.0
"""Tempi that can be played, in beats a minute."""

_HALF = TICKS_PER_BEAT // 2
# Halving a beat again and again, down to dotted 64ths, gives multiples of this; a triplet position is none.
_DUPLE_TICKS = TICKS_PER_BEAT // 32
_RATIO = re.compile(r"(\d+(?:\.\d+)?)(?::1)?")

Swing = str | float
"""``by-tempo``, ``straight``, or a ratio of long to short from 1 to 3.5."""


def ratio_at(tempo: float) -> float:
    """Long to short note of a swung pair at a tempo in beats a minute, from 1 to 3.5.

    After Friberg and Sundström, "Swing ratios and ensemble timing in jazz performance", Music Perception 19
    (2002), 333-349: the short note lasts about 100 ms at medium and fast tempi, so the ratio nears 1 as the
    tempo rises; at slow tempi it reaches about 3.5. They measured ride cymbals; soloists play closer to even
    (a typical 1.3 in Corcoran and Frieler, Music Perception 38, 2021), which a stated ratio gives.
    """
    return min(LARGEST_RATIO, max(1.0, 60 / check_tempo(tempo) / SHORT_NOTE - 1))


def check_tempo(tempo: float) -> float:
    """The tempo in beats a minute. Raises InputError for one that cannot be played."""
    if not SLOWEST <= tempo <= FASTEST:
        raise InputError(f"tempo {tempo:g}; allowed are {SLOWEST:g} to {FASTEST:g} beats a minute.")
    return float(tempo)


def parse_swing(value: Swing) -> Swing:
    """Read a swing as a user writes it: ``by-tempo``, ``straight``, ``2:1`` or ``1.5``. Raises InputError."""
    word = str(value).strip()
    if word in SWING_WORDS:
        return word
    found = _RATIO.fullmatch(word)
    if found is None or not 1 <= float(found[1]) <= LARGEST_RATIO:
        raise InputError(
            f'swing "{word}"; allowed are {BY_TEMPO}, {STRAIGHT}, or a ratio of long to short from 1 to '
            f"{LARGEST_RATIO:g}, such as 2:1 or 1.5.{did_you_mean(word, SWING_WORDS)}"
        )
    return float(found[1])


@dataclass(frozen=True, slots=True)
class SwingMap:
    """Ticks (480 a beat, 0 on beat 1 of bar 1, negative in a pickup) to beats and seconds from that same
    point.

    ``tempo`` is in beats a minute, ``ratio`` long to short. ``even_beats`` are beats, counted from 0 at tick
    0, that are played as written.
    """

    tempo: float
    ratio: float = 1.0
    even_beats: frozenset[int] = frozenset()

    def beats(self, tick: int) -> float:
        """Where a tick sounds, in beats."""
        beat, part = divmod(tick, TICKS_PER_BEAT)
        if self.ratio == 1 or beat in self.even_beats:
            return tick / TICKS_PER_BEAT
        middle = self.ratio / (1 + self.ratio)
        if part <= _HALF:
            return beat + middle * part / _HALF
        return beat + middle + (1 - middle) * (part - _HALF) / _HALF

    def seconds(self, tick: int) -> float:
        """When a tick sounds, in seconds."""
        return self.beats(tick) * 60 / self.tempo


def swing_ratio(meter: tuple[int, int], subdivision: int, tempo: float, swing: Swing = BY_TEMPO) -> float:
    """Long to short at a tempo, under a wish: 1 wherever the beat is no quarter note divided into eighths."""
    wish = parse_swing(swing)
    if wish == STRAIGHT or subdivision != 2 or meter[1] != 4:
        return 1.0
    return ratio_at(tempo) if wish == BY_TEMPO else float(wish)


def swing_map(line: AnnotatedLine, tempo: float, swing: Swing = BY_TEMPO) -> SwingMap:
    """The swing map of a line at a tempo in beats a minute. Raises InputError for a tempo or swing that is
    none.
    """
    progression = line.rules.progression
    ratio = swing_ratio(progression.meter, progression.subdivision, tempo, swing)
    ticks = (tick for note in line.notes for tick in (note.onset, note.onset + note.length))
    return SwingMap(check_tempo(tempo), ratio, _triplet_beats(ticks))


def _triplet_beats(ticks: Iterable[int]) -> frozenset[int]:
    """The beats in which a note begins or ends at a triplet position."""
    return frozenset(tick // TICKS_PER_BEAT for tick in ticks if tick % _DUPLE_TICKS)
