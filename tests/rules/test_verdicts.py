"""The verdict on any line under rule files that chance has written: never without a reason."""

from __future__ import annotations

import random

import pytest

from everyline.rules.breaches import judge
from everyline.rules.line import Event, Events
from everyline.rules.rulefile import parse_rules
from everyline.solver.compiler import compile_rules
from tests.reference.random_rules import random_rules
from tests.spaces import CORPUS
from tests.sweeps import sweep

KINDS = ("pitch", "pitch", "pitch", "octave", "octave on", "length", "onset", "left out", "twice")
LENGTHS = (120, 160, 240, 360, 480, 960)
LOWEST, HIGHEST = 12, 115


def slip(rng: random.Random, line: list[Event]) -> None:
    """One slip of the pen or of the fingers."""
    place = rng.randrange(len(line))
    event = line[place]
    kind = rng.choice(
        ("pitch", "pitch", "pitch", "octave", "octave on", "length", "onset", "left out", "twice")
    )
    if kind == "pitch":
        line[place] = event._replace(pitch=event.pitch + rng.choice((-3, -2, -1, 1, 2, 3)))
    elif kind == "octave":
        line[place] = event._replace(pitch=event.pitch + rng.choice((-12, 12)))
    elif kind == "octave on":
        up = rng.choice((-12, 12))
        line[place:] = [each._replace(pitch=each.pitch + up) for each in line[place:]]
    elif kind == "length":
        line[place] = event._replace(length=rng.choice(LENGTHS))
    elif kind == "onset":
        line[place] = event._replace(onset=event.onset + rng.choice((-120, 120, 240)))
    elif kind == "left out" and len(line) > 2:
        del line[place]
    else:
        line.insert(place, event._replace(pitch=event.pitch + rng.choice((-2, 2))))


def lines(seed: int, some: int) -> list[tuple[Events, bool]]:
    """Lines of a space with up to three slips each, and whether the space still has them."""
    rng = random.Random(seed)
    diagram = compile_rules(parse_rules(random_rules(seed, most=400, extended=seed % 4 > 0), CORPUS))
    found = []
    for _ in range(some if diagram.count else 0):
        line = list(diagram.line(rng.randint(1, diagram.count)))
        for _ in range(rng.randint(0, 3)):
            slip(rng, line)
        events = tuple(sorted(line))
        if all(LOWEST < event.pitch < HIGHEST for event in events):
            found.append((events, diagram.number(events) is not None))
    return found


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(sweep(12, 400)))
def test_a_line_is_valid_or_some_rule_is_named(seed: int) -> None:
    rules = parse_rules(random_rules(seed, most=400, extended=seed % 4 > 0), CORPUS)
    for events, there in lines(seed, 12):
        verdict = judge(rules, events)
        assert verdict.valid == there, events
        assert all(breach.rule != "anatomy" for breach in verdict.breaches), events
        assert all(breach.message.endswith(".") for breach in verdict.breaches)


def test_a_figure_whose_target_would_lie_over_another_chord_is_no_reading() -> None:
    tables = {
        "changes": "G7 | Cm7",
        "meter": "5/4",
        "rhythm": {"cells": ["r8 8", "4", "8t 8t 8t"]},
        "passing": {"kinds": ["scale"]},
        "approach": {"figures": ["double-below-above"]},
        "handoff": {"rule": "nearest-or-common"},
        "ending": {"use": ["plain"]},
    }
    line = ((0, 59, 480), (720, 57, 240), (960, 58, 480), (1440, 60, 480), (1920, 59, 160), (2080, 60, 160))
    events = tuple(Event(*each) for each in (*line, (2240, 62, 160), (2400, 63, 480)))
    rules = parse_rules(tables, CORPUS)
    assert judge(rules, events).valid == (compile_rules(rules).number(events) is not None)
