"""Verdicts: valid exactly where the reference has the line, with its number, and never "not valid" without a
reason."""

from __future__ import annotations

import random
from collections.abc import Iterator

from everyline.rules.breaches import judge
from everyline.rules.line import Event, Events
from tests.contract.answers.case import Case, as_events
from tests.reference import solve
from tests.reference.limits import LIMITS, holds
from tests.reference.result import Line

LOOKED_AT = 4
"""Lines of a rule file that are judged as they are and in each way spoilt."""
UNEXPLAINED = "anatomy"
"""What is said where strict and lenient reading disagree."""
INTERVALS = (-7, -5, -4, -3, -2, -1, 1, 2, 3, 4, 5, 7)


def verdicts_apart(case: Case) -> Iterator[str]:
    """What is wrong with the verdicts on a few lines, on the same lines spoilt, and on lines that limits
    refuse."""
    rng = random.Random(case.seed)
    for events in rng.sample(case.events, min(LOOKED_AT, len(case.events))):
        yield from verdict_apart(case, events)
        for spoilt in spoilings(rng, events):
            yield from verdict_apart(case, spoilt)
    yield from refusals_apart(case, rng)


def verdict_apart(case: Case, events: Events) -> Iterator[str]:
    """What is wrong with one verdict."""
    verdict, number = judge(case.rules, events), case.numbers.get(events)
    if verdict.valid != (number is not None):
        yield f"{'valid' if verdict.valid else verdict.breaches} is the verdict on line {number}, {events}"
    if case.space.number(events) != number:
        yield f"{case.space.number(events)} is the number given to line {number}, {events}"
    for breach in verdict.breaches:
        if breach.rule == UNEXPLAINED or not breach.message.strip():
            yield f'a breach of "{breach.rule}" has no reason, "{breach.message}": {events}'
        if breach.index is not None and not 0 <= breach.index < len(events):
            yield f"a breach is at note {breach.index} of {events}"


def refusals_apart(case: Case, rng: random.Random) -> Iterator[str]:
    """Lines that are only refused by limits: exactly the limits that a plain look finds broken are named."""
    asked = [limit for limit in case.tables.get("limit", []) if limit["kind"] in LIMITS]
    if not asked:
        return
    # Limits on notes and on rests keep the space small, and a must-target is part of an analysis.
    kept = [limit for limit in case.tables["limit"] if limit["kind"] in ("notes", "rests", "must-target")]
    free = solve({**case.tables, "limit": kept})
    refused = [line for line in free.lines if not holds(case.result.rules, line)]
    for line in rng.sample(refused, min(LOOKED_AT, len(refused))):
        wanted = {limit["kind"] for limit in asked if not kept_to(case, limit, line)}
        told = {breach.rule for breach in judge(case.rules, as_events(line)).breaches}
        if told != wanted:
            yield f"limits {sorted(wanted)} are broken, and told are {sorted(told)}: {as_events(line)}"


def kept_to(case: Case, limit: dict[str, object], line: Line) -> bool:
    """Whether a line keeps to one limit."""
    return LIMITS[str(limit["kind"])](case.result.rules.progression, line, limit)


# -- lines with one thing changed ----------------------------------------------------------------------------


def spoilings(rng: random.Random, line: Events) -> Iterator[Events]:
    """The line with one note moved, moved by an octave, left out, added, and with the rhythm changed."""
    place = rng.randrange(len(line))
    note = line[place]
    yield with_note(line, place, note._replace(pitch=note.pitch + rng.choice(INTERVALS)))
    yield with_note(line, place, note._replace(pitch=note.pitch + rng.choice((-12, 12))))
    if len(line) > 1:
        yield (*line[:place], *line[place + 1 :])
    yield with_added(rng, line)
    yield with_other_rhythm(rng, line)


def with_note(line: Events, place: int, note: Event) -> Events:
    """The line with another note at a place."""
    return (*line[:place], note, *line[place + 1 :])


def with_added(rng: random.Random, line: Events) -> Events:
    """A note more: one note cut in two, or one after the last."""
    place = rng.randrange(len(line) + 1)
    pitch = line[place - 1].pitch + rng.choice(INTERVALS)
    if place == len(line):
        last = line[-1]
        return (*line, Event(last.end, pitch, last.length))
    onset, own, length = line[place]
    half = length // 2
    return (
        *line[:place],
        Event(onset, own, half),
        Event(onset + half, pitch, length - half),
        *line[place + 1 :],
    )


def with_other_rhythm(rng: random.Random, line: Events) -> Events:
    """One note held into the next, cut short, or begun later; or all of the line moved in time."""
    place = rng.randrange(len(line))
    onset, pitch, length = line[place]
    way = rng.choice(["hold", "cut", "late", "move"])
    if way == "hold" and place + 1 < len(line):
        return (*line[:place], Event(onset, pitch, line[place + 1].end - onset), *line[place + 2 :])
    if way == "cut":
        return with_note(line, place, Event(onset, pitch, length // 2))
    if way == "late":
        return with_note(line, place, Event(onset + length // 2, pitch, length - length // 2))
    by = rng.choice((-480, -240, 240, 480))
    return tuple(event._replace(onset=event.onset + by) for event in line)
