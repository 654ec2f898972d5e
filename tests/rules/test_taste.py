"""Strangeness of a line, by hand and against roughness; families of chords; what a taste hears."""

from __future__ import annotations

import pytest

from everyline import lines
from everyline.rules.chord_table import QUALITIES
from everyline.rules.chords import parse_chord
from everyline.rules.line import make_events
from everyline.rules.line_text import parse_line
from everyline.rules.plain_taste import plain_taste
from everyline.rules.roughness import roughness
from everyline.rules.taste import (
    FAMILIES,
    BeatCosts,
    HeardMove,
    Melody,
    Taste,
    beats,
    family,
    moves,
    strangeness,
)
from everyline.rules.taste_statistics import counted, distances, divergence

SPACE = lines("Dm7 | G7 | Cmaj7", start="D4", endings=["plain"])


def row(**costs: int) -> tuple[int, ...]:
    """Costs of the intervals named (``up2``, ``down1``, ``same``); 100 for all others."""
    found = [100] * 25
    for name, cost in costs.items():
        step = 0 if name == "same" else int(name.strip("updown")) * (1 if name.startswith("up") else -1)
        found[step + 12] = cost
    return tuple(found)


NO_HARMONY = {(on, each): (0,) * 12 for on in (False, True) for each in FAMILIES}


# Common practice: the five diatonic seventh chords and their relatives.
@pytest.mark.parametrize(
    ("symbols", "expected"),
    [
        ("C Cmaj7 C6 C6/9 Cmaj9 Caug Cmaj7#11 Cmaj7sus4", "major"),
        ("Cm Cm7 Cm9 Cm6 Cm(maj7) Cm11 Cm7#11 Cmadd9", "minor"),
        ("C7 C9 C13 C7b9 C7#9 C7alt C7#5 C7b5 C7#11 C7sus4 C9sus4 Csus4 Csus2", "dominant"),
        ("Cm7b5 Cm7b5(9)", "half-diminished"),
        ("Cdim Cdim7 Cdim(maj7)", "diminished"),
    ],
)
def test_families(symbols: str, expected: str) -> None:
    assert {symbol: family(parse_chord(symbol)) for symbol in symbols.split()} == dict.fromkeys(
        symbols.split(), expected
    )


def test_every_quality_has_a_family() -> None:
    assert {family(parse_chord("C" + quality.name)) for quality in QUALITIES} == set(FAMILIES)


def test_what_a_taste_hears() -> None:
    [events] = parse_line("D4 F4 A4 C5 A4 F4 D4 C4 | B3 D4", SPACE.rules)
    heard = list(moves(SPACE.rules, events))
    assert heard[0] == HeardMove(None, 3, False, "minor", 0, "minor", 3)
    assert heard[1] == HeardMove(3, 4, True, "minor", 3, "minor", 7)
    assert heard[7] == HeardMove(-2, -1, True, "minor", 10, "dominant", 4)
    assert len(heard) == len(events) - 1


def test_leaps_beyond_the_octave_are_clipped() -> None:
    events = make_events([(0, 50, 240), (240, 66, 240), (480, 50, 240)])
    assert [(move.before, move.interval) for move in moves(SPACE.rules, events)] == [(None, 12), (12, -12)]


def test_the_most_special_context_counts() -> None:
    taste = Taste(
        "by hand",
        {
            Melody(3, True): row(up4=7),
            Melody(3, True, "minor", 3): row(up4=5),
            Melody(None, False, "minor", 0): row(up3=1),
        },
        {False: row(up3=20, up4=30), True: row(up4=40)},
        NO_HARMONY | {(True, "minor"): (0, 0, 0, 0, 0, 0, 0, 11, 0, 0, 0, 0)},
    )
    assert taste.melody_row(3, True, "minor", 3)[4 + 12] == 5
    assert taste.melody_row(3, True, "minor", 7)[4 + 12] == 7
    assert taste.melody_row(4, True, "minor", 3)[4 + 12] == 40
    [events] = parse_line("D4 F4 A4 C5", SPACE.rules)
    # D to F: the row of a second note. F to A: the special row, and the fifth on a beat. A to C: off the beat
    # after a major third, where there is only the plainest row, which has 100 for it... but for 20.
    assert strangeness(SPACE.rules, events, taste) == 1 + (5 + 11) + 20


def test_plain_taste_is_roughness() -> None:
    taste, weights = plain_taste(), SPACE.rules.weights
    within = [
        line.events
        for line in SPACE.sample(300, seed=5)
        if all(abs(a.pitch - b.pitch) <= 12 for a, b in zip(line.events, line.events[1:], strict=False))
    ]
    assert len(within) > 100
    for events in within:
        pitches = [event.pitch for event in events]
        assert strangeness(SPACE.rules, events, taste) == 16 * roughness(pitches, weights)


def test_beats_from_the_entry_to_the_resolution() -> None:
    found = list(beats(SPACE.rules, [240, 480, 960, 1120, 3840]))
    assert found[:3] == [(None, (24,)), ((24,), (0,)), ((0,), (0, 16))]
    assert found[3] == ((0, 16), ())
    assert len(found) == SPACE.rules.resolution_tick // 480


def test_the_plainest_row_serves_what_was_not_seen() -> None:
    rhythm = BeatCosts({None: {(0, 24): 3}, (0, 24): {(0, 24): 1, (): 9}}, {(0, 24): 16, (0,): 20}, 77)
    assert rhythm.cost(None, (0, 24)) == 3
    assert rhythm.cost((0, 24), ()) == 9
    assert rhythm.cost((0, 24), (0,)) == 20
    assert rhythm.cost((0,), (0, 24)) == 16
    assert rhythm.cost((0,), (12,)) == 77


def test_divergence() -> None:
    # From the definition: two distributions that share nothing are one bit apart, equal ones 0.
    assert divergence({1: 3}, {2: 5}) == 1
    assert divergence({1: 3, 2: 1}, {1: 6, 2: 2}) == 0
    # (1/2, 1/2) against (1, 0): 3/4 log2(4/3) and so on, worked out by hand.
    assert divergence({1: 1, 2: 1}, {1: 1}) == pytest.approx(0.311278, abs=1e-6)
    with pytest.raises(ValueError, match="without counts"):
        divergence({}, {1: 1})


def test_a_style_is_no_distance_from_itself() -> None:
    here = counted(SPACE.rules, [line.events for line in SPACE.sample(50, seed=2)])
    assert distances(here, here) == (0, 0, 0)
    other = counted(SPACE.rules, [line.events for line in SPACE.smoothest(50)])
    assert all(0 < each < 1 for each in distances(other, here))
