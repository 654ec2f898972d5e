"""The orders of a space's lines, and what may follow a beginning, from the list of all lines."""

from __future__ import annotations

import random
from collections import Counter, defaultdict
from collections.abc import Iterator
from functools import cache

from everyline.rules.line import Event, Events
from everyline.rules.taste import Taste, load_taste
from tests.contract.answers.case import Case
from tests.contract.answers.properties import figures_of
from tests.contract.answers.tastes import taste
from tests.reference.strangeness import strangeness
from tests.spaces import CORPUS

BEGINNINGS = 3
"""Beginnings of a rule file's lines that are looked at."""


@cache
def known() -> Taste:
    """The same taste as the program has it."""
    return load_taste("solos", CORPUS)


def orders_apart(case: Case) -> Iterator[str]:
    """What is wrong with the order from smooth to rough, or with that from the least strange on."""
    found = [(line.roughness, line.number) for line in case.space.ranked()]
    if found != (wanted := case.result.smoothest(len(case.lines))):
        yield f"smoothest: {found[:5]} and so on, the reference has {wanted[:5]}"
    costs = (strangeness(case.result.rules, line, taste("solos")) for line in case.lines)
    wanted = sorted((cost, number) for number, cost in enumerate(costs, 1))
    found = [(line.strangeness, line.number) for line in case.space.by(known()).strange()]
    if found != wanted:
        yield f"least strange: {found[:5]} and so on, the reference has {wanted[:5]}"


def following_apart(case: Case) -> Iterator[str]:
    """What is wrong with the notes that may follow a few beginnings."""
    rng = random.Random(case.seed + 3)
    chosen = rng.sample(case.events, min(BEGINNINGS, len(case.events)))
    beginnings = {events[: rng.randrange(len(events) + 1)] for events in chosen}
    for begun in sorted(beginnings):
        following = case.space.after(begun)
        counts, roles, figures = what_follows(case, begun)
        wrong = f"after {begun}"
        if following.count != sum(counts.values()) + (begun in case.numbers):
            yield f"{wrong}: {following.count} lines go on so, the reference has {sum(counts.values())}"
        if following.ends != (begun in case.numbers):
            yield f"{wrong}: whether a line ends there is told wrongly"
        if (found := {note.event: note.count for note in following.notes}) != counts:
            yield f"{wrong}: {found} go on so, the reference has {dict(counts)}"
        for note in following.notes:
            if set(note.roles) != roles[note.event]:
                yield f"{wrong}: {note.event} is told as {note.roles}, the reference has {roles[note.event]}"
            if set(note.figures) != figures[note.event]:
                yield f"{wrong}: {note.event} begins {note.figures}, the reference has {figures[note.event]}"


def what_follows(
    case: Case, begun: Events
) -> tuple[Counter[Event], dict[Event, set[str]], dict[Event, set[tuple[str, Event]]]]:
    """For each next note of the lines that begin so: how many they are, its roles, and the figures that begin
    on it with the notes that they land on."""
    counts: Counter[Event] = Counter()
    roles: dict[Event, set[str]] = defaultdict(set)
    figures: dict[Event, set[tuple[str, Event]]] = defaultdict(set)
    place = len(begun)
    for line, events in zip(case.lines, case.events, strict=True):
        if events[:place] != begun or len(events) == place:
            continue
        note = events[place]
        counts[note] += 1
        for analysis in case.result.analyses(line):
            roles[note].add(analysis[place])
            for first, target, names in figures_of(case, line, analysis):
                if first == place:
                    figures[note] |= {(name, events[target]) for name in names}
    return counts, roles, figures
