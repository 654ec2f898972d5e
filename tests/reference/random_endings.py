"""A random stock ending, written for the changes and the range at hand."""

from __future__ import annotations

import random
from typing import Any

from tests.reference.endings import place_ending
from tests.reference.progression import BEAT, Progression
from tests.reference.random_time import chance
from tests.reference.rhythm import Rhythm, fits
from tests.reference.theory import DEGREES, Chord

Table = dict[str, Any]

# Rhythms of an ending's two sides; `8` stands where any eighth may, and the side fills what it fills.
BEFORE = ("8", "8 8", "8 8 8", "8 8 8 8", "4 8 8", "8t 8t 8t", "8t 8t 8t 4", "8 r8 8 8", "4. 8", "8. 16 4")
BEFORE_FINE = ("16 16 16 16", "8 16 16", "16 r16 8", "8t 8t 8t")
AFTER = ("4", "8", "8 4.", "4 4", "2", "8 r8 4", "8t 8t 8t", "4.")
HELD = ("4", "8", "4.", "2", "8t")
# The same in beats of a dotted quarter.
BEFORE_DOTTED = ("8", "8 8", "8 8 8", "4 8", "8 8 8 8", "4. 8", "8 r8 8", "4 8 8", "8. 16 8")
AFTER_DOTTED = ("4.", "8", "4 8", "8 4.", "2.", "8 r8 4", "8 8 8", "4. 4.")
HELD_DOTTED = ("4", "8", "4.", "2.")


def near_degree(rng: random.Random, pitch: int, chord: Chord) -> str:
    """A degree within a fourth of a pitch, so that endings seldom leave a narrow range."""
    near = [d for d, n in DEGREES.items() if abs((chord.root + n - pitch + 6) % 12 - 6) <= 5]
    return rng.choice(sorted(near))


def random_values(
    rng: random.Random, progression: Progression, finest: int
) -> tuple[list[str], tuple[str, ...]]:
    """The rhythm of both sides, and how long a note that is held over the bar line may be held."""
    fine = finest <= BEAT // 4 and chance(rng, 0.5)
    if progression.dotted:
        return [rng.choice(BEFORE_DOTTED), rng.choice(AFTER_DOTTED)], HELD_DOTTED
    return [rng.choice(BEFORE_FINE if fine else BEFORE), rng.choice(AFTER)], HELD


def random_ending(
    rng: random.Random,
    name: str,
    progression: Progression,
    pitches: list[int],
    rhythm: Rhythm,
    extended: bool = False,
) -> Table | None:
    """An ending that fits these changes and this rhythm, and the range from some note; None where none of the
    attempts does."""
    before, last = progression.chords[-2:]
    starts = starts_of(rhythm, progression)
    finest = min(ticks for cell in rhythm.cells for _, ticks in cell)
    for _ in range(60):
        values, helds = random_values(rng, progression, finest)
        pitch = rng.choice(pitches)
        sides = []
        for chord, side in zip((before, last), values, strict=True):
            words = []
            for word in side.split():
                if not word.startswith("r"):
                    degree = near_degree(rng, pitch, chord)
                    pitch = pitch + (chord.root + DEGREES[degree] - pitch + 6) % 12 - 6
                    words.append(degree + rng.choice([""] * 12 + ["'", ","]))
            sides.append(words)
        if extended and chance(rng, 0.25):
            values[1], sides[1] = rng.choice(helds), ["-"]
            sides[0][-1] = degree_of_tone(rng, before, last)
        else:
            sides[1][-1] = rng.choice(last.degrees)
        colours = [degree for degree, n in DEGREES.items() if last.scale and last.has_colour(last.root + n)]
        colour = extended and colours and sides[1] != ["-"] and chance(rng, 0.15)
        if colour:
            sides[1][-1] = rng.choice(colours)
        if not extended:
            sides[0][0] = sides[0][0].strip("',")
        entry: Table = {"name": name, "notes": " | ".join(" ".join(words) for words in sides)}
        if colour:
            entry["colour"] = True
        written = " | ".join(values)
        if set(written.split()) != {"8", "|"} or chance(rng, 0.5):
            entry["rhythm"] = written
        if chance(rng, 0.3) or place_ending(entry, progression).over.count(before.quality) == 0:
            entry["over"] = sorted({before.quality, rng.choice(["7", "m7", "maj7"])})
        placed = place_ending(entry, progression)
        sounding = [placed.pitches(before_it, progression) for before_it in pitches]
        playable = any(set(notes) <= set(pitches) for notes in sounding)
        if placed.start in starts and placed.fits(progression, None) and playable:
            return entry
    return None


def starts_of(rhythm: Rhythm, progression: Progression) -> set[int]:
    """Where some cell may be cut in the chord before the last."""
    found = set()
    for start in range(progression.firsts[-2], progression.resolution, rhythm.grid):
        for cell in rhythm.cells:
            if fits(rhythm, progression, cell, start):
                found.add(start)
                for _, ticks in cell:
                    start += ticks
                    found.add(start)
    return found


def degree_of_tone(rng: random.Random, chord: Chord, other: Chord) -> str:
    """A degree over one chord that is a chord tone of another."""
    return rng.choice([degree for degree, n in DEGREES.items() if other.has(chord.root + n)])
