"""Phrasing: accents and lengths as they are taught; every figure here is common practice."""

from __future__ import annotations

from itertools import pairwise

from everyline.rules.analysis import ARPEGGIO, ENTRY, PASSING
from everyline.rules.annotate import AnnotatedLine
from everyline.sound.performance import perform
from everyline.sound.phrasing import Phrased, phrased
from everyline.sound.sound_options import LINE
from tests.everyline.sound.sounding import some_lines
from tests.handmade import handmade


def how(line: AnnotatedLine) -> tuple[Phrased, ...]:
    return phrased(line.notes, swings=True)


def test_offbeats_are_stronger_than_the_beats_around_them() -> None:
    played = how(handmade("D4 E4 F4 G4 A4 B4 C5 D5 E5:4"))
    for place in (1, 3, 5, 7):
        assert played[place].velocity > played[place - 1].velocity
    for place in (1, 3, 5):
        assert played[place].velocity > played[place + 1].velocity


def test_peaks_and_the_ends_of_phrases_have_an_accent() -> None:
    line = handmade("D4 F4 A4 F4 D4 F4 E4 r8 | C5 A4 E5 D5 B4 G4 C5:2")
    played = [each.velocity for each in how(line)]
    assert played[2] > played[0], "a peak on a beat"
    assert played[6] > played[4], "before the rest"
    assert max(played) == played[9], "the highest note is the strongest"
    assert played[-1] > played[0]


def test_passing_notes_off_the_beat_are_ghosted() -> None:
    roles = [ENTRY, PASSING, ARPEGGIO, PASSING, PASSING, ARPEGGIO]
    played = [each.velocity for each in how(handmade("D4 E4 F4:8t G4:8t G#4:8t A4:4", roles=roles))]
    assert played[1] < played[0] - 10 and played[3] < played[2] - 10 and played[4] < played[2] - 10


def test_an_offbeat_is_slurred_into_the_beat_and_a_beat_is_not_into_the_offbeat() -> None:
    played = [each.part for each in how(handmade("D4 F4 A4 A4 C5:4 D5:4 r4 E5:4"))]
    assert played[1] == 1 > played[0]
    assert played[2] < played[0], "before itself a note is let go sooner"
    assert played[5] == 1, "before a rest a note has its full length"


def test_every_velocity_can_be_played_and_no_two_notes_overlap() -> None:
    for line in some_lines():
        (only,) = perform(line).passes
        notes = [note for note in only.notes if note.part == LINE]
        assert len({note.velocity for note in notes}) > 2
        assert all(40 <= note.velocity <= 120 for note in notes)
        assert all(one.end <= two.start + 1e-9 for one, two in pairwise(notes))
