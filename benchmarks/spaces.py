"""The sets of lines that are measured, as the tables of a rule file."""

from __future__ import annotations

from typing import Any

from everyline.corpora import load
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules

Tables = dict[str, Any]

II_V_I: Tables = {"changes": "Dm7 | G7 | Cmaj7"}
"""A ii-V-I with every default: every figure with two sides, every ending that fits."""

FORM_BARS = "Dm7 | G7 | Cmaj7 | A7"
"""Four bars that lead back to their start, repeated for forms of any length."""

SIDE_BY_SIDE: dict[str, Tables] = {
    "two chords a bar": {
        "changes": "Dm7 G7 | Cmaj7",
        "range": {"lowest": "G3", "highest": "C5"},
        "arpeggio": {"turns": 0},
        "approach": {"figures": ["enclosure-2", "chromatic-below"], "count": ["0-1"]},
        "ending": {"use": ["plain"]},
    },
    "one enclosure on the ii, two octaves": {
        "changes": "Dm7 | G7 | Cmaj7",
        "range": {"lowest": "E3", "highest": "E5"},
        "arpeggio": {"turns": 0},
        "approach": {"figures": ["enclosure-2", "enclosure-3"], "count": ["1", "0"]},
        "ending": {"use": ["plain", "rise", "fall"]},
        "endings": [
            {"name": "rise", "notes": "#5 b9' 1 b7 | 5"},
            {"name": "fall", "notes": "b9 1 b7 5 | 3 1", "rhythm": "8 8 8 8 | 8 4."},
        ],
    },
}
"""Spaces small enough for solvers that look at every line by itself."""

COVERED: Tables = {
    "changes": "Dm7 | G7 | Cmaj7",
    "range": {"lowest": "G3", "highest": "B4"},
    "arpeggio": {"turns": 0},
    "approach": {"count": ["1", "0"]},
}
"""About forty thousand lines to choose a pair cover from."""

EIGHT_RULES: Tables = {
    "changes": "Dm7 | G7 | Cmaj7",
    "limit": [
        {"kind": "largest-leap", "semitones": 2},
        {"kind": "ambitus", "semitones": 17},
        {"kind": "outside-notes", "most": 5},
        {"kind": "direction-changes", "most": 6},
        {"kind": "strong-beats", "beats": ["1", "3"]},
        {"kind": "single-peak"},
        {"kind": "last-degree", "degrees": ["3", "5"]},
        {"kind": "require-degrees", "chord": "G7", "degrees": ["3"]},
    ],
}
"""Eight limits that together leave no line."""


def form(bars: int, **tables: Any) -> Tables:
    """A form of so many bars, four at a time repeated; it ends plainly."""
    chords = [FORM_BARS.split(" | ")[bar % 4] for bar in range(bars)]
    return {"changes": " | ".join(chords), "ending": {"use": ["plain"]}, **tables}


LISTED: dict[str, Tables] = {"ii-V-I": II_V_I, "6 bars": form(6), "32 bars": form(32)}
"""Spaces that are listed as columns, and listed in part by solvers that look at every line by itself."""


def rules(tables: Tables) -> Rules:
    """The rules of a space."""
    return parse_rules(tables, load())


def refuse(rules: Rules) -> None:
    """ValueError for rules that the models made for clingo and Gecode do not state."""
    if rules.limits or rules.must_targets or rules.arpeggio.turns or rules.approach.after != 1:
        raise ValueError("this comparison states no limits, and only the default turns and after")
