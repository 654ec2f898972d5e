"""The reference against counts that were on record before it was written."""

from __future__ import annotations

from typing import Any

import pytest

from tests.reference import count, solve

ONE_ENCLOSURE: dict[str, Any] = {
    "changes": "Dm7 | G7 | Cmaj7",
    "range": {"lowest": "E3", "highest": "E5"},
    "arpeggio": {"turns": 0},
    "approach": {"figures": ["enclosure-2", "enclosure-3"], "count": ["1", "0"]},
    "ending": {"use": ["plain", "wide", "falling"]},
    "endings": [
        {"name": "wide", "notes": "#5 b9' 1 b7 | 5"},
        {"name": "falling", "notes": "b9 1 b7 5 | 3 1", "rhythm": "8 8 8 8 | 8 4."},
    ],
}
PICKUPS: dict[str, Any] = {
    "changes": "Fm7 Bb7 | Ebmaj7",
    "range": {"lowest": "E2", "highest": "D5"},
    "entry": {"pickup": [1, 3]},
    "arpeggio": {"turns": 0},
    "approach": {
        "figures": ["enclosure-2", "enclosure-3", "diatonic-above", "chromatic-below"],
        "count": ["0-2", "0-1"],
    },
    "handoff": {"rule": "nearest-or-common"},
    "ending": {"use": ["plain", "climbing", "triplet"]},
    "endings": [
        {"name": "climbing", "notes": "3 5 b7 b9 | 5"},
        {"name": "triplet", "notes": "#9 b9 1 3, | 3 5", "rhythm": "8t 8t 8t 4 | 4 4"},
    ],
}
TRIPLETS: dict[str, Any] = {
    "changes": "Am7 / D7 / | Gmaj7",
    "subdivision": 3,
    "range": {"lowest": "E3", "highest": "G4"},
    "arpeggio": {"turns": 0},
    "approach": {
        "figures": ["above-below", "below-above", "above-double-below", "chromatic-below"],
        "count": ["0-1"],
    },
    "handoff": {"rule": "guide"},
    "ending": {"use": ["plain", "triplet"]},
    "endings": [{"name": "triplet", "notes": "b9 1 b7 | 5", "rhythm": "8t 8t 8t | 4"}],
}
ENDINGS = [
    {"name": "wide", "notes": "#5 b9' 1 b7 | 5"},
    {"name": "falling", "notes": "b9 1 b7 5 | 3 1", "rhythm": "8 8 8 8 | 8 4."},
    {"name": "climbing", "notes": "3 5 b7 b9 | 5", "rhythm": "8 8 8 8 | 2"},
]
PASSING_SCALE: dict[str, Any] = {
    "changes": "Gm7 | C7 | Fmaj7",
    "range": {"lowest": "D3", "highest": "D5"},
    "arpeggio": {"turns": 0},
    "passing": {"kinds": ["scale"]},
    "approach": {"figures": ["enclosure-2"], "count": ["0-1", "0"]},
    "ending": {"use": ["wide", "falling"]},
    "endings": ENDINGS,
}
MINOR_CADENCE: dict[str, Any] = {
    "changes": "Em7b5 | A7 | Dm7",
    "range": {"lowest": "A2", "highest": "F4"},
    "entry": {"degrees": ["1", "b5"]},
    "arpeggio": {"turns": 0},
    "passing": {"kinds": ["scale", "chromatic"], "count": ["0-1", "1-2"]},
    "approach": {"figures": ["diatonic-above-below", "diatonic-above"], "count": ["0", "0-1"]},
    "handoff": {"rule": "nearest-or-common"},
    "ending": {"use": ["plain", "minor"]},
    "endings": [{"name": "minor", "notes": "b9 1 b7 #5 | 5 b3"}],
}
CELLS: dict[str, Any] = {
    "changes": "Fm7 | Bb7 | Ebmaj7",
    "rhythm": {"cells": ["8 8", "4", "r8 8"]},
    "range": {"lowest": "C3", "highest": "G4"},
    "arpeggio": {"turns": 0},
    "approach": {"figures": ["chromatic-below", "above-below"], "count": ["0-1", "0"]},
    "ending": {"use": ["falling"], "lead_in": 3},
    "endings": ENDINGS,
    "limit": [{"kind": "rests", "most": 2}, {"kind": "notes", "least": 14, "most": 17}],
}
SHORT_LEAPS = [
    {"kind": "largest-leap", "semitones": 6},
    {"kind": "direction-changes", "most": 7},
    {"kind": "single-peak"},
]
FIFTH_ON_THREE = [
    {"kind": "must-target", "degree": "5", "chord": "Dm7", "beat": "3"},
    {"kind": "playable", "span": 5},
]
CHROMATIC_ON_TOP_STRINGS = [
    {"kind": "require-intervals", "intervals": [-1, -1]},
    {"kind": "playable", "strings": [1, 2, 3], "span": 4},
]
STEPS_ONLY = [{"kind": "largest-leap", "semitones": 2}]


@pytest.mark.parametrize(
    ("rules", "number"),
    [
        (ONE_ENCLOSURE, 1758),
        (PICKUPS, 6003697),
        (TRIPLETS, 2377),
        (PASSING_SCALE, 14786),
        (MINOR_CADENCE, 1707),
        (CELLS, 48012),
    ],
    ids=["8", "pickup", "8t", "passing", "minor", "cells"],
)
def test_counts(rules: dict[str, Any], number: int) -> None:
    assert count(rules) == number


@pytest.mark.parametrize("rules", [ONE_ENCLOSURE, TRIPLETS, MINOR_CADENCE], ids=["8", "8t", "minor"])
def test_listing_agrees_with_counting(rules: dict[str, Any]) -> None:
    assert len(solve(rules).lines) == count(rules)


@pytest.mark.parametrize(
    ("limits", "number"),
    [(SHORT_LEAPS, 1092), (FIFTH_ON_THREE, 127), (CHROMATIC_ON_TOP_STRINGS, 13), (STEPS_ONLY, 0)],
    ids=["leaps", "target", "strings", "steps"],
)
def test_limits(limits: list[dict[str, Any]], number: int) -> None:
    assert len(solve({**ONE_ENCLOSURE, "limit": limits}).lines) == number


def test_the_twelve_smoothest() -> None:
    expected = [(5, n) for n in (211, 230, 485)]
    expected += [(6, n) for n in (99, 102, 212, 213, 215, 219, 220, 226, 228)]
    assert solve(ONE_ENCLOSURE).smoothest(12) == expected
