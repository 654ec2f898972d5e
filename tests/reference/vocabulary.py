"""Approach figures and endings: what is written, and the pitches that it gives."""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass

from tests.reference.progression import BEAT, Progression
from tests.reference.theory import DEGREES, DOMINANT, Chord

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


def rhythm_ticks(word: str, beat_unit: int) -> tuple[bool, int]:
    """Whether a rhythm word is a rest, and its length: `8` `4.` `8t` `r8`."""
    found = re.fullmatch(r"(r?)(\d+)(\.?)(t?)", word)
    if not found:
        raise ValueError(f"{word!r} is not a note value")
    ticks = BEAT * beat_unit // int(found[2])
    if found[3]:
        ticks = ticks * 3 // 2
    if found[4]:
        ticks = ticks * 2 // 3
    return bool(found[1]), ticks


@dataclass(frozen=True, slots=True)
class Note:
    """One note of an ending as written; `over_last` says on which side of the first `|` it stands."""

    onset: int
    length: int
    degree: str
    octaves: int
    over_last: bool


@dataclass(frozen=True, slots=True)
class Ending:
    """A stock ending, placed in time on a progression; onsets are ticks."""

    name: str
    notes: tuple[Note, ...]
    over: tuple[str, ...]

    @property
    def start(self) -> int:
        return self.notes[0].onset

    def pitches(self, before: int, progression: Progression) -> list[int]:
        """The rules say: "Each note is the nearest pitch of that degree to the note before it (a tritone goes
        up); `'` puts it an octave higher than that, `,` an octave lower"."""
        found = []
        for note in self.notes:
            chord = progression.chords[-1 if note.over_last else -2]
            wanted = (chord.root + DEGREES[note.degree]) % 12
            up = (wanted - before) % 12
            before += (up if up <= 6 else up - 12) + 12 * note.octaves
            found.append(before)
        return found

    def fits(self, progression: Progression) -> bool:
        """The rules say: "It is usable where it starts inside the chord before the last, that chord's quality
        is one that the ending names (default dominant), and its last note is a chord tone of the last
        chord"."""
        ticks = progression.slot_ticks
        before, last = progression.chords[-2:]
        inside = progression.firsts[-2] * ticks <= self.start < progression.resolution * ticks
        final = self.notes[-1]
        over = last if final.over_last else before
        rests_on_chord = last.has(over.root + DEGREES[final.degree])
        return inside and before.quality in self.over and rests_on_chord and self.start % ticks == 0


def place_ending(entry: dict[str, object], progression: Progression) -> Ending:
    """The rules say: "Rhythm is eighths unless given; the note after the first `|` falls on the resolution
    slot. So each ending's starting degree and starting beat follow from what is written"."""
    sides = [part.split() for part in str(entry["notes"]).split("|")]
    degrees = [sides[0], [word for side in sides[1:] for word in side]]
    if "rhythm" in entry:
        parts = [part.split() for part in str(entry["rhythm"]).split("|")]
        values = [parts[0], [word for part in parts[1:] for word in part]]
    else:
        values = [["8"] * len(side) for side in degrees]
    lengths = [[rhythm_ticks(word, progression.beat_unit) for word in side] for side in values]
    clock = progression.resolution * progression.slot_ticks - sum(ticks for _, ticks in lengths[0])
    notes = []
    for side in (0, 1):
        words = iter(degrees[side])
        for is_rest, ticks in lengths[side]:
            if not is_rest:
                word = next(words)
                octaves = word.count("'") - word.count(",")
                notes.append(Note(clock, ticks, word.strip("',"), octaves, side == 1))
            clock += ticks
        if next(words, None) is not None:
            raise ValueError(f"ending {entry['name']!r} has more notes than rhythm")
    over = entry.get("over", DOMINANT)
    assert isinstance(over, (list, tuple))
    return Ending(str(entry["name"]), tuple(notes), tuple(str(q) for q in over))
