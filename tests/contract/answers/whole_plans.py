"""Chorus plans made of random rule files: every choice of a line for each phrase that may follow one another.

The rules say: "Each phrase is a whole line over the chords of its own bars, counted from its own first bar";
"between the last note of a phrase and the first of the next lie at most `reach` semitones (7; none is allowed
too) and at least `least_rest` beats (1)"; "a limit at the top of a plan reads the whole line over the form".
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise, product
from typing import Any

from tests.contract.answers.case import MOST_STATES, Case
from tests.reference import solve as list_lines
from tests.reference.limits import LIMITS
from tests.reference.progression import BEAT, Progression, parse_progression
from tests.reference.random_limits import random_limit
from tests.reference.random_rules import random_rules
from tests.reference.random_time import chance
from tests.reference.result import Line, order

Table = dict[str, Any]
TIME = ("meter", "beat")
OTHERS = 40
"""Rule files from which the other phrases of a plan are taken; each is made when it is first asked for."""
FIRST_OTHER = 1_000_000
MOST_LINES, MOST_CHOICES = 60, 6000
"""Lines of one such file at most, and choices of a line for each phrase."""
TRIED = 8
"""Of these, how many are tried for one plan."""
SPOILT = 0.1
"""How often a phrase is left without a line."""


@dataclass(frozen=True)
class Part:
    """A phrase: its rule file and its lines, the bars of its changes, and where it begins in the plan."""

    tables: Table
    lines: list[Line]
    changes: str
    first_bar: int = 1

    @property
    def bars(self) -> int:
        """How many bars its changes have."""
        return self.changes.count("|") + 1

    @property
    def time(self) -> Table:
        """The keys of a rule file that say how a bar is counted."""
        return {key: self.tables[key] for key in TIME if key in self.tables}


@dataclass(frozen=True)
class Plan:
    """A plan as its file has it, and its phrases."""

    tables: Table
    parts: list[Part]
    bar: int

    def moved(self, part: Part, line: Line) -> Line:
        """A line of a phrase in its place in the form."""
        shift = (part.first_bar - 1) * self.bar
        return tuple((onset + shift, length, pitch) for onset, length, pitch in line)


# -- a plan --------------------------------------------------------------------------------------------------


def random_plan(rng: random.Random, case: Case) -> Plan | None:
    """A plan of two or three phrases, some with a bar of rest between them; None where the rule file cannot
    be a phrase."""
    first = Part(case.tables, case.lines, case.tables["changes"])
    if not is_phrase(case.tables) or not first.lines:
        return None
    parts, choices = [first], len(first.lines)
    for index in rng.sample(range(OTHERS), TRIED):
        other = another(index)
        if other.lines and other.time == first.time and choices * len(other.lines) <= MOST_CHOICES:
            parts.append(other)
            choices *= len(other.lines)
        if len(parts) == 3 or (len(parts) == 2 and chance(rng, 0.6)):
            break
    if chance(rng, SPOILT):
        spoilt = rng.randrange(len(parts))
        parts[spoilt] = standing_still(parts[spoilt])
    shared = join(rng)
    changes, placed, phrases = "", [], []
    for part in parts:
        if changes and chance(rng, 0.25):
            changes += " | Bb7"
        here = changes.count("|") + 2 if changes else 1
        placed.append(Part(part.tables, part.lines, part.changes, here))
        changes = f"{changes} | {part.changes}" if changes else part.changes
        phrases.append(phrase(part.tables, here, part.bars))
        if here > 1 and chance(rng, 0.6):
            own = join(rng)
            if "most_rest" in shared:
                own.setdefault("most_rest", own["least_rest"] + 1)
            phrases[-1]["join"] = own
    tables: Table = {"changes": changes, "join": shared, "phrase": phrases, **first.time}
    form = form_of(tables)
    if chance(rng, 0.5):
        tables["limit"] = [whole_limit(rng, form) for _ in range(rng.randint(1, 2))]
    return Plan(tables, placed, form.bar)


def form_of(tables: Table) -> Progression:
    """The whole form of a plan."""
    return parse_progression(tables["changes"], meter=tables.get("meter", "4/4"), beat=tables.get("beat"))


@cache
def another(index: int) -> Part:
    """A rule file for another phrase; one without lines where it cannot be a phrase."""
    tables = random_rules(FIRST_OTHER + index, MOST_LINES, extended=True, most_states=MOST_STATES)
    return Part(tables, list_lines(tables).lines if is_phrase(tables) else [], tables["changes"])


def standing_still(part: Part) -> Part:
    """A phrase that may sound one pitch alone, which leaves it no line, or next to none."""
    limit = {"kind": "ambitus", "semitones": 0}
    tables = part.tables | {"limit": [*part.tables.get("limit", []), limit]}
    progression = form_of(tables)
    kept = [line for line in part.lines if LIMITS[limit["kind"]](progression, line, limit)]
    return replace(part, tables=tables, lines=kept)


def is_phrase(tables: Table) -> bool:
    """Whether a rule file can stand as a phrase: a plan has one key and one instrument."""
    return "key" not in tables and "instrument" not in tables["range"]


def phrase(tables: Table, first: int, bars: int) -> Table:
    """A rule file as the phrase of a plan."""
    own = {key: value for key, value in tables.items() if key not in ("title", "changes", *TIME)}
    return own | {"bars": f"{first}-{first + bars - 1}"}


def join(rng: random.Random) -> Table:
    """How far apart phrases may be, and how long after each other."""
    table: Table = {"reach": rng.choice([0, 2, 4, 7, 12, 12]), "least_rest": rng.choice([0, 0, 1, 2])}
    if chance(rng, 0.2):
        table["most_rest"] = table["least_rest"] + rng.randint(0, 3)
    return table


def whole_limit(rng: random.Random, form: Progression) -> Table:
    """A limit over the whole plan."""
    while True:
        limit = random_limit(rng, form, True, True)
        if limit["kind"] in LIMITS:
            return limit


# -- its lines, by trying all --------------------------------------------------------------------------------


def whole_lines(plan: Plan) -> list[Line]:
    """Every line of the plan, in order."""
    choices = product(*([plan.moved(part, line) for line in part.lines] for part in plan.parts))
    found = {sum(lines, ()) for lines in choices if all_follow(plan, lines)}
    progression = form_of(plan.tables)
    limits = plan.tables.get("limit", [])
    kept = [line for line in found if all(LIMITS[each["kind"]](progression, line, each) for each in limits)]
    return sorted(kept, key=order)


def all_follow(plan: Plan, lines: tuple[Line, ...]) -> bool:
    """Whether each line may follow the one before it."""
    later = plan.tables["phrase"][1:]
    return all(
        follows(plan.tables["join"] | table.get("join", {}), before, after)
        for table, (before, after) in zip(later, pairwise(lines), strict=True)
    )


def follows(rule: Table, before: Line, after: Line) -> bool:
    """Whether a phrase's line may follow another's."""
    onset, length, pitch = before[-1]
    rest = after[0][0] - onset - length
    longest = rule.get("most_rest", rest)
    return (
        rule["least_rest"] * BEAT <= rest
        and (longest is rest or rest <= longest * BEAT)
        and abs(after[0][2] - pitch) <= rule["reach"]
    )


def earliest(plan: Plan, line: Line) -> tuple[int, ...] | None:
    """Where each phrase of a line ends. Where the line can be cut in several ways, each phrase begins as
    early as it can, the last one first."""
    return min(all_cuts(plan, line), key=lambda ends: ends[-2::-1], default=None)


def all_cuts(plan: Plan, line: Line) -> list[tuple[int, ...]]:
    """Every way to cut a line into phrases: the place behind the last note of each."""
    own = [{plan.moved(part, each) for each in part.lines} for part in plan.parts]

    def ways(place: int, start: int) -> Iterator[tuple[int, ...]]:
        if place == len(own):
            if start == len(line):
                yield ()
            return
        for end in range(start + 1, len(line) + 1):
            if line[start:end] in own[place]:
                for later in ways(place + 1, end):
                    yield end, *later

    def whole(ends: tuple[int, ...]) -> bool:
        return all_follow(plan, tuple(line[a:b] for a, b in pairwise((0, *ends))))

    return [ends for ends in ways(0, 0) if whole(ends)]
