"""The reference against itself: the search and the judgement of whole lines find the same lines."""

from __future__ import annotations

import random
from typing import Any

import pytest

from tests.reference.count import count
from tests.reference.random_endings import random_ending
from tests.reference.random_rules import random_approach, random_passing
from tests.reference.random_time import (
    chance,
    entry_parts,
    pitch_name,
    progression_of,
    random_entry,
    rhythm_of,
)
from tests.reference.result import solve
from tests.reference.rulefile import parse_rules
from tests.reference.vocabulary import figure_steps
from tests.reference.whole_lines import every_line
from tests.sweeps import sweep

TINY = (
    ("Dm7 | G7", "2/4"),
    ("G7 / C7 | F6", "3/4"),
    ("Dm7 G7 | C6", "2/4"),
    ("Em7 | Em7", "2/4"),
    ("A7 | Dm", "2/4"),
)
TINY_CELLS = (["8 8", "4"], ["r8 8", "8 8"], ["8t 8t 8t", "4"], ["4. 8", "4", "r8 8"], ["8 r8", "8 8", "2"])
TINY_NOTES = 7


def tiny_rules(seed: int) -> dict[str, Any]:
    """A rule file of at most seven notes within a range of seven semitones, nearly always with some line."""
    rng = random.Random(seed)
    table = tiny_candidate(rng)
    while not count(table) and chance(rng, 0.95):
        table = tiny_candidate(rng)
    return table


def parse_figures(table: dict[str, Any]) -> list[tuple[str, ...]]:
    """The steps of all figures that a rule file uses."""
    return figure_steps(table["approach"].get("figures"), {f["name"]: f["steps"] for f in table["figures"]})


def tiny_candidate(rng: random.Random) -> dict[str, Any]:
    changes, meter = rng.choice(TINY)
    table: dict[str, Any] = {"changes": changes, "meter": meter}
    if chance(rng, 0.6):
        table["rhythm"] = {"cells": rng.choice(TINY_CELLS)}
    progression = progression_of(table)
    lowest = rng.randint(50, 66)
    pitches = list(range(lowest, lowest + TINY_NOTES))
    table["range"] = {"lowest": pitch_name(pitches[0]), "highest": pitch_name(pitches[-1])}
    table["entry"] = random_entry(rng, progression, pitches, entry_parts(table, True), 4)
    pickups = [n for n in table["entry"].get("pickup", []) if n == 1 and meter == "2/4"]
    table["entry"] = {k: v for k, v in table["entry"].items() if k != "pickup"}
    if pickups:
        table["entry"]["pickup"] = pickups
    table["arpeggio"] = {
        "direction": rng.choice(["up", "down", "either"]),
        "turns": rng.randint(0, 2),
        "skips": rng.randint(0, 1),
    }
    table["passing"] = random_passing(rng)
    table["approach"], table["figures"] = random_approach(rng, progression)
    # Long figures would make far too many sequences to try.
    if max(len(steps) for steps in parse_figures(table)) > 3:
        table["approach"]["figures"] = ["enclosure-2", "diatonic-above", "above-double-below"]
    table["handoff"] = {"rule": rng.choice(["nearest", "nearest-or-common", "step", "guide", "any"])}
    ending = random_ending(rng, "own", progression, pitches, rhythm_of(table), True)
    table["endings"] = [ending] if ending and changes != "Em7 | Em7" else []
    plain = ["plain"] if not table["endings"] or chance(rng, 0.5) else []
    table["ending"] = {"use": plain + [e["name"] for e in table["endings"]], "lead_in": rng.randint(2, 6)}
    return table


@pytest.mark.parametrize("seed", range(sweep(small=15, full=40)))
def test_the_search_finds_every_line_that_is_valid_as_a_whole(seed: int) -> None:
    table = tiny_rules(seed)
    assert set(solve(table).lines) == every_line(parse_rules(table))
