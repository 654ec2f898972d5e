"""Tallies: the same as counting over the listed lines, and what must hold of any set of lines at any size."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from everyline.rules.roughness import roughness
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from everyline.rules.taste import default_taste, strangeness
from everyline.solver.compiler import compile_rules
from everyline.solver.tally import KINDS, LINES, NOTES, STEPS, Tally, tallies
from tests.reference.random_rules import random_rules
from tests.spaces import CORPUS, PICKUPS, TRIPLETS, TWO_FIVE_ONE, VAMP, rules
from tests.sweeps import sweep


def _listed(space: Rules) -> dict[str, Counter[int]]:
    """Every tally, counted line by line."""
    found: dict[str, Counter[int]] = {kind: Counter() for kind in KINDS}
    for line in compile_rules(space).walk():
        pitches = [event.pitch for event in line]
        found["interval"].update(after - before for before, after in pairwise(pitches))
        found["degree"].update(space.note(event).degree for event in line)
        found["pitch"].update(pitches)
        found["roughness"][roughness(pitches, space.weights)] += 1
        found["strangeness"][strangeness(space, line, default_taste()) // 16] += 1
        found["notes"][len(line)] += 1
        steps = [after - before for before, after in pairwise(pitches)]
        found["largest-leap"][max(map(abs, steps), default=0)] += 1
        found["range"][max(pitches) - min(pitches)] += 1
        ways = [step > 0 for step in steps if step]
        found["direction-changes"][sum(before != after for before, after in pairwise(ways))] += 1
    return found


def _numbers(tally: Tally) -> Counter[int]:
    found: Counter[int] = Counter()
    for entry in tally.entries:
        found[entry.number] += entry.count
    return found


def _check(space: Rules) -> None:
    listed = _listed(space)
    found = tallies(space)
    assert [tally.kind for tally in found] == list(KINDS)
    for tally in found:
        assert _numbers(tally) == listed[tally.kind], tally.kind
        if tally.kind != "degree" and tally.entries:
            every = list(listed[tally.kind].elements())
            assert tally.mean == Fraction(sum(every), len(every))


@pytest.mark.parametrize("data", [TWO_FIVE_ONE, TRIPLETS, VAMP])
def test_what_counting_over_the_lines_gives(data: dict) -> None:
    _check(rules(data))


@pytest.mark.slow
@settings(max_examples=sweep(10, 60), deadline=None)
@given(seed=st.integers(0, 100_000))
def test_what_counting_over_the_lines_gives_for_random_rules(seed: int) -> None:
    _check(parse_rules(random_rules(seed, most=600), CORPUS))


FORM = {"changes": " | ".join(["Dm7", "G7", "Cmaj7", "A7"] * sweep(small=3, full=8))}


@pytest.mark.parametrize("data", [PICKUPS, FORM])
def test_what_must_hold_at_any_size(data: dict) -> None:
    """Every line has one interval less than notes, and its intervals add up to the way from first to last."""
    space = rules(data)
    diagram = compile_rules(space)
    found = {tally.kind: tally for tally in tallies(space, diagram)}
    lines = diagram.count
    assert {tally.total for tally in found.values() if tally.of == LINES} == {lines}
    notes = sum(entry.number * entry.count for entry in found["notes"].entries)
    assert found["pitch"].total == found["degree"].total == notes
    assert found["interval"].total == notes - lines
    way = sum(entry.number * entry.count for entry in found["interval"].entries)
    assert way == _sum_of_last_pitches(diagram) - _sum_of_first_pitches(diagram)


def _sum_of_first_pitches(diagram) -> int:
    edges = zip(diagram.labels[diagram.root], diagram.children[diagram.root], strict=True)
    return sum(diagram.events[label].pitch * diagram.totals[child] for label, child in edges)


def _sum_of_last_pitches(diagram) -> int:
    """Forward: ways to each node by the pitch before it."""
    ways: list[Counter[int]] = [Counter() for _ in diagram.labels]
    ways[diagram.root][0] = 1
    total = 0
    for node in range(diagram.root, -1, -1):
        if diagram.accepts[node]:
            total += sum(pitch * number for pitch, number in ways[node].items())
        for label, child in zip(diagram.labels[node], diagram.children[node], strict=True):
            ways[child][diagram.events[label].pitch] += sum(ways[node].values())
    return total


def test_up_and_down_are_told_apart() -> None:
    """Arpeggios of a seventh chord that rise only move by its thirds and the step over the top (common
    practice: a minor seventh chord is built of a minor, a major and a minor third)."""
    space = rules(VAMP, arpeggio={"direction": "up", "turns": 0}, range={"lowest": "D3", "highest": "C6"})
    (found,) = tallies(space, only=["interval"])
    assert {entry.number for entry in found.entries if entry.number > 0} == {2, 3, 4}


def test_what_is_counted_and_its_names() -> None:
    found = {tally.kind: tally for tally in tallies(rules(TWO_FIVE_ONE))}
    assert {kind: tally.of for kind, tally in found.items()} == {
        "interval": STEPS,
        "degree": NOTES,
        "pitch": NOTES,
        "roughness": LINES,
        "strangeness": LINES,
        "notes": LINES,
        "largest-leap": LINES,
        "range": LINES,
        "direction-changes": LINES,
    }
    assert {"+1", "-1"} <= {entry.label for entry in found["interval"].entries}
    assert {"1", "b3", "3", "5", "b7", "7"} <= {entry.label for entry in found["degree"].entries}
    assert found["degree"].mean is None
    assert all(entry.count for tally in found.values() for entry in tally.entries)


def test_no_line_no_entry() -> None:
    none = rules(VAMP, entry={"start": ["D4"], "degrees": ["5"]})
    assert [(tally.total, tally.mean, tally.entries) for tally in tallies(none)] == [(0, None, ())] * len(
        KINDS
    )
