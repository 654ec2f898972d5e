"""Small random rule files that between them use every option; the same seed gives the same file."""

from __future__ import annotations

import random
from typing import Any

from tests.reference.count import count, count_analyses
from tests.reference.progression import Progression, parse_progression
from tests.reference.random_limits import random_limit
from tests.reference.theory import DEGREES, GUITAR, Chord, parse_chord
from tests.reference.vocabulary import CATALOGUE, FAMILIES, place_ending

Table = dict[str, Any]
MOST_LINES = 30_000
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
        "Dm7 D7 | Gm",
        "Gm7 | Gm7",
        "F6 D7b9 | Gm7 C9 | F6",
        "Em7 A7 Dm7 G7 | Cmaj7",
    ),
    "3/4": (
        "Dm7 | G7 | Cmaj7",
        "Am7 | D7 | G6",
        "Bbmaj7 / Bdim7 | Cm7",
        "Dm7 G7 A7 | Dm6",
        "Em7 | Em7 | Em7",
    ),
    "2/4": ("Dm7 | G7 | C6", "Dm7 G7 | Cmaj7 | A7 | Dm7", "Cm7 | F7 | Bbmaj7 | %"),
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
    "2/4": ("Em7b5 A7 | Dm7 | Dm7 G7 | C",),
    "5/4": ("Dm7 | G7 | Cmaj7",),
}
ROMAN = {
    "4/4": ("ii7 V7 | Imaj7", "ii7 | V7 | I6", "ii7 bVII7 | I", "iim7b5 V7b9 | im6", "I6 vi7 | ii7 V7 | I6"),
    "3/4": ("ii7 | V7 | Imaj7",),
    "2/4": ("ii7 V7 | Imaj7",),
    "5/4": ("ii7 | V7 | Imaj7",),
}
SCALE_CHOICES = {"7": ("altered", "lydian", "phrygian"), "m7": ("aeolian", "phrygian"), "maj7": ("lydian",)}

# Rhythms of an ending's two sides; `8` stands where any eighth may, and the side fills what it fills.
BEFORE = ("8", "8 8", "8 8 8", "8 8 8 8", "4 8 8", "8t 8t 8t", "8t 8t 8t 4", "8 r8 8 8", "4. 8", "8. 16 4")
BEFORE_FINE = ("16 16 16 16", "8 16 16", "16 r16 8", "8t 8t 8t")
AFTER = ("4", "8", "8 4.", "4 4", "2", "8 r8 4", "8t 8t 8t", "4.")


def chance(rng: random.Random, share: float) -> bool:
    return rng.random() < share


def some(rng: random.Random, items: list[str], least: int, most: int) -> list[str]:
    """A few of them, in their own order."""
    size = min(len(items), rng.randint(least, most))
    picked = set(rng.sample(range(len(items)), size))
    return [item for place, item in enumerate(items) if place in picked]


def random_time(rng: random.Random) -> Table:
    """Changes, key, meter, subdivision, scales."""
    meter = rng.choice(["4/4"] * 5 + ["3/4", "3/4", "2/4", "5/4"])
    subdivision = rng.choice([2, 2, 2, 3, 4])
    table: Table = {}
    pool = SHORT[meter]
    if chance(rng, 0.15):
        pool = ROMAN[meter]
        table["key"] = rng.choice(NAMES)
    elif subdivision == 2 and chance(rng, 0.5):
        pool = LONG[meter]
    table["changes"] = rng.choice(pool)
    if meter != "4/4" or chance(rng, 0.2):
        table["meter"] = meter
    if subdivision != 2 or chance(rng, 0.2):
        table["subdivision"] = subdivision
    if "key" not in table:
        scales = {}
        for word in set(table["changes"].split()) - {"|", "/", "%"}:
            quality = parse_chord(word, None, {}).quality
            if quality in SCALE_CHOICES and chance(rng, 0.15):
                scales[word] = rng.choice(SCALE_CHOICES[quality])
        if scales:
            table["scales"] = dict(sorted(scales.items()))
    return table


def progression_of(table: Table) -> Progression:
    return parse_progression(
        table["changes"],
        table.get("key"),
        table.get("meter", "4/4"),
        table.get("subdivision", 2),
        table.get("scales", {}),
    )


def pitch_name(pitch: int) -> str:
    return f"{NAMES[pitch % 12]}{pitch // 12 - 1}"


def random_range(rng: random.Random) -> tuple[Table, list[int]]:
    """A narrow range, as the file has it and as pitches."""
    if chance(rng, 0.2):
        table: Table = {"instrument": "guitar", "position": rng.randint(1, 10)}
        strings = sorted(GUITAR)
        first = rng.randint(0, 3)
        table["strings"] = strings[first : first + rng.randint(2, 3)]
        if chance(rng, 0.5):
            table["span"] = rng.randint(3, 5)
        span = table.get("span", 4)
        low = table["position"]
        pitches = {GUITAR[s] + fret for s in table["strings"] for fret in range(low, low + span)}
        return table, sorted(pitches)
    lowest = rng.randint(50, 66)
    highest = lowest + rng.randint(9, 16)
    return {"lowest": pitch_name(lowest), "highest": pitch_name(highest)}, list(range(lowest, highest + 1))


def random_entry(rng: random.Random, progression: Progression, pitches: list[int]) -> Table:
    table: Table = {}
    first = progression.chords[0]
    parts = {2: ["", "&"], 3: [""], 4: ["", "e", "&", "a"]}[progression.subdivision]
    beats = [f"{beat + 1}{part}" for beat in range(progression.beats_in_bar) for part in parts]
    beats = [beat for beat in beats if progression.slot_of_beat(beat) < progression.firsts[1]]
    if chance(rng, 0.4):
        table["beats"] = some(rng, beats, 1, 2)
    if chance(rng, 0.3):
        table["pickup"] = sorted(rng.sample(range(1, min(5, progression.bar_slots())), rng.randint(1, 2)))
    if chance(rng, 0.25):
        names = [pitch_name(p) for p in pitches if first.has(p) or chance(rng, 0.3)]
        names += [pitch_name(p)[:-1] for p in pitches[:12] if first.has(p)]
        table["start"] = some(rng, names, 1, 4)
    if chance(rng, 0.2):
        table["degrees"] = some(rng, [*first.degrees, "9", "b2", "#4"], 1, 4)
    return table


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


def near_degree(rng: random.Random, pitch: int, chord: Chord) -> str:
    """A degree within a fourth of a pitch, so that endings seldom leave a narrow range."""
    near = [d for d, n in DEGREES.items() if abs((chord.root + n - pitch + 6) % 12 - 6) <= 5]
    return rng.choice(sorted(near))


def random_ending(
    rng: random.Random, name: str, progression: Progression, pitches: list[int]
) -> Table | None:
    """An ending that fits these changes, and the range from some note; None where the attempts do not."""
    before, last = progression.chords[-2:]
    for _ in range(60):
        fine = progression.subdivision == 4 and chance(rng, 0.5)
        rhythm = [rng.choice(BEFORE_FINE if fine else BEFORE), rng.choice(AFTER)]
        pitch = rng.choice(pitches)
        sides = []
        for chord, side in zip((before, last), rhythm, strict=True):
            words = []
            for word in side.split():
                if not word.startswith("r"):
                    degree = near_degree(rng, pitch, chord)
                    pitch = pitch + (chord.root + DEGREES[degree] - pitch + 6) % 12 - 6
                    words.append(degree + rng.choice([""] * 12 + ["'", ","]))
            sides.append(words)
        sides[1][-1] = rng.choice(last.degrees)
        entry: Table = {"name": name, "notes": " | ".join(" ".join(words) for words in sides)}
        values = " | ".join(rhythm)
        if set(values.split()) != {"8", "|"} or chance(rng, 0.5):
            entry["rhythm"] = values
        if chance(rng, 0.3) or place_ending(entry, progression).over.count(before.quality) == 0:
            entry["over"] = sorted({before.quality, rng.choice(["7", "m7", "maj7"])})
        placed = place_ending(entry, progression)
        sounding = [placed.pitches(before_it, progression) for before_it in pitches]
        if placed.fits(progression) and any(set(notes) <= set(pitches) for notes in sounding):
            return entry
    return None


def candidate(rng: random.Random) -> Table:
    """One rule file, of any size."""
    table = random_time(rng)
    progression = progression_of(table)
    table["range"], pitches = random_range(rng)
    table["entry"] = random_entry(rng, progression, pitches)
    arpeggio: Table = {}
    if chance(rng, 0.3):
        arpeggio["direction"] = rng.choice(["up", "down", "either"])
    if chance(rng, 0.35):
        arpeggio["turns"] = rng.randint(0, 2)
    table["arpeggio"] = arpeggio
    table["approach"], own = random_approach(rng, progression)
    if own:
        table["figures"] = own
    rules = ["nearest", "nearest-or-common", "step", "guide", "any"]
    table["handoff"] = {"rule": rng.choice(rules)} if chance(rng, 0.7) else {}
    single = progression.chords[0] == progression.chords[-1] and len(progression.chords) == 2
    made = [random_ending(rng, f"ending-{n}", progression, pitches) for n in range(rng.randint(0, 3))]
    endings = [] if single else [ending for ending in made if ending]
    plain = ["plain"] if not endings or chance(rng, 0.6) else []
    table["ending"] = {"use": plain + [ending["name"] for ending in endings]}
    if chance(rng, 0.3):
        table["ending"]["lead_in"] = rng.randint(1, 7)
    if endings:
        table["endings"] = endings
    return {key: value for key, value in table.items() if value != {}}


def random_rules(seed: int, most: int = MOST_LINES) -> Table:
    """A rule file with at most `most` lines before its limits; few seeds have none."""
    rng = random.Random(seed)
    for _ in range(1000):
        table = candidate(rng)
        size = count_analyses(table)
        if size > 2 * most or count(table) > most or (size == 0 and chance(rng, 0.9)):
            continue
        progression = progression_of(table)
        named = "key" not in table
        if chance(rng, 0.6):
            # A few draws, to leave some line as a rule.
            for _ in range(5):
                table["limit"] = [random_limit(rng, progression, named) for _ in range(rng.randint(1, 3))]
                if count(table):
                    break
        return table
    raise AssertionError("no small rule file in 1000 attempts")
