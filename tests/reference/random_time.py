"""The time, the range and the entry of a random rule file."""

from __future__ import annotations

import random
from typing import Any

from tests.reference.progression import PARTS, Progression, parse_progression
from tests.reference.random_rhythm import cell_parts, random_cells
from tests.reference.rhythm import Rhythm, cell_rhythm, parse_cell, slot_rhythm
from tests.reference.rulefile import allowed_pitches
from tests.reference.theory import GUITAR, parse_chord

Table = dict[str, Any]
NAMES = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")

# meter: progressions that it can hold; those for small subdivisions come first and are short
SHORT = {
    "4/4": (
        "Dm7 G7 | Cmaj7",
        "Fm7 Bb7 | Eb6",
        "Bm7b5 E7b9 | Am6",
        "C7 | F7",
        "G7sus4 | Cmaj9",
        "Dm9 G13 | C",
        "Am7 / D7 / | Gmaj7",
        "Ebm7 / / Ab7 | Dbmaj7",
        "Cdim7 | Dbm7",
        "A7alt | Dm(maj7)",
        "Bb7#5 | Ebmaj7",
        "Dm7 D9 | Gm",
        "Gm7 | Gm7",
        "F6 D7b9 | Gm7 C9 | F6",
        "Em7 A7 Dm7 G7 | Cmaj7",
    ),
    "3/4": (
        "Dm7 | G7 | Cmaj7",
        "Am7 | D7 | G6",
        "Bbmaj7 / Bdim7 | Cm7",
        "Dm7 G7 A9 | Dm6",
        "Em7 | Em7 | Em7",
    ),
    "2/4": ("Dm7 | G7 | C6", "Dm7 G7 | Cmaj7 | A9 | Dm7", "Cm7 | F7 | Bbmaj7 | %"),
    "5/4": ("Am7 | D7 | Gmaj7", "Cm7 | F7"),
}
LONG = {
    "4/4": (
        "Dm7 | G7 | Cmaj7",
        "Bm7b5 | E7alt | Am6",
        "Ebmaj7 | % | Ab7",
        "Abm7 Db7 | Gbmaj7 | Fm7 Bb7 | Ebmaj7",
    ),
    "3/4": ("Gm7 | % | C7 | F",),
    "2/4": ("Em7b5 A7b9 | Dm7 | Dm7 G7 | C",),
    "5/4": ("Dm7 | G7 | Cmaj7",),
}
ROMAN = {
    "4/4": ("ii7 V7 | Imaj7", "ii7 | V7 | I6", "ii7 bVII7 | I", "iim7b5 V7b9 | im6", "I6 vi7 | ii7 V7 | I6"),
    "3/4": ("ii7 | V7 | Imaj7",),
    "2/4": ("ii7 V7 | Imaj7",),
    "5/4": ("ii7 | V7 | Imaj7",),
}
SCALE_CHOICES = {"7": ("altered", "lydian", "phrygian"), "m7": ("aeolian", "phrygian"), "maj7": ("lydian",)}

# What needs more: a plain 7 before a minor chord, chords of one beat, one chord alone, beats of an eighth.
EXTENDED = {
    "4/4": (
        "Em7b5 A7 | Dm7",
        "Dm7 G7 | Cm6",
        "Dm7 D7 | Gm",
        "C7 F7 | Bbm(maj7)",
        "Fm7 | Fm7",
        "Bb7 | %",
        "Dm7 G7 C6 A7 | Dm7",
        "A7 | Dm9",
        "D7 | Gmaj7",
        "Gm7 C7 | Fmaj7 D7 | Gm7",
    ),
    "3/4": ("Dm7 G7 A7 | Dm6", "Am7b5 / D7 | Gm", "C6 | %", "B7 | Em7"),
    "2/4": (
        "Dm7 G7 | Cm7",
        "Em7b5 | A7 | Dm7",
        "Dm7 G7 | Cmaj7 | A7 | Dm7",
        "F7 | F7",
        "Am7b5 D7 | Gm6",
        "G7 | Cm",
        "C7 | % | F7",
    ),
    "5/4": ("G7 | Cm7",),
    "6/8": ("Dm7 G7 | C6", "Am7b5 D7 | Gm7", "Fm7 | % | Bb7", "C7 | %", "E7 | Am6"),
}
# Several chords in a beat; eighths or sixteenths divide it.
IN_A_BEAT = ("Dm7 G7 Em7 A7 | Dm7", "C6 A7 Dm7 G7 | C6", "Fm7 / / Bb7 | Eb6")


def chance(rng: random.Random, share: float) -> bool:
    return rng.random() < share


def some(rng: random.Random, items: list[str], least: int, most: int) -> list[str]:
    """A few of them, in their own order."""
    size = min(len(items), rng.randint(least, most))
    picked = set(rng.sample(range(len(items)), size))
    return [item for place, item in enumerate(items) if place in picked]


def random_time(rng: random.Random, extended: bool) -> Table:
    """Changes, key, meter, subdivision or cells, scales."""
    meters = ["4/4"] * 5 + ["3/4", "3/4", "2/4", "5/4"]
    meter = rng.choice([*meters, "2/4", "2/4", "6/8"] if extended else meters)
    celled = extended and chance(rng, 0.55)
    subdivision = rng.choice([2, 2, 2, 3, 4, 1] if extended else [2, 2, 2, 3, 4])
    if meter == "6/8" and chance(rng, 0.7):
        return dotted_time(rng, celled)
    table: Table = {}
    pool = SHORT.get(meter, ()) + (EXTENDED[meter] if extended else ())
    if chance(rng, 0.15) and meter in ROMAN:
        pool = ROMAN[meter]
        table["key"] = rng.choice(NAMES)
    elif subdivision in (1, 2) and not celled and chance(rng, 0.5) and meter in LONG:
        pool = LONG[meter]
    elif extended and not celled and subdivision in (2, 4) and chance(rng, 0.05):
        pool, meter = IN_A_BEAT, "2/4"
    table["changes"] = rng.choice(pool)
    if meter != "4/4" or chance(rng, 0.2):
        table["meter"] = meter
    if celled:
        table["rhythm"] = {"cells": random_cells(rng, progression_of(table))}
    elif subdivision != 2 or chance(rng, 0.2):
        table["subdivision"] = subdivision
    if "key" not in table:
        scales = {}
        for word in sorted(set(table["changes"].split()) - {"|", "/", "%"}):
            quality = parse_chord(word, None, {}).quality
            if quality in SCALE_CHOICES and chance(rng, 0.15):
                scales[word] = rng.choice(SCALE_CHOICES[quality])
        if scales:
            table["scales"] = scales
    return table


def dotted_time(rng: random.Random, celled: bool) -> Table:
    """The same in beats of a dotted quarter, with few bars; now and then an eighth is stated as the beat."""
    meter = rng.choice(["6/8", "6/8", "9/8", "12/8"])
    pools = {"6/8": (*EXTENDED["6/8"], *SHORT["2/4"]), "9/8": SHORT["3/4"], "12/8": SHORT["4/4"]}
    table: Table = {"changes": rng.choice(pools[meter]), "meter": meter, "beat": "4."}
    if meter == "6/8" and chance(rng, 0.15):
        return {**table, "beat": "8", "subdivision": 1}
    subdivision = rng.choice([3, 3, 3, 2, 1, 6])
    if celled:
        table["rhythm"] = {"cells": random_cells(rng, progression_of(table))}
    elif subdivision != 3 or chance(rng, 0.2):
        table["subdivision"] = subdivision
    return table


def progression_of(table: Table) -> Progression:
    meter, scales = table.get("meter", "4/4"), table.get("scales", {})
    return parse_progression(table["changes"], table.get("key"), meter, scales, table.get("beat"))


def rhythm_of(table: Table) -> Rhythm:
    if "rhythm" in table:
        return cell_rhythm(table["rhythm"]["cells"], progression_of(table), True)
    return slot_rhythm(table.get("subdivision", progression_of(table).usual), True)


def pitch_name(pitch: int) -> str:
    return f"{NAMES[pitch % 12]}{pitch // 12 - 1}"


def random_range(rng: random.Random, extended: bool = False) -> tuple[Table, list[int]]:
    """A narrow range, as the file has it and as pitches."""
    if chance(rng, 0.2):
        table: Table = {"instrument": "guitar", "position": rng.randint(1, 10)}
        first = rng.randint(0, 3)
        table["strings"] = sorted(GUITAR)[first : first + rng.randint(2, 3)]
        if not extended or chance(rng, 0.5):
            table["span"] = rng.randint(3, 5)
        pitches = sorted(allowed_pitches(table))
        if extended and chance(rng, 0.3):
            side = rng.choice(["lowest", "highest"])
            table[side] = pitch_name(rng.choice(pitches[:4] if side == "lowest" else pitches[-4:]))
        return table, sorted(allowed_pitches(table))
    lowest = rng.randint(50, 66)
    highest = lowest + rng.randint(9, 16)
    return {"lowest": pitch_name(lowest), "highest": pitch_name(highest)}, list(range(lowest, highest + 1))


def entry_parts(table: Table, extended: bool) -> list[str]:
    """What may be counted between two beats of the rule file."""
    if "rhythm" in table:
        progression = progression_of(table)
        return cell_parts([parse_cell(text, progression) for text in table["rhythm"]["cells"]])
    subdivision = table.get("subdivision", progression_of(table).usual)
    return list(PARTS[subdivision]) if extended or subdivision != 3 else [""]


def random_entry(
    rng: random.Random, progression: Progression, pitches: list[int], parts: list[str], slots: int
) -> Table:
    """The [entry] table; `slots` are those that a pickup counts in a bar."""
    table: Table = {}
    first = progression.chords[0]
    beats = [f"{beat + 1}{part}" for beat in range(progression.beats_in_bar) for part in parts]
    beats = [beat for beat in beats if progression.tick_of_beat(beat) < progression.firsts[1]]
    if beats and chance(rng, 0.4):
        table["beats"] = some(rng, beats, 1, 2)
    if chance(rng, 0.3):
        pool = range(1, max(2, min(5, slots)))
        table["pickup"] = sorted(rng.sample(pool, rng.randint(1, min(2, len(pool)))))
    if chance(rng, 0.25):
        names = [pitch_name(p) for p in pitches if first.has(p) or chance(rng, 0.3)]
        names += [pitch_name(p)[:-1] for p in pitches[:12] if first.has(p)]
        table["start"] = some(rng, names, 1, 4)
    if chance(rng, 0.2):
        table["degrees"] = some(rng, [*first.degrees, "9", "b2", "#4"], 1, 4)
    return table
