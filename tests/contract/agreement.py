"""Whether the engines and the plain checker agree with the reference about one random rule file."""

from __future__ import annotations

import random
from functools import lru_cache
from itertools import islice

from everyline.rules.analysis import holds
from everyline.rules.line import Event
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from everyline.solver.contract import DEFAULT, ENGINES, engine
from everyline.solver.engines.skeleton import skeletons
from tests.reference import solve
from tests.reference.random_rules import random_rules
from tests.spaces import CORPUS

Events = tuple[Event, ...]
MOST_SKELETONS = 3_000
"""Places of notes and rests for which a general solver is asked for pitches, one place after the other. A few
rule files have hundreds of thousands; those are the diagram's, the plain checker's and the reference's."""
LOOKED_AT = 20
"""Lines of a rule file that the plain checker is given, each as it is and with one note changed."""


def engines_apart(seed: int, most: int, dotted: bool = False) -> str:
    """The engine that lists other lines than the reference, in a sentence; empty where all list the same.

    ``most`` bounds the lines of the rule file that ``seed`` makes; ``dotted`` asks for one in beats of a
    dotted quarter.
    """
    rules, wanted = made(seed, most, dotted=dotted)
    for name in ENGINES if for_all(rules) else (DEFAULT,):
        found = tuple(engine(name).lines(rules))
        if found != wanted:
            return f"seed {seed}: {name} lists {len(found)} lines, the reference {len(wanted)}"
    return ""


def for_all(rules: Rules) -> bool:
    """Whether the general engines are asked too."""
    return next(islice(skeletons(rules), MOST_SKELETONS, None), None) is None


def checker_apart(seed: int, most: int, dotted: bool = False) -> str:
    """The line about which the plain checker and the reference differ, in a sentence; empty where none."""
    rules, lines = made(seed, most, dotted=dotted)
    valid = set(lines)
    rng = random.Random(seed)
    for line in rng.sample(lines, min(LOOKED_AT, len(lines))):
        for each in (line, changed(rng, line)):
            if each and holds(rules, each) != (each in valid):
                return f"seed {seed}: the reference {'has' if each in valid else 'does not have'} {each}"
    return ""


@lru_cache(maxsize=1)
def made(seed: int, most: int, dotted: bool) -> tuple[Rules, tuple[Events, ...]]:
    """The rules that a seed makes, and all their lines by the reference."""
    table = random_rules(seed, most=most, extended=True, dotted=dotted)
    lines = solve(table).lines
    return parse_rules(table, CORPUS), tuple(
        tuple(Event(onset, pitch, length) for onset, length, pitch in line) for line in lines
    )


def changed(rng: random.Random, line: Events) -> Events:
    """The line with one note moved, left out, or held into the next."""
    place = rng.randrange(len(line))
    onset, pitch, length = line[place]
    way = rng.choice(["move", "move", "move", "leave out", "hold"])
    if way == "move":
        moved = Event(onset, pitch + rng.choice([-12, -4, -3, -2, -1, 1, 2, 3, 4, 12]), length)
        return (*line[:place], moved, *line[place + 1 :])
    if way == "leave out" or place + 1 == len(line):
        return (*line[:place], *line[place + 1 :])
    held = Event(onset, pitch, line[place + 1][0] + line[place + 1][2] - onset)
    return (*line[:place], held, *line[place + 2 :])
