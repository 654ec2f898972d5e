"""Small random rule files that between them use every option; the same seed gives the same file."""

from __future__ import annotations

import random
from typing import Any

from tests.reference.count import count, count_analyses
from tests.reference.progression import Progression
from tests.reference.random_endings import random_ending
from tests.reference.random_limits import random_limit
from tests.reference.random_time import (
    chance,
    dotted_time,
    entry_parts,
    progression_of,
    random_entry,
    random_range,
    random_time,
    rhythm_of,
    some,
)
from tests.reference.result import TooBig
from tests.reference.rhythm import Rhythm
from tests.reference.rulefile import single
from tests.reference.vocabulary import CATALOGUE, FAMILIES

Table = dict[str, Any]
MOST_LINES = 30_000
MOST_STATES = 12_000


def random_approach(rng: random.Random, progression: Progression) -> tuple[Table, list[Table]]:
    """The [approach] table, and the file's own figures."""
    table: Table = {}
    own: list[Table] = []
    if chance(rng, 0.25):
        steps = [rng.choice(["+1", "-1", "+2", "-2", "+d", "-d"]) for _ in range(rng.randint(1, 4))]
        own.append({"name": "own-figure", "steps": " ".join(steps)})
    if own or chance(rng, 0.85):
        table["figures"] = some(rng, [*CATALOGUE, *FAMILIES], 1, 4) + [f["name"] for f in own]
    if chance(rng, 0.8):
        choices = ["0", "1", "0-1", "0-1", "1-2", "0-2", "2"]
        table["count"] = [rng.choice(choices) for _ in range(rng.randint(1, 3))]
    if chance(rng, 0.2):
        tones = sorted({d for chord in progression.chords for d in chord.degrees})
        table["targets"] = some(rng, tones, 1, 3)
    if chance(rng, 0.3):
        table["reach"] = rng.randint(1, 9)
    if chance(rng, 0.3):
        table["after"] = rng.randint(0, 4)
    return table, own


def random_arpeggio(rng: random.Random, extended: bool) -> Table:
    table: Table = {}
    if chance(rng, 0.3):
        table["direction"] = rng.choice(["up", "down", "either"])
    if not extended or chance(rng, 0.7):
        table["turns"] = rng.choice([0, 0, 0, 1, 2])
    if extended and chance(rng, 0.35):
        table["skips"] = rng.randint(0, 2)
    return table


def random_passing(rng: random.Random) -> Table:
    """The [passing] table, or nothing."""
    if chance(rng, 0.35):
        return {}
    table: Table = {"kinds": rng.choice([["scale"], ["chromatic"], ["scale", "chromatic"], []])}
    if chance(rng, 0.5):
        table["place"] = rng.choice(["off", "any", "any"])
    if chance(rng, 0.6):
        choices = ["0", "1", "0-1", "0-1", "0-2", "1-2", "0-99", "1-99"]
        table["count"] = [rng.choice(choices) for _ in range(rng.randint(1, 3))]
    return table


def candidate(rng: random.Random, extended: bool = False, dotted: bool = False) -> Table:
    """One rule file, of any size; `extended` with passing notes, skips, cells and what comes with them,
    `dotted` in beats of a dotted quarter."""
    table = dotted_time(rng, chance(rng, 0.5)) if dotted else random_time(rng, extended)
    progression = progression_of(table)
    subdivision = None if "rhythm" in table else table.get("subdivision", progression.usual)
    table["range"], pitches = random_range(rng, extended)
    slots = progression.beats_in_bar * (subdivision or progression.usual)
    table["entry"] = random_entry(rng, progression, pitches, entry_parts(table, extended), slots)
    table["arpeggio"] = random_arpeggio(rng, extended)
    if extended:
        table["passing"] = random_passing(rng)
    table["approach"], own = random_approach(rng, progression)
    if own:
        table["figures"] = own
    rules = ["nearest", "nearest-or-common", "step", "guide", "any"]
    table["handoff"] = {"rule": rng.choice(rules)} if chance(rng, 0.7) else {}
    endings = random_endings(rng, progression, pitches, rhythm_of(table), extended)
    plain = ["plain"] if not endings or chance(rng, 0.6) else []
    table["ending"] = {"use": plain + [ending["name"] for ending in endings]}
    if chance(rng, 0.3):
        table["ending"]["lead_in"] = rng.randint(1, 7)
    if endings:
        table["endings"] = endings
    return {key: value for key, value in table.items() if value != {}}


def random_endings(
    rng: random.Random, progression: Progression, pitches: list[int], rhythm: Rhythm, extended: bool
) -> list[Table]:
    names = [f"ending-{n}" for n in range(rng.randint(0, 3))]
    made = [random_ending(rng, name, progression, pitches, rhythm, extended) for name in names]
    return [] if single(progression) else [ending for ending in made if ending]


def random_rules(
    seed: int,
    most: int = MOST_LINES,
    extended: bool = False,
    most_states: int = MOST_STATES,
    dotted: bool = False,
) -> Table:
    """A rule file with at most `most` lines before its limits; few seeds have none.

    With fewer states files are found sooner, and are smaller.
    """
    rng = random.Random(seed)
    for _ in range(1000):
        table = candidate(rng, extended, dotted)
        if extended and chance(rng, 0.3):
            # Bounds that leave a space small enough to be listed where cells would make it too big.
            table["limit"] = [random_limit(rng, progression_of(table), False, True, ["notes", "rests"])]
        try:
            size = count_analyses(table, most_states)
        except TooBig:
            continue
        if size > 2 * most or count(table) > most or (size == 0 and chance(rng, 0.9)):
            continue
        return with_limits(rng, table, extended) if chance(rng, 0.6) else table
    raise AssertionError("no small rule file in 1000 attempts")


def with_limits(rng: random.Random, table: Table, extended: bool) -> Table:
    """A few draws, to leave some line as a rule."""
    progression, named = progression_of(table), "key" not in table
    before = table.get("limit", [])
    for _ in range(5):
        added = [random_limit(rng, progression, named, extended) for _ in range(rng.randint(1, 3))]
        table = {**table, "limit": before + added}
        if count(table):
            break
    return table
