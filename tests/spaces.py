"""Small spaces that several tests share, with counts worked out by hand or by the plain reference."""

from __future__ import annotations

from typing import Any

from everyline.corpora import load
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules

CORPUS = load()

TWO_FIVE_ONE: dict[str, Any] = {
    "changes": "Dm7 | G7 | Cmaj7",
    "range": {"lowest": "E3", "highest": "E5"},
    "arpeggio": {"turns": 0},
    "approach": {"figures": ["enclosure-2", "enclosure-3"], "count": ["1", "0"]},
    "ending": {"use": ["plain", "rise", "fall"]},
    "endings": [
        {"name": "rise", "notes": "#5 b9' 1 b7 | 5"},
        {"name": "fall", "notes": "b9 1 b7 5 | 3 1", "rhythm": "8 8 8 8 | 8 4."},
    ],
}
"""1758 lines."""

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
    "ending": {"use": ["plain", "up", "triplets"]},
    "endings": [
        {"name": "up", "notes": "3 5 b7 b9 | 5"},
        {"name": "triplets", "notes": "#9 b9 1 3, | 3 5", "rhythm": "8t 8t 8t 4 | 4 4"},
    ],
}
"""6003697 lines."""

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
    "ending": {"use": ["plain", "turn"]},
    "endings": [{"name": "turn", "notes": "b9 1 b7 | 5", "rhythm": "8t 8t 8t | 4"}],
}
"""2377 lines."""

RESTS: dict[str, Any] = {
    "changes": "Dm7 | G7 | Cmaj7",
    "range": {"lowest": "D4", "highest": "C5"},
    "rhythm": {"cells": ["8 8", "4", "r8 8", "8t 8t 8t", "4. 8"]},
    "approach": {"count": ["0"]},
    "arpeggio": {"turns": 0},
    "ending": {"use": ["plain", "early"]},
    "endings": [{"name": "early", "notes": "b9 7 13 | -", "rhythm": "8 8 8 | 4."}],
}
"""1071 lines, with rests, triplets beside eighths and dotted values, and an anticipation."""

VAMP: dict[str, Any] = {
    "changes": "Dm7 | %",
    "range": {"lowest": "D4", "highest": "D5"},
    "arpeggio": {"turns": 1},
    "approach": {"count": ["0"]},
    "ending": {"use": ["plain"]},
}
"""Arpeggios over one chord that may turn once, few enough to follow by eye."""


def rules(data: dict[str, Any], **changed: Any) -> Rules:
    """The rules of one of these spaces, with some tables replaced."""
    return parse_rules({**data, **changed}, CORPUS)
