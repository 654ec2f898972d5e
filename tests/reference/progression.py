"""Time: the slots of a progression and the chord at each of them."""

from __future__ import annotations

from dataclasses import dataclass

from tests.reference.theory import Chord, parse_chord

BEAT = 480  # ticks


@dataclass(frozen=True, slots=True)
class Progression:
    """Chords with their first slots; the last one begins on the resolution slot."""

    chords: tuple[Chord, ...]
    firsts: tuple[int, ...]
    beats_in_bar: int
    beat_unit: int
    subdivision: int
    end: int

    @property
    def resolution(self) -> int:
        """The rules say: "The last chord's first slot is the resolution slot R."."""
        return self.firsts[-1]

    @property
    def slot_ticks(self) -> int:
        return BEAT // self.subdivision

    def index_at_tick(self, tick: int) -> int:
        """Which chord holds at a tick.  The rules say: "A pickup of n slots belongs to the first chord."."""
        index = 0
        while index + 1 < len(self.firsts) and self.firsts[index + 1] * self.slot_ticks <= tick:
            index += 1
        return index

    def index_at(self, slot: int) -> int:
        return self.index_at_tick(slot * self.slot_ticks)

    def chord_at(self, slot: int) -> Chord:
        return self.chords[self.index_at(slot)]

    def is_change(self, slot: int) -> bool:
        """Whether the slot is the first of a new chord."""
        return slot in self.firsts[1:]

    def on_beat(self, slot: int) -> bool:
        """The rules say: "Slot t is on the beat when t is a multiple of the subdivision."."""
        return slot % self.subdivision == 0

    def slot_of_beat(self, text: str) -> int:
        """Slot within a bar of a beat counted aloud: `2`, `2&`, `2e`, `2a`, `2trip`, `2let`."""
        digits = "".join(c for c in text if c.isdigit())
        parts = {2: ("", "&"), 3: ("", "trip", "let"), 4: ("", "e", "&", "a")}[self.subdivision]
        part = text[len(digits) :].strip()
        if part not in parts or not 1 <= int(digits) <= self.beats_in_bar:
            raise ValueError(f"{text!r} is not a beat of this meter and subdivision")
        return (int(digits) - 1) * self.subdivision + parts.index(part)

    def bar_slots(self) -> int:
        return self.beats_in_bar * self.subdivision


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
    changes: str, key: str | None, meter: str, subdivision: int, scales: dict[str, str]
) -> Progression:
    beats, unit = (int(n) for n in meter.split("/"))
    symbols: list[str] = []
    firsts: list[int] = []
    bars = shares(changes)
    for bar, words in enumerate(bars):
        if not words or beats % len(words):
            raise ValueError(f"bar {bar + 1} does not divide evenly")
        for place, word in enumerate(words):
            # The rules say: "Two chords side by side with the same symbol are one chord held longer".
            if not symbols or symbols[-1] != word:
                symbols.append(word)
                firsts.append((bar * beats + place * (beats // len(words))) * subdivision)
    if len(symbols) == 1:
        # The rules say: "A progression of a single chord needs two bars at least. It resolves on the first
        # slot of its last bar, which counts as a change to the same chord".
        if len(bars) < 2:
            raise ValueError("a single chord needs two bars at least")
        symbols.append(symbols[0])
        firsts.append((len(bars) - 1) * beats * subdivision)
    chords = tuple(parse_chord(symbol, key, scales) for symbol in symbols)
    end = len(bars) * beats * subdivision
    return Progression(chords, tuple(firsts), beats, unit, subdivision, end)
