"""Time: the chords of a progression and the tick where each begins.  Tick 0 is beat 1 of bar 1."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from tests.reference.theory import Chord, parse_chord, scale_before

BEAT = 480  # ticks

# What is counted between two beats, in ticks after the beat: halves, thirds and quarters.
PARTS = {
    1: {"": 0},
    2: {"": 0, "&": 240},
    3: {"": 0, "trip": 160, "let": 320},
    4: {"": 0, "e": 120, "&": 240, "a": 360},
    6: {"": 0, "+1/6": 80, "trip": 160, "&": 240, "let": 320, "+5/6": 400},
}
ALL_PARTS = {name: ticks for parts in PARTS.values() for name, ticks in parts.items()}


@dataclass(frozen=True, slots=True)
class Progression:
    """Chords with their first ticks; the last one begins on the resolution slot."""

    chords: tuple[Chord, ...]
    firsts: tuple[int, ...]
    beats_in_bar: int
    beat_value: str  # the note value of a beat: 2, 4, 8, or 4. for the dotted quarter

    @property
    def dotted(self) -> bool:
        """Whether a beat is a dotted quarter."""
        return self.beat_value == "4."

    @property
    def whole(self) -> int:
        """The ticks of a whole note: so many beats of 480."""
        return {"2": 2 * BEAT, "4": 4 * BEAT, "8": 8 * BEAT, "4.": 8 * BEAT // 3}[self.beat_value]

    @property
    def usual(self) -> int:
        """The rules say: "2, or 3 where the beat is a dotted quarter"."""
        return 3 if self.dotted else 2

    @property
    def resolution(self) -> int:
        """The rules say: "The last chord's first slot is the resolution slot R."."""
        return self.firsts[-1]

    @property
    def last(self) -> int:
        """The place of the last chord."""
        return len(self.chords) - 1

    @property
    def bar(self) -> int:
        """The ticks of a bar."""
        return self.beats_in_bar * BEAT

    def index_at(self, tick: int) -> int:
        """Which chord holds at a tick.  The rules say: "A pickup of n slots belongs to the first chord."."""
        index = 0
        while index + 1 < len(self.firsts) and self.firsts[index + 1] <= tick:
            index += 1
        return index

    def chord_at(self, tick: int) -> Chord:
        return self.chords[self.index_at(tick)]

    def tick_of_beat(self, text: str, parts: dict[str, int] = ALL_PARTS) -> int:
        """Tick within a bar of a beat counted aloud: `2`, `2&`, `2e`, `2a`, `2 trip`, `2 let`; a place that
        "musicians have no word for is a fraction of the beat, `2+1/6`"."""
        digits = "".join(itertools.takewhile(str.isdigit, text))
        part = text[len(digits) :].strip()
        if parts is ALL_PARTS and part.startswith("+"):
            above, below = part[1:].split("/")
            parts = {part: int(above) * BEAT // int(below)}
        if part not in parts or not 1 <= int(digits) <= self.beats_in_bar:
            raise ValueError(f"{text!r} is not a beat of this meter and subdivision")
        return (int(digits) - 1) * BEAT + parts[part]


def on_beat(tick: int) -> bool:
    """Whether a tick is on the beat."""
    return tick % BEAT == 0


def shares(changes: str) -> list[list[str]]:
    """Bars as lists of equal shares, with `%` and `/` written out.

    The rules say: "chords in one bar share its beats evenly; `%` repeats the bar before; `/` holds the
    chord for one more equal share".
    """
    bars: list[list[str]] = []
    for text in changes.strip().strip("|").split("|"):
        words = text.split()
        if words == ["%"]:
            words = list(bars[-1])
        for place, word in enumerate(words):
            if word == "/":
                words[place] = words[place - 1] if place else bars[-1][-1]
        bars.append(words)
    return bars


def parse_progression(
    changes: str,
    key: str | None = None,
    meter: str = "4/4",
    scales: dict[str, str] | None = None,
    beat: str | None = None,
) -> Progression:
    count, unit = meter.split("/")
    beats = int(count)
    if beat == "4.":
        # The rules say: "In n/8, n a multiple of 3, `beat = "4."` makes a bar n/3 beats of a dotted quarter".
        if unit != "8" or beats % 3:
            raise ValueError(f"{meter} is not made of dotted quarters")
        beats, unit = beats // 3, beat
    elif beat is not None and beat != unit:
        raise ValueError(f"{beat} is not a beat of {meter}")
    symbols: list[str] = []
    firsts: list[int] = []
    bars = shares(changes)
    for bar, words in enumerate(bars):
        if not words or beats * BEAT % len(words):
            raise ValueError(f"bar {bar + 1} does not divide evenly")
        for place, word in enumerate(words):
            # The rules say: "Two chords side by side with the same symbol are one chord held longer".
            if not symbols or symbols[-1] != word:
                symbols.append(word)
                firsts.append(bar * beats * BEAT + place * (beats * BEAT // len(words)))
    if len(symbols) == 1:
        # The rules say: "A progression of a single chord needs two bars at least. It resolves on the first
        # slot of its last bar, which counts as a change to the same chord".
        if len(bars) < 2:
            raise ValueError("a single chord needs two bars at least")
        symbols.append(symbols[0])
        firsts.append((len(bars) - 1) * beats * BEAT)
    chords = [parse_chord(symbol, key, scales or {}) for symbol in symbols]
    for place, (chord, following) in enumerate(itertools.pairwise(chords)):
        if chord.symbol not in (scales or {}):
            chords[place] = scale_before(chord, following)
    return Progression(tuple(chords), tuple(firsts), beats, unit)
