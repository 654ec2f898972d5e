"""Stock endings: placed in time on a progression, and the pitches that they give."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from tests.reference.progression import Progression, on_beat
from tests.reference.rhythm import Word, parse_word
from tests.reference.theory import DEGREES, DOMINANT, Chord

STOCK = Path(__file__).parents[2] / "corpora" / "endings"


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
    colour: bool = False

    @property
    def start(self) -> int:
        """The rules say: "An ending starts at its first note"."""
        return self.notes[0].onset

    def chord_of(self, note: Note, progression: Progression) -> Chord:
        return progression.chords[-1 if note.over_last else -2]

    def pitches(self, before: int, progression: Progression) -> list[int]:
        """The rules say: "Each note is the nearest pitch of that degree to the note before it (a tritone goes
        up); `'` puts it an octave higher than that, `,` an octave lower", and: "Octave marks on its first
        degree mean nothing here"."""
        found: list[int] = []
        for note in self.notes:
            wanted = (self.chord_of(note, progression).root + DEGREES[note.degree]) % 12
            up = (wanted - before) % 12
            octaves = note.octaves if found else 0
            before += (up if up <= 6 else up - 12) + 12 * octaves
            found.append(before)
        return found

    def fits(self, progression: Progression, grid: int | None) -> bool:
        """The rules say: "It is usable where it starts inside the chord before the last, that chord's quality
        is one that the ending names (default dominant), and its last note is a chord tone of the last chord",
        and: "without `[rhythm]` that falls on a slot" (`grid` is None with rhythm)."""
        before, last = progression.chords[-2:]
        inside = progression.firsts[-2] <= self.start < progression.resolution
        final = self.notes[-1]
        tone = self.chord_of(final, progression).root + DEGREES[final.degree]
        rests = last.has(tone) or (self.colour and last.has_colour(tone))
        on_grid = grid is None or self.start % grid == 0
        return inside and on_grid and before.quality in self.over and rests

    def suits_the_third(self, progression: Progression) -> bool:
        """The rules say of an ending that the file does not name: "over a major last chord no note on a beat,
        from the resolution slot on, is its minor third; over a minor last chord no note of the ending, before
        or after the resolution, is its major third"."""
        last = progression.chords[-1]
        # "one without a third suits every ending, and so does one that has the other third as a chord tone"
        if (DEGREES["3"] in last.tones) == (DEGREES["b3"] in last.tones):
            return True
        for note in self.notes:
            root = self.chord_of(note, progression).root
            degree = (root + DEGREES[note.degree] - last.root) % 12
            if DEGREES["3"] in last.tones and degree == DEGREES["b3"] and sounds_on_beat(note, progression):
                return False
            if DEGREES["b3"] in last.tones and degree == DEGREES["3"]:
                return False
        return True


def sounds_on_beat(note: Note, progression: Progression) -> bool:
    """The decisions say: "There a note is on a beat when it sounds at one, struck or held"."""
    sounding = range(note.onset, note.onset + note.length)
    return any(on_beat(tick) and tick >= progression.resolution for tick in sounding)


def sides_of(text: str) -> tuple[list[str], list[str]]:
    """The words before the first `|`, and those after it."""
    before, *after = [part.split() for part in text.split("|")]
    return before, [word for part in after for word in part]


def place_ending(entry: dict[str, Any], progression: Progression) -> Ending:
    """The rules say: "Rhythm is eighths unless given; the note after the first `|` falls on the resolution
    slot. A `-` there instead holds the note before it over the bar line for as long as its rhythm value
    says"."""
    degrees = sides_of(entry["notes"])
    values = sides_of(entry["rhythm"]) if "rhythm" in entry else tuple(["8"] * len(side) for side in degrees)
    lengths: list[list[Word]] = [[parse_word(word, progression.whole) for word in side] for side in values]
    clock = progression.resolution - sum(ticks for _, ticks in lengths[0])
    notes: list[Note] = []
    for side in (0, 1):
        words = iter(degrees[side])
        for is_rest, ticks in lengths[side]:
            if not is_rest:
                word = next(words)
                if word == "-":
                    notes[-1] = held(notes[-1], ticks, progression)
                else:
                    octaves = word.count("'") - word.count(",")
                    notes.append(Note(clock, ticks, word.strip("',"), octaves, side == 1))
            clock += ticks
        if next(words, None) is not None:
            raise ValueError(f"ending {entry['name']!r} has more notes than rhythm")
    if not notes or notes[0].over_last:
        raise ValueError(f"one note at least stands before the bar line of ending {entry['name']!r}")
    return Ending(entry["name"], tuple(notes), tuple(entry.get("over", DOMINANT)), entry.get("colour", False))


def writable(entry: dict[str, Any], progression: Progression) -> bool:
    """The rules say of beats of a dotted quarter: "Triplet values are refused, in cells, endings and typed
    lines", and a stock ending "is used where the note values fit"."""
    return not (progression.dotted and "t" in entry.get("rhythm", ""))


def held(note: Note, ticks: int, progression: Progression) -> Note:
    """A note held over the bar line."""
    if note.over_last or note.onset + note.length != progression.resolution:
        raise ValueError("only the note right before the bar line can be held over it")
    return replace(note, length=note.length + ticks)


@cache
def stock() -> list[dict[str, Any]]:
    """The endings of the corpus, as their files have them."""
    files = sorted(STOCK.glob("*.toml"))
    return [entry for file in files for entry in tomllib.loads(file.read_text(encoding="utf-8"))["ending"]]
