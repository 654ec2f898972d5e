"""Lines played by our own sound with a person's timing, and listened to without knowing the line."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from functools import cache

import pytest

from everyline.listening import Heard, hear
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.line import Events
from everyline.rules.rulefile import parse_rules
from everyline.sound.audio import available
from everyline.spaces.checking import likeliest
from everyline.spaces.space import Space
from tests.everyline.listening.playing import PROGRAMS, played
from tests.spaces import CORPUS
from tests.sweeps import sweep

synthesiser = pytest.mark.skipif(not available(), reason="no synthesiser on this machine")

TEMPI = (60, 90, 120, 150, 180, 200)
SEED = 16
LEAST = 0.98
"""The share of each instrument's notes that have to be right."""


@cache
def space_of(instrument: str) -> Space:
    """Lines over a ii-V-I in the comfortable range of an instrument, with stock endings of many rhythms;
    those of the saxophone begin before the bar."""
    return Space(
        parse_rules(
            {
                "changes": "Dm7 | G7 | Cmaj7",
                "range": {"instrument": instrument},
                "entry": {"pickup": [1, 3]} if "saxophone" in instrument else {},
                "arpeggio": {"turns": 1},
                "approach": {"figures": ["enclosure-2", "enclosure-3"], "count": ["0-1"]},
            },
            CORPUS,
        )
    )


@dataclass
class Score:
    """Notes played, heard right in pitch and place, and heard that were not played; what was called sure."""

    notes: int = 0
    right: int = 0
    added: int = 0
    sure: int = 0
    sure_and_wrong: int = 0
    missed: list[str] = field(default_factory=list)

    def add(self, name: str, line: AnnotatedLine, heard: Heard, events: Events) -> None:
        """Count one take."""
        wanted = {(event.onset, event.pitch) for event in line.events}
        found = {(event.onset, event.pitch) for event in events}
        self.notes += len(wanted)
        self.right += len(wanted & found)
        self.added += max(0, len(found) - len(wanted))
        for note in heard.notes(events):
            if not note.note.unsure:
                self.sure += 1
                self.sure_and_wrong += (note.event.onset, note.event.pitch) not in wanted
        if wanted != found:
            self.missed.append(f"{name}: {len(wanted & found)} of {len(wanted)}")


def listen(instrument: str, tempo: int, takes: int, seed: int) -> Score:
    """Takes of lines drawn by the seed, each read as the rules alone let it be read."""
    space, score = space_of(instrument), Score()
    chance = random.Random(f"{instrument} {tempo} {seed}")
    for take in range(takes):
        line = space.line(chance.randrange(space.count) + 1)
        sound = played(line, tempo, PROGRAMS[instrument], chance.randrange(1 << 30))
        heard = hear(sound.file(), "take.wav", space.rules, tempo)
        events, _ = likeliest(space, heard.line.candidates)
        score.add(f"{instrument} {tempo} {take}", line, heard, events)
    return score


@synthesiser
@pytest.mark.slow
@pytest.mark.parametrize("instrument", PROGRAMS)
def test_notes_are_right_in_pitch_and_place(instrument: str) -> None:
    scores = [listen(instrument, tempo, sweep(1, 4), SEED) for tempo in TEMPI[:: sweep(5, 1)]]
    notes, right = sum(score.notes for score in scores), sum(score.right for score in scores)
    missed = [each for score in scores for each in score.missed]
    print(
        f"{instrument}: {notes} notes, {right} right ({right / notes:.2%}), "
        f"{sum(score.added for score in scores)} added, {sum(score.sure for score in scores)} sure, "
        f"{sum(score.sure_and_wrong for score in scores)} of them wrong; {missed}"
    )
    assert right >= LEAST * notes, missed
