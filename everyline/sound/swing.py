"""The swing map: when a tick sounds. MIDI, audio and the highlighting on the page all read this one.

Only eighths swing: the upbeat halfway through a quarter-note beat is delayed. Triplets and sixteenths stay
where they are written, and so does everything in a beat that holds one.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from everyline.corpora.errors import InputError, did_you_mean
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.ruleset import Rules

BY_TEMPO, STRAIGHT = "by-tempo", "straight"
SWING_WORDS = (BY_TEMPO, STRAIGHT)
CURVE = ((120.0, 1.7), (200.0, 1.3), (300.0, 1.0))
"""Ratios of long to short by tempo, in beats a minute; see ``ratio_at``."""
LARGEST_RATIO = 3.5
SHORT_NOTE = 0.1
"""Seconds of the short note on the ride cymbal; see ``cymbal_ratio_at``."""
SLOWEST, FASTEST = 30.0, 400.0
"""Tempi that can be played, in beats a minute."""

_HALF = TICKS_PER_BEAT // 2
_RATIO = re.compile(r"(\d+(?:\.\d+)?)(?::1)?")

Swing = str | float
"""``by-tempo``, ``straight``, or a ratio of long to short from 1 to 3.5."""


def ratio_at(tempo: float) -> float:
    """Long to short note of a swung pair in a melody at a tempo in beats a minute, from 1 to 1.7.

    Drawn by us through published figures for soloists: they play far closer to even than the ride cymbal
    does, most of all at slow tempi, and even eighths at fast ones (Friberg and Sundström, "Swing ratios and
    ensemble timing in jazz performance", Music Perception 19, 2002, 333-349, where the cymbal goes up to
    3.5); over 456 solos 1.3 is typical, more at slow and moderate tempi (Corcoran and Frieler, "Playing it
    straight", Music Perception 38, 2021, 372-385). Straight lines join 1.7 at 120 and below, 1.3 at 200 and
    1 from 300 on.
    """
    tempo = check_tempo(tempo)
    if tempo <= CURVE[0][0]:
        return CURVE[0][1]
    for (slow, more), (fast, less) in pairwise(CURVE):
        if tempo <= fast:
            return more + (less - more) * (tempo - slow) / (fast - slow)
    return CURVE[-1][1]


def cymbal_ratio_at(tempo: float) -> float:
    """Long to short note of the ride cymbal's swung pairs at a tempo in beats a minute, from 3.5 to 1.

    Drummers make the short note about a tenth of a second long at medium and fast tempi, and reach 3.5:1 at
    slow ones and 1:1 at fast ones (Friberg and Sundström, "Swing ratios and ensemble timing in jazz
    performance", Music Perception 19, 2002, 333-349): what is left of the beat over a tenth of a second, at
    most 3.5.
    """
    beat = 60 / check_tempo(tempo)
    return min(LARGEST_RATIO, max(1.0, (beat - SHORT_NOTE) / SHORT_NOTE))


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
        # Between eighths no note of the line begins in a beat that swings; an accompaniment's end may.
        if part <= _HALF:
            return beat + middle * part / _HALF
        return beat + middle + (1 - middle) * (part - _HALF) / _HALF

    def seconds(self, tick: int) -> float:
        """When a tick sounds, in seconds."""
        return self.beats(tick) * 60 / self.tempo


def swing_ratio(rules: Rules, tempo: float, swing: Swing = BY_TEMPO) -> float:
    """Long to short at a tempo, under a wish: 1 wherever the beat is no quarter note divided into eighths."""
    wish = parse_swing(swing)
    progression = rules.progression
    has_eighths = bool(rules.cells) or progression.subdivision == 2
    if wish == STRAIGHT or not has_eighths or not progression.meter.in_quarters:
        return 1.0
    return ratio_at(tempo) if wish == BY_TEMPO else float(wish)


def cymbal_map(rules: Rules, tempo: float, swing: Swing = BY_TEMPO) -> SwingMap:
    """The swing map of the drums: by tempo the ride's own ratio, else that of the line."""
    ratio = swing_ratio(rules, tempo, swing)
    own = ratio > 1 and parse_swing(swing) == BY_TEMPO
    return SwingMap(check_tempo(tempo), cymbal_ratio_at(tempo) if own else ratio)


def swing_map(line: AnnotatedLine, tempo: float, swing: Swing = BY_TEMPO) -> SwingMap:
    """The swing map of a line at a tempo in beats a minute. Raises InputError for a tempo or swing that is
    none.
    """
    ratio = swing_ratio(line.rules, tempo, swing)
    ticks = (tick for note in line.notes for tick in (note.onset, note.onset + note.length))
    return SwingMap(check_tempo(tempo), ratio, _even_beats(ticks))


def _even_beats(ticks: Iterable[int]) -> frozenset[int]:
    """The beats in which a note begins or ends off the eighths."""
    return frozenset(tick // TICKS_PER_BEAT for tick in ticks if tick % _HALF)
