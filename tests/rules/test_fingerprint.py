"""What names a set of lines: the same however rules are written, another for whatever decides lines."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

from everyline.rules.canonical import fingerprint
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from tests.rules.limit_cases import corpus


def read(**keys: Any) -> Rules:
    return parse_rules({"changes": "Dm7 | G7 | Cmaj7", **keys}, corpus())


def test_fingerprint_is_the_same_however_it_is_written() -> None:
    plain = read(approach={"figures": ["below-above", "above-below"]}, limit=[{"kind": "single-peak"}])
    other = read(
        changes="D-7 | G7 | % | CM7".replace(" | %", ""),
        title="Another name",
        approach={"figures": ["above-below", "below-above"], "reach": 7},
        limit=[{"kind": "single-peak"}],
        range={"lowest": "Fb3", "highest": "E5"},
    )
    assert fingerprint(plain) == fingerprint(other)


CHANGED: tuple[dict[str, Any], ...] = (
    {"changes": "Dm7 | G7 | C6"},
    {"changes": "Dm7 / / G7 | Cmaj7"},
    {"subdivision": 3},
    {"meter": "3/4"},
    {"scales": {"G7": "altered"}},
    {"range": {"lowest": "E3", "highest": "F5"}},
    {"entry": {"beats": ["1", "2"]}},
    {"entry": {"start": ["D4"]}},
    {"entry": {"degrees": ["1"]}},
    {"arpeggio": {"turns": 0}},
    {"arpeggio": {"skips": 1}},
    {"passing": {"kinds": ["scale"]}},
    {"passing": {"kinds": ["scale"], "place": "any"}},
    {"passing": {"kinds": ["scale"], "count": ["0-1"]}},
    {"passing": {"kinds": ["scale", "chromatic"]}},
    {"rhythm": {"cells": ["8 8"]}},
    {"rhythm": {"cells": ["8 8", "4"]}},
    {"arpeggio": {"direction": "up"}},
    {"approach": {"figures": ["above-below"]}},
    {"approach": {"count": ["1"]}},
    {"approach": {"targets": ["5"]}},
    {"approach": {"reach": 6}},
    {"approach": {"after": 2}},
    {"handoff": {"rule": "step"}},
    {"ending": {"use": ["plain"], "lead_in": 3}},
    {"ending": {"use": ["mine"]}, "endings": [{"name": "mine", "notes": "#5 b9' | 5"}]},
    {"ending": {"use": ["mine"]}, "endings": [{"name": "mine", "notes": "#5 b9 | 5"}]},
    {"ending": {"use": ["mine"]}, "endings": [{"name": "mine", "notes": "#5 b9 | 5", "rhythm": "8 8 | 4"}]},
    {"limit": [{"kind": "largest-leap", "semitones": 9}]},
    {"limit": [{"kind": "largest-leap", "semitones": 8}]},
    {"limit": [{"kind": "avoid-degrees", "degrees": ["4"], "chord": "G7"}]},
    {"limit": [{"kind": "avoid-degrees", "degrees": ["4"], "chord": "Dm7"}]},
    {"limit": [{"kind": "playable"}]},
    {"limit": [{"kind": "playable", "strings": [1, 2]}]},
    {"limit": [{"kind": "must-target", "degree": "5"}]},
    {"limit": [{"kind": "must-target", "degree": "5", "beat": "3"}]},
)


def test_fingerprint_changes_with_whatever_decides_the_lines() -> None:
    prints = [fingerprint(read(**{"ending": {"use": ["plain"]}, **keys})) for keys in ({}, *CHANGED)]
    assert len(set(prints)) == len(prints)


def test_fingerprint_ignores_what_decides_no_line() -> None:
    assert fingerprint(read(title="x", roughness={"step": 9})) == fingerprint(read())


def test_fingerprint_is_the_same_in_every_process() -> None:
    code = (
        "from everyline import corpora; from everyline.rules.rulefile import parse_rules;"
        "from everyline.rules.canonical import fingerprint;"
        "print(fingerprint(parse_rules({'changes': 'Dm7 | G7 | Cmaj7', 'entry': {'start': ['D4', 'F', 'A']},"
        "'limit': [{'kind': 'single-peak'}, {'kind': 'avoid-degrees', 'degrees': ['4', 'b9']}]},"
        "corpora.load())))"
    )
    printed = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": str(Path(__file__).parents[2])},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(printed) == 1 and len(printed.pop().strip()) == 64
