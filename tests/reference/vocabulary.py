"""Approach figures and endings: what is written, and the pitches that it gives."""

from __future__ import annotations

import itertools

from tests.reference.theory import Chord

Event = tuple[int, int, int]  # onset in ticks, length in ticks, MIDI pitch

CATALOGUE = {
    "chromatic-below": "-1",
    "chromatic-above": "+1",
    "diatonic-above": "+d",
    "diatonic-below": "-d",
    "double-chromatic-below": "-2 -1",
    "double-chromatic-above": "+2 +1",
    "above-below": "+d -1",
    "below-above": "-1 +d",
    "chromatic-above-below": "+1 -1",
    "chromatic-below-above": "-1 +1",
    "diatonic-above-below": "+d -d",
    "diatonic-below-above": "-d +d",
    "above-double-below": "+d -2 -1",
    "below-double-above": "-1 +2 +1",
    "double-above-below": "+2 +1 -1",
    "double-below-above": "-2 -1 +d",
    "double-above-double-below": "+2 +1 -2 -1",
    "double-below-double-above": "-2 -1 +2 +1",
}


def enclosures(length: int) -> list[str]:
    """The rules say: "every sequence of that many steps out of +2 +1 -1 -2 in which both sides occur, no two
    neighbours are equal, and the steps on each side shrink strictly toward the target"."""
    found = []
    for steps in itertools.product((2, 1, -1, -2), repeat=length):
        above = [s for s in steps if s > 0]
        below = [-s for s in steps if s < 0]
        shrinking = all(a > b for side in (above, below) for a, b in itertools.pairwise(side))
        differing = all(a != b for a, b in itertools.pairwise(steps))
        if above and below and shrinking and differing:
            found.append(" ".join(f"{s:+d}" for s in steps))
    return found


FAMILIES = {f"enclosure-{n}": enclosures(n) for n in (2, 3, 4)}


def figure_steps(names: list[str] | None, own: dict[str, str]) -> list[tuple[str, ...]]:
    """The steps of the figures named.  The rules say: "default: every catalogue figure that has both
    sides"."""
    if names is None:
        names = [name for name, steps in CATALOGUE.items() if "+" in steps and "-" in steps]
    written: list[str] = []
    for name in names:
        written += FAMILIES[name] if name in FAMILIES else [own[name] if name in own else CATALOGUE[name]]
    return sorted({tuple(text.split()) for text in written})


def figure_pitches(steps: tuple[str, ...], target: int, chord: Chord) -> tuple[int, ...]:
    """The rules say: "Written as steps from the target: +d/-d the diatonic neighbour above/below in the chord
    scale at the target's slot, +1 -1 +2 -2 semitones"."""
    pitches = []
    for step in steps:
        if step == "+d":
            pitches.append(chord.neighbour(target, +1))
        elif step == "-d":
            pitches.append(chord.neighbour(target, -1))
        else:
            pitches.append(target + int(step))
    return tuple(pitches)
