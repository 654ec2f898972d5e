"""Eight picked lines over ten progressions, looked at as a teacher would look at them."""

from __future__ import annotations

import itertools

import pytest

from everyline import lines
from everyline.rules.line import TICKS_PER_BEAT, Events
from tests.sweeps import sweep

THIRDS = {3, 4}
SEVENTHS = {9, 10, 11}  # a sixth stands in for the seventh

A_PART = "Cmaj7 Am7 | Dm7 G7 | Em7 A7 | Dm7 G7 | Cmaj7 C7 | Fmaj7 Fm7 | Em7 A7 | Dm7 G7"
BRIDGE = "Em7b5 | A7b9 | Dm7 | % | Fm7 | Bb7 | Ebmaj7 | Dm7 G7"

TEN: dict[str, tuple[str, str]] = {
    "ii-V-I": ("Dm7 | G7 | Cmaj7", "4/4"),
    "minor": ("Dm7b5 | G7 | Cm7", "4/4"),
    "short": ("Dm7 G7 | Cmaj7", "4/4"),
    "blues": ("F7 | Bb7 | F7 | Cm7 F7 | Bb7 | Bdim7 | F7 | Am7 D7 | Gm7 | C7 | F7 D7 | Gm7 C7", "4/4"),
    "bridge of dominants": ("D7 | % | G7 | % | C7 | % | F7 | %", "4/4"),
    "turnaround": ("Cmaj7 A7 | Dm7 G7 | Cmaj7", "4/4"),
    "vamp": ("Gm7 | % | % | %", "4/4"),
    "waltz": ("Am7 | D7 | Gmaj7", "3/4"),
    "tritone substitution": ("Dm7 | Db7 | Cmaj7", "4/4"),
    "thirty-two bars": (f"{A_PART} | {A_PART} | {BRIDGE} | {A_PART} | Cmaj7", "4/4"),
}
"""Generic progressions, common property."""


def first_bar(events: Events, beats: int) -> tuple[tuple[int, int], ...]:
    bar = beats * TICKS_PER_BEAT
    return tuple((event.onset, event.pitch % 12) for event in events if 0 <= event.onset < bar)


@pytest.mark.slow
@pytest.mark.parametrize("name", list(TEN)[: sweep(len(TEN) - 1, len(TEN))])
def test_eight_picked_lines(name: str) -> None:
    changes, meter = TEN[name]
    space = lines(changes, meter=meter)
    picked = [line.events for line in space.pick(8)]
    assert len(picked) == 8
    classes = [tuple((e.onset, e.pitch % 12, e.length) for e in events) for events in picked]
    assert len(set(classes)) == 8, "an octave copy"
    beats = int(meter[0])
    assert len({first_bar(events, beats) for events in picked}) == 8
    arrivals = guides = 0
    for events in picked:
        pitches = [event.pitch for event in events]
        windows = [pitches[at : at + 8] for at in range(len(pitches) - 7)]
        assert all(max(window) - min(window) > 4 for window in windows), "it stands still"
        notes = space.rules.notes(events)
        for before, note in itertools.pairwise(notes):
            if note.chord != before.chord:
                arrivals += 1
                guides += note.degree in THIRDS | SEVENTHS
    assert 2 * guides >= arrivals
