"""A random limit of every kind, mild enough to leave some lines as a rule."""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Any

from tests.reference.progression import Progression
from tests.reference.random_rhythm import fits_bar, rhythms_of
from tests.reference.theory import DEGREES

Table = dict[str, Any]


def bounds(rng: random.Random, top: int) -> Table:
    """`least`, `most` or both."""
    low, high = sorted((rng.randint(0, top // 2), rng.randint(top // 3, top)))
    return rng.choice([{"least": low}, {"most": high}, {"least": low, "most": high}])


def beats(rng: random.Random, progression: Progression) -> list[str]:
    last = progression.beats_in_bar
    return sorted({str(rng.randint(1, last)) for _ in range(rng.randint(1, 2))})


def degrees(rng: random.Random, most: int) -> list[str]:
    return rng.sample(sorted(DEGREES), rng.randint(1, most))


def on_chord(rng: random.Random, progression: Progression, named: bool) -> Table:
    """A `chord` key, or none."""
    return {"chord": rng.choice(progression.chords).symbol} if named and rng.random() < 0.7 else {}


def avoid(rng: random.Random, progression: Progression, named: bool) -> Table:
    return {"degrees": degrees(rng, 2)} | on_chord(rng, progression, named)


def require(rng: random.Random, progression: Progression, named: bool) -> Table:
    chord = rng.choice(progression.chords)
    wanted: Table = {"degrees": sorted(rng.sample(chord.degrees, rng.randint(1, 2)))}
    return wanted | ({"chord": chord.symbol} if named and rng.random() < 0.7 else {})


def must_target(rng: random.Random, progression: Progression, named: bool) -> Table:
    chord = rng.choice(progression.chords[:-1] + progression.chords[-1:])
    wanted: Table = {"degree": rng.choice(chord.degrees)}
    if named:
        wanted["chord"] = chord.symbol
    if rng.random() < 0.4:
        wanted["beat"] = str(rng.randint(1, progression.beats_in_bar))
    return wanted


def playable(rng: random.Random) -> Table:
    wanted: Table = {}
    if rng.random() < 0.7:
        first = rng.randint(1, 4)
        wanted["strings"] = list(range(first, min(6, first + rng.randint(1, 3)) + 1))
    if rng.random() < 0.3:
        wanted["fret"] = rng.randint(1, 10)
    # Always named, so that a file means the same whatever the default is.
    wanted["span"] = rng.randint(3, 7)
    return wanted


def steps(rng: random.Random) -> list[int]:
    return [rng.choice([-4, -3, -2, -1, -1, 0, 1, 1, 2, 3, 4]) for _ in range(rng.randint(1, 2))]


# kind: what makes its keys, of the generator, the progression and whether chords may be named
KINDS: dict[str, Callable[[random.Random, Progression, bool], Table]] = {
    "largest-leap": lambda rng, _, __: {"semitones": rng.randint(3, 10)},
    "ambitus": lambda rng, _, __: {"semitones": rng.randint(5, 14)},
    "direction-changes": lambda rng, _, __: bounds(rng, 9),
    "outside-notes": lambda rng, _, __: bounds(rng, 6),
    "strong-beats": lambda rng, progression, _: {"beats": beats(rng, progression)},
    "avoid-degrees": avoid,
    "require-degrees": require,
    "single-peak": lambda _, __, ___: {},
    "no-return": lambda rng, _, __: {"notes": rng.randint(2, 4)},
    "forbid-intervals": lambda rng, _, __: {"intervals": steps(rng)},
    "require-intervals": lambda rng, _, __: {"intervals": steps(rng)},
    "last-degree": lambda rng, p, _: {"degrees": rng.sample(p.chords[-1].degrees, rng.randint(1, 2))},
    "must-target": must_target,
    "playable": lambda rng, _, __: playable(rng),
}


def landing(rng: random.Random, progression: Progression, named: bool) -> Table:
    chord = rng.choice(progression.chords)
    if named and rng.random() < 0.6:
        return {"degrees": rng.sample(chord.degrees, rng.randint(1, 2)), "chord": chord.symbol}
    return {"degrees": degrees(rng, 8)}


def pattern(rng: random.Random, progression: Progression, _: bool) -> Table:
    """A rhythm that the lines may have, or nearly."""
    found = rng.choice([text for text in rhythms_of(progression) if fits_bar(text, progression)])
    return {"pattern": found} | bounds(rng, rng.choice([2, 4, 8]))


# Kinds that need more than a note on every slot, or came with it.
MORE_KINDS: dict[str, Callable[[random.Random, Progression, bool], Table]] = {
    "landing": landing,
    "rhythm": pattern,
    "notes": lambda rng, _, __: bounds(rng, rng.choice([8, 12, 20])),
    "rests": lambda rng, _, __: bounds(rng, 4),
    "standing": lambda rng, _, __: {"notes": rng.randint(2, 6), "semitones": rng.randint(1, 6)},
}


def random_limit(
    rng: random.Random,
    progression: Progression,
    named: bool,
    extended: bool = False,
    only: list[str] | None = None,
) -> Table:
    kinds = KINDS | MORE_KINDS if extended else KINDS
    # The kinds that belong to rhythm come up as often as all others; few files can meet a must-target.
    drawn = list(MORE_KINDS) if extended and rng.random() < 0.5 else [*kinds, "must-target", "must-target"]
    kind = rng.choice(only or drawn)
    return {"kind": kind} | kinds[kind](rng, progression, named)
