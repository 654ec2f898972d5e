"""Small spaces, one for each thing that a rule file can say, as the tables of a rule file.

Each holds a few hundred lines at most, so that every engine lists all of them in a moment.
"""

from __future__ import annotations

from functools import cache
from typing import Any

from everyline.rules.line import Event, Events
from everyline.rules.ruleset import Rules
from everyline.solver.contract import engine
from tests.reference import solve
from tests.spaces import rules

Table = dict[str, Any]

_NARROW = {"lowest": "C4", "highest": "A4"}
_WIDE = {"lowest": "A3", "highest": "C5"}
_PLAIN = {"use": ["plain"]}

BASE: Table = {
    "changes": "Dm7 G7 | Cmaj7",
    "range": _NARROW,
    "arpeggio": {"turns": 0},
    "approach": {"figures": ["enclosure-2", "chromatic-below"], "count": ["0-1"]},
    "ending": _PLAIN,
}
"""What most of the spaces change one thing of."""


def _changed(**tables: Any) -> Table:
    return {**BASE, **tables}


def _approach(**keys: Any) -> Table:
    return _changed(approach={**BASE["approach"], **keys})


def _limited(*limits: Table) -> Table:
    return _changed(limit=list(limits))


def _limit(kind: str, **keys: Any) -> Table:
    return {"kind": kind, **keys}


_ENDINGS = [
    {"name": "down", "notes": "b9 1 b7 | 5", "rhythm": "8 8 8 | 4"},
    {"name": "rests", "notes": "5 b9 | 5 3", "rhythm": "8 r8 8 | 8 r8 4."},
    {"name": "octave", "notes": "3 5, b7' | 3", "rhythm": "8t 8t 8t | 4"},
    {"name": "from-the-start", "notes": "5 b7 5 b7 5 4 5 b7 | 3"},
]


def _skipped(count: str) -> Table:
    """The ending takes the whole of the second chord, of which ``count`` figures are asked."""
    return _changed(
        changes="Dm7 | G7 | Cmaj7",
        approach={"figures": ["enclosure-2", "chromatic-below"], "count": ["0-1", count]},
        endings=_ENDINGS[3:],
        ending={"use": ["from-the-start"]},
    )


_HANDOFFS = ("nearest", "nearest-or-common", "step", "guide", "any")

HANDOFFS: dict[str, Table] = {
    f"handoff {rule}": _changed(
        changes="Am7 D7 | G7", meter="2/4", range={"lowest": "G3", "highest": "E5"}, handoff={"rule": rule}
    )
    for rule in _HANDOFFS
}

LIMITS: dict[str, Table] = {
    "largest leap": _limited(_limit("largest-leap", semitones=4)),
    "ambitus": _limited(_limit("ambitus", semitones=7)),
    "direction changes": _limited(_limit("direction-changes", least=2, most=3)),
    "outside notes": _limited(_limit("outside-notes", least=2, most=2)),
    "strong beats": _limited(_limit("strong-beats", beats=["1", "3"])),
    "degrees": _limited(
        _limit("avoid-degrees", degrees=["5", "4"], chord="G7"),
        _limit("require-degrees", degrees=["b3"], chord="Dm7"),
    ),
    "peak and no return": _limited(_limit("single-peak"), _limit("no-return", notes=3)),
    "intervals": _limited(
        _limit("forbid-intervals", intervals=[3, 3]), _limit("require-intervals", intervals=[-1, 2])
    ),
    "last degree": _limited(_limit("last-degree", degrees=["3", "5"])),
    "playable": _limited(_limit("playable", strings=[2, 3, 4], span=4)),
    "must-target": _limited(_limit("must-target", degree="5", chord="Dm7", beat="2")),
    "must-target twice": _changed(
        approach={"figures": ["enclosure-2", "above-double-below"], "count": ["1-2", "0-1"]},
        limit=[_limit("must-target", degree="3", chord="G7"), _limit("must-target", degree="1")],
        changes="Dm7 | G7",
        range=_WIDE,
    ),
    "landing": _limited(
        _limit("landing", degrees=["3", "7"], chord="Cmaj7"),
        _limit("landing", degrees=["5", "b7"], chord="G7"),
    ),
    "standing": _limited(_limit("standing", notes=4, semitones=5)),
    "rhythm, notes and rests": _changed(
        rhythm={"cells": ["8 8", "r8 8", "8t 8t 8t", "4"]},
        approach={"figures": ["chromatic-below"], "count": ["0-1"]},
        limit=[
            _limit("rhythm", pattern="8t 8t 8t", least=1, most=1),
            _limit("notes", most=7),
            _limit("rests", least=1),
        ],
    ),
}

SPACES: dict[str, Table] = {
    "base": BASE,
    **HANDOFFS,
    "pickups": _changed(entry={"pickup": [1, 3]}, range={"lowest": "C4", "highest": "G4"}),
    "pickup and beats": _changed(
        entry={"beats": ["1", "2&"], "pickup": [2]}, range={"lowest": "C4", "highest": "G4"}
    ),
    "start": _changed(entry={"start": ["D4", "C#4", "F"]}),
    "start degrees": _changed(entry={"degrees": ["b3", "4", "7"]}),
    "triplets": _changed(
        subdivision=3,
        approach={"figures": ["enclosure-2", "diatonic-above-below"], "count": ["0-1"]},
        range={"lowest": "C4", "highest": "B4"},
    ),
    "sixteenths": _changed(
        changes="Dm7 G7 | C6",
        meter="2/4",
        range=_WIDE,
        subdivision=4,
        approach={"figures": ["enclosure-3", "chromatic-above"], "count": ["0-1"]},
    ),
    "three four": _changed(
        changes="Dm7 | G7 | Am7", meter="3/4", approach={"figures": ["below-above"], "count": ["0-1"]}
    ),
    "five four": _changed(changes="Bm7b5 | E7b9", meter="5/4", range=_WIDE, handoff={"rule": "step"}),
    "endings": _changed(
        changes="Dm7 | G7 | Cmaj7",
        range={"lowest": "B3", "highest": "E5"},
        approach={"figures": ["enclosure-2"], "count": ["0-1", "0"]},
        endings=_ENDINGS,
        ending={"use": ["plain", "down", "rests", "octave", "from-the-start"], "lead_in": 6},
    ),
    "endings alone": _changed(
        endings=_ENDINGS[:2], ending={"use": ["down", "rests"], "lead_in": 2}, entry={"pickup": [4]}
    ),
    "ending in the first chord": _changed(
        changes="G7 | C6",
        endings=[{"name": "early", "notes": "b7 5 #5 1 | 3 1", "rhythm": "8 8 8 8 | 8 4."}],
        ending={"use": ["plain", "early"]},
    ),
    "counted ending": _changed(
        approach={"figures": ["enclosure-2", "chromatic-below"], "count": ["0-1", "1-2"]},
        changes="Dm7 | G7 | Cmaj7",
        range={"lowest": "C4", "highest": "B4"},
        endings=_ENDINGS[:1],
        ending={"use": ["down"]},
    ),
    "skipped chord": _skipped("0-1"),
    "turns": _changed(arpeggio={"turns": 1}, range={"lowest": "C4", "highest": "B4"}),
    "turns without end": _changed(
        arpeggio={"turns": 50},
        range={"lowest": "C4", "highest": "G4"},
        approach={"figures": ["enclosure-2"], "count": ["0-1"]},
    ),
    "up": _changed(arpeggio={"direction": "up", "turns": 0}),
    "down": _changed(arpeggio={"direction": "down", "turns": 2}),
    "targets": _approach(targets=["5", "b3"]),
    "after": _changed(
        changes="Dm7 | G7",
        approach={"figures": ["enclosure-2", "chromatic-below"], "count": ["2"], "after": 3},
    ),
    "after nothing": _changed(
        changes="Dm7 | G7",
        range={"lowest": "C4", "highest": "B4"},
        approach={"figures": ["above-below", "chromatic-below"], "count": ["2-3"], "after": 0},
    ),
    "reach": _approach(reach=2),
    "counts": _changed(range=_WIDE, approach={"figures": ["enclosure-2"], "count": ["1", "0"]}),
    "no figures": _changed(range={"lowest": "E3", "highest": "E5"}, approach={"count": ["0"]}),
    "diatonic in another scale": _changed(
        changes="Dm7 G7 | Cm7",
        range=_WIDE,
        scales={"G7": "altered"},
        approach={"figures": ["diatonic-above-below"]},
    ),
    "own figure": _changed(
        figures=[{"name": "winding", "steps": "-2 +1 -1"}, {"name": "still", "steps": "+1"}],
        approach={"figures": ["winding", "still", "chromatic-above"], "count": ["0-2"]},
    ),
    "vamp": {
        "changes": "Dm7 | %",
        "range": {"lowest": "C4", "highest": "C5"},
        "arpeggio": {"turns": 0},
        "approach": {"figures": ["enclosure-2"], "count": ["0-1"]},
        "handoff": {"rule": "nearest-or-common"},
        "ending": _PLAIN,
    },
    "position": _changed(range={"instrument": "guitar", "position": 5, "strings": [2, 3, 4], "span": 4}),
    "passing notes": _changed(
        passing={"kinds": ["scale", "chromatic"], "count": ["0-2"]},
        approach={"figures": ["enclosure-2"], "count": ["0-1"]},
    ),
    "passing notes on a beat": _changed(passing={"kinds": ["scale"], "place": "any"}),
    "skips": _changed(arpeggio={"skips": 1, "turns": 0}),
    "cells": _changed(
        rhythm={"cells": ["8 8", "4. 8", "r8 8"]},
        approach={"figures": ["enclosure-2", "chromatic-below"], "count": ["0-1"]},
        passing={"kinds": ["scale"], "count": ["0-1"]},
    ),
    "numerals": _changed(changes="ii7 V7 | I6", key="Eb"),
    **LIMITS,
}

NOTHING: dict[str, Table] = {
    "no line": _limited(_limit("largest-leap", semitones=0)),
    "no entry": _changed(entry={"start": ["C#4"]}, approach={"count": ["0"]}),
    "unmet target": _changed(
        approach={"figures": ["enclosure-2"], "count": ["0"]}, limit=[_limit("must-target", degree="5")]
    ),
    "unsounded chord": _skipped("1"),
    "figures that never fit": _approach(count=["9"]),
}
"""Spaces without a line, each for a reason of its own."""


@cache
def space(name: str) -> Rules:
    """The rules of a space, by its name."""
    return rules({**SPACES, **NOTHING}[name])


@cache
def found(engine_name: str, name: str) -> tuple[Events, ...]:
    """What an engine lists for a space."""
    return tuple(engine(engine_name).lines(space(name)))


@cache
def expected(name: str) -> tuple[Events, ...]:
    """What the plain reference solver lists for a space."""
    lines = solve({**SPACES, **NOTHING}[name]).lines
    return tuple(tuple(Event(onset, pitch, length) for onset, length, pitch in line) for line in lines)
