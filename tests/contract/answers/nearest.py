"""Nearest corrections: those that measuring every line finds, in the same order.

Both measures are those of docs/check.md, written out plainly.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator

from everyline.reading import ReadLine
from everyline.rules.line import Events
from everyline.spaces.checking import Mended, check
from tests.contract.answers.case import Case
from tests.contract.answers.verdicts import spoilings

LOOKED_AT = 2
"""Spoilt lines of a rule file that are corrected."""
CORRECTIONS = 4
"""Corrections of each that are asked for."""

Distance = tuple[int, int, int]
"""Changes, semitones of the notes that changed, lengths changed."""


def nearest_apart(case: Case) -> Iterator[str]:
    """The corrections of a few spoilt lines that are not those of measuring every line."""
    if not case.events:
        return
    rng = random.Random(case.seed + 1)
    spoilt = spoilings(rng, rng.choice(case.events))
    wrong = [each for each in spoilt if each not in case.numbers]
    for given in rng.sample(wrong, min(LOOKED_AT, len(wrong))):
        report = check(case.space, ReadLine((given,)), CORRECTIONS)
        yield from told_apart(case, given, report.by_onset, by_onset)
        yield from told_apart(case, given, report.by_order, by_order)


def told_apart(
    case: Case, given: Events, told: tuple[Mended, ...], measure: Callable[[Events, Events], Distance]
) -> Iterator[str]:
    """What is wrong with the corrections by one measure."""
    ranked = sorted((measure(given, events), number) for events, number in case.numbers.items())
    wanted = ranked[:CORRECTIONS]
    found = [
        ((len(each.repair.changes), each.repair.semitones, len(each.repair.lengths)), each.repair.number)
        for each in told
    ]
    if found != wanted:
        yield f"{measure.__name__}: {found} are the nearest told, {wanted} are nearest to {given}"
    for each in told:
        repair = each.repair
        if case.numbers.get(repair.events) != repair.number or each.line.events != repair.events:
            yield f"{measure.__name__}: correction {repair.number} is not that line, of {given}"


def by_onset(given: Events, line: Events) -> Distance:
    """ "It counts the onsets, out of all those that either line has, at which the two do not have the same
    pitch. An onset that only one of them has is a change."."""
    own, theirs = ({event.onset: event for event in each} for each in (given, line))
    # A note that begins with another one is heard by neither.
    changes = len(given) - len(own)
    semitones = lengths = 0
    for onset in own.keys() | theirs.keys():
        if onset not in own or onset not in theirs:
            changes += 1
        elif own[onset].pitch != theirs[onset].pitch:
            changes += 1
            semitones += abs(own[onset].pitch - theirs[onset].pitch)
        else:
            lengths += own[onset].length != theirs[onset].length
    return changes, semitones, lengths


def by_order(given: Events, line: Events) -> Distance:
    """ "Reads both as sequences of pitches and counts notes changed, added and left out (edit distance)";
    "ties go by the total distance in semitones of the notes that changed"."""
    row = [(used, 0) for used in range(len(given) + 1)]
    for event in line:
        before, row = row, [(row[0][0] + 1, 0)]
        for used, own in enumerate(given, 1):
            apart = abs(own.pitch - event.pitch)
            row.append(
                min(
                    more(before[used], 1, 0),
                    more(row[used - 1], 1, 0),
                    more(before[used - 1], int(apart > 0), apart),
                )
            )
    return (*row[-1], 0)


def more(cost: tuple[int, int], changes: int, semitones: int) -> tuple[int, int]:
    """A cost with something added."""
    return cost[0] + changes, cost[1] + semitones
