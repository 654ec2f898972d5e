"""Spelling on 2,016 lines in twenty-four keys: by the rule of thumb for chromatic notes, and beside ps13.

A chromatic note that goes up is written as a raised letter and one that goes down as a lowered letter (common
practice of notation, from memory). ps13 is the algorithm of D. Meredith, "The ps13 pitch spelling algorithm",
Journal of New Music Research 35 (2006), 121-159, here as partitura (Apache-2.0) has it. It knows neither
chords nor figures, and spells a line from a count of the notes around each, so it errs where a line is short
and chromatic; the thresholds below lie under what was measured on all lines (chord tones 97.9 %, tones
of the scale 97.6 %, other notes 62 %). The test takes every fourth line.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import pytest

from everyline.rules.annotate import AnnotatedLine, spell_line
from everyline.rules.line import Note
from everyline.rules.names import line_names
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from everyline.rules.spelling import Palette, palette
from everyline.rules.transpose import CYCLE, keys_in_order, transpose_tables
from everyline.spaces.space import Space
from tests.spaces import CORPUS

MAJOR = {"changes": "Dm7 | G7 | Cmaj7", "key": "C", "range": {"lowest": "E3", "highest": "E5"}}
MINOR = {"changes": "Dm7b5 | G7 | Cm7", "key": "Cm", "range": {"lowest": "E3", "highest": "E5"}}
LINES_IN_A_KEY = 84
RARE = {"Cb", "Fb", "E#", "B#"}
LETTERS = "CDEFGAB"


@dataclass(frozen=True)
class Spelled:
    """A line: notes, their names without octaves, and the palette of each note's chord."""

    line: AnnotatedLine
    notes: tuple[Note, ...]
    names: tuple[str, ...]
    palettes: tuple[Palette, ...]

    def fixed(self, place: int) -> bool:
        """Whether chord or chord scale name the note."""
        return self.notes[place].pitch % 12 in self.palettes[place].fixed

    def other_plain_name(self, place: int) -> bool:
        """Whether the key of the piano has two names of which neither is Cb, Fb, E# or B#."""
        return self.notes[place].pitch % 12 in {1, 3, 6, 8, 10}


def _spelled(rules: Rules, line: AnnotatedLine) -> Spelled:
    notes = rules.notes(line.events)
    chords = rules.progression.chords
    return Spelled(
        line,
        notes,
        tuple(note.name.rstrip("0123456789") for note in line.notes),
        tuple(palette(chords[note.chord], rules.scales[note.chord], rules.key) for note in notes),
    )


@cache
def sample() -> tuple[Spelled, ...]:
    found: list[Spelled] = []
    for tables, keys in ((MAJOR, CYCLE), (MINOR, keys_in_order(CYCLE, minor=True))):
        for key in keys:
            space = Space(parse_rules(transpose_tables(tables, key), CORPUS))
            found += [_spelled(space.rules, line) for line in space.sample(LINES_IN_A_KEY, seed=13)]
    return tuple(found)


def _leads_on(each: Spelled, place: int) -> bool:
    """Whether a note after ``place`` is a step from it, on the next letter on that side."""
    pitch = each.notes[place].pitch
    for later in range(place + 1, min(place + 6, len(each.notes))):
        distance = each.notes[later].pitch - pitch
        if 0 < abs(distance) <= 2:
            steps = LETTERS.index(each.names[later][0]) - LETTERS.index(each.names[place][0])
            if (steps - (1 if distance > 0 else -1)) % 7 == 0:
                return True
    return False


def kind_of_shared_letter(each: Spelled, place: int) -> str:
    """Why a note and the next, a semitone apart, are on one letter."""
    after = place + 1
    if each.fixed(place) and each.fixed(after):
        return "chord and scale"
    if place + 2 < len(each.notes) and each.notes[place + 2].pitch == each.notes[place].pitch:
        return "returns"
    free = [at for at in (place, after) if not each.fixed(at)]
    if not any(each.other_plain_name(at) for at in free):
        return "no other plain name"
    if each.fixed(place) or not each.other_plain_name(place):
        if _leads_on(each, after):
            return "second leads on"
        later = each.notes[place + 2].pitch if place + 2 < len(each.notes) else 127
        return "left by a leap" if abs(later - each.notes[after].pitch) > 2 else "unexplained"
    return "unexplained"


def figures() -> tuple[int, Counter[str], Counter[str], int]:
    """Semitone steps, those on one letter by reason, rare names, notes."""
    steps, shared, rare = 0, Counter[str](), Counter[str]()
    for each in sample():
        rare.update(name for name in each.names if name in RARE)
        for place in range(len(each.notes) - 1):
            if abs(each.notes[place + 1].pitch - each.notes[place].pitch) == 1:
                steps += 1
                if each.names[place][0] == each.names[place + 1][0]:
                    shared[kind_of_shared_letter(each, place)] += 1
    return steps, shared, rare, sum(len(each.notes) for each in sample())


def test_half_steps_are_on_two_letters_but_for_a_reason() -> None:
    steps, shared, _, _ = figures()
    assert len(sample()) == 2016
    assert steps > 7000
    assert set(shared) <= {
        "chord and scale",
        "returns",
        "no other plain name",
        "second leads on",
        "left by a leap",
    }, shared
    assert shared["left by a leap"] < 0.005 * steps


def test_rare_names_are_those_of_key_chord_or_scale() -> None:
    for each in sample():
        for place, name in enumerate(each.names):
            near = each.palettes[place : place + 5]  # a figure's target is four notes away at most
            assert len(name) <= 2
            assert name not in RARE or any(name in own.rare for own in near), (name, each.names)
    _, _, rare, notes = figures()
    assert 0 < sum(rare.values()) / notes < 0.03


def test_chord_tones_are_spelled_by_their_chord() -> None:
    for each in sample():
        for note, name, own in zip(each.notes, each.names, each.palettes, strict=True):
            if note.chord_tone:
                assert name == own.fixed[note.pitch % 12]


def test_notes_alone_give_the_names_that_the_analysis_gives() -> None:
    alike = [spell_line(e.line.rules, e.line.events) == tuple(n.name for n in e.line.notes) for e in sample()]
    assert sum(alike) >= 0.95 * len(alike)  # the others have an ending whose degrees name a note


@pytest.mark.parametrize("key", CYCLE)
def test_a_rising_chromatic_scale_is_raised_and_a_falling_one_lowered(key: str) -> None:
    """Common practice: over the tonic, tones outside the scale take the letter that they leave."""
    rules = parse_rules(
        transpose_tables({"changes": "Cmaj7 | % | %", "range": {"lowest": "C2", "highest": "C6"}}, key),
        CORPUS,
    )
    root = 60 + rules.progression.chords[0].root_class - 12
    rising = [root + semitone for semitone in range(13)]
    scale = palette(rules.progression.chords[0], rules.scales[0], rules.key).fixed
    for pitches, sign in ((rising, 1), (rising[::-1], -1)):
        notes = rules.notes(tuple((240 * at, pitch, 240) for at, pitch in enumerate(pitches)))
        names = [name.rstrip("0123456789") for name in line_names(rules, notes)]
        for place, (pitch, name) in enumerate(zip(pitches, names, strict=True)):
            if pitch % 12 in scale:
                assert name == scale[pitch % 12]
            elif pitch % 12 in {1, 3, 6, 8, 10}:
                expected = names[place - 1][0], names[place + 1][0]
                assert name[0] == expected[0] != expected[1], (names, sign)


def _by_ps13(each: Spelled) -> list[str]:
    from partitura.musicanalysis import estimate_spelling

    notes = [
        (note.onset / 480, note.length / 480, note.pitch, 80, f"n{at}") for at, note in enumerate(each.notes)
    ]
    kinds: Any = [
        ("onset_beat", "f4"),
        ("duration_beat", "f4"),
        ("pitch", "i4"),
        ("velocity", "i4"),
        ("id", "U8"),
    ]
    found = estimate_spelling(np.array(notes, dtype=kinds))
    return [row["step"] + ("#" if row["alter"] > 0 else "b") * abs(row["alter"]) for row in found]


def _fifths(name: str) -> int:
    return "FCGDAEB".index(name[0]) - 1 + 7 * (name.count("#") - name[1:].count("b"))


def test_ps13_agrees_on_most_notes() -> None:
    """A whole line that lies a diminished second apart (F# is Gb) counts as agreement."""
    pytest.importorskip("partitura")
    alike: Counter[str] = Counter()
    of: Counter[str] = Counter()
    for each in sample()[::4]:
        theirs = _by_ps13(each)
        by_shift = [
            [_fifths(a) == _fifths(b) + shift for a, b in zip(each.names, theirs, strict=True)]
            for shift in (0, 12, -12)
        ]
        best = max(by_shift, key=sum)
        for place, (note, same) in enumerate(zip(each.notes, best, strict=True)):
            kind = "chord" if note.chord_tone else "scale" if each.fixed(place) else "chromatic"
            of[kind] += 1
            alike[kind] += same
    assert alike["chord"] / of["chord"] > 0.95
    assert alike["scale"] / of["scale"] > 0.95
    assert alike["chromatic"] / of["chromatic"] > 0.55
