"""Random cells, and how the places inside their beats are counted."""

from __future__ import annotations

import random

from tests.reference.progression import BEAT, PARTS, Progression
from tests.reference.rhythm import Cell, parse_cell

# Cells in quarter-note beats, those that a teacher would take first, in eighth-note beats, and in dotted
# quarters.
COMMON = ("8 8", "4", "r8 8", "8t 8t 8t")
RARE = (
    "8 r8",
    "4. 8",
    "8 4.",
    "8 4 8",
    "4 4",
    "4 8 8",
    "2",
    "4 r4",
    "r4 4",
    "r8 8 4",
    "r8 8 r8 8",
    "2.",
    "4t 4t 4t",
    "4t 8t",
    "8t r8t 8t",
    "r8t 8t 8t",
    "8. 16",
    "16 16 16 16",
    "8 16 16",
    "16 r16 8",
    "r16 8.",
    "1",
)
EIGHTH_BEATS = ("8", "16 16", "4", "r8 8", "8 4", "4.", "8. 16", "16t 16t 16t", "r16 16", "8 r8 8")

DOTTED = (
    *("8 8 8", "4.", "4 8", "r8 8 8"),
    *("8 4", "8 r8 8", "r4 8", "4 r8", "4. 4.", "2.", "4. r8 8 8", "4 8 8 4"),
    *("8. 16 8", "16 16 8 8", "8 16 16 8", "8. 8.", "16 r16 4", "r4. 4 8", "2. 4."),
)


def rhythms_of(progression: Progression) -> tuple[str, ...]:
    """The cells that the beats of these changes may have, the common ones twice."""
    if progression.dotted:
        return DOTTED
    return EIGHTH_BEATS if progression.beat_value == "8" else (*COMMON, *COMMON, *RARE)


def random_cells(rng: random.Random, progression: Progression) -> list[str]:
    """One to four cells, of which one at least lasts a single beat."""
    if progression.dotted:
        found = [rng.choice(DOTTED[:4]), *rng.sample(DOTTED, rng.randint(0, 3))]
    elif progression.beat_value == "8":
        found = [rng.choice(EIGHTH_BEATS[:2]), *rng.sample(EIGHTH_BEATS, rng.randint(0, 2))]
    else:
        found = [rng.choice(COMMON), *rng.sample(COMMON, rng.randint(0, 2))]
        found += rng.sample(RARE, rng.choice([0, 1, 1, 2]))
    wanted = [text for text in dict.fromkeys(found) if fits_bar(text, progression)]
    rng.shuffle(wanted)
    return wanted


def fits_bar(text: str, progression: Progression) -> bool:
    try:
        parse_cell(text, progression)
    except ValueError:
        return False
    return True


def cell_parts(cells: list[Cell]) -> list[str]:
    """The names of the places between beats at which a note of a cell begins: halves, thirds or quarters."""
    onsets = set()
    for cell in cells:
        clock = 0
        for rest, ticks in cell:
            if not rest:
                onsets.add(clock % BEAT)
            clock += ticks
    finest = [part for part in PARTS.values() for ticks in part.values() if ticks in onsets]
    return sorted({name for parts in finest for name, ticks in parts.items() if ticks in onsets})
