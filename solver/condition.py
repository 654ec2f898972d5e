"""One rule of a rule set: what it asks, how it is dropped, by what small steps it gives way.

Dropping a condition never takes a line away, and neither does any further step of a *move*; so whoever
searches may rely on it that fewer conditions mean more lines.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, NamedTuple

from everyline.rules.ruleset import Rules

MOST_STEPS = 24
"""How far a number is moved at most."""

Change = Callable[[Rules], Rules]

Written = Mapping[str, Any]
"""A change as it is written in a rule file: dotted keys (``arpeggio.turns``) and their values, None where the
key is taken out. ``limit 2`` is the second limit as a whole, ``limit 2.most`` one of its keys; limits are
counted as conditions name them, see ``rules.changes``."""


class Loosening(NamedTuple):
    """A number that can give way: ``by(rules, n)`` moves it ``n`` steps of 1, up to ``most``; ``words(n)``
    says so, ``written(n)`` is the same in a rule file."""

    words: Callable[[int], str]
    by: Callable[[Rules, int], Rules]
    most: int
    written: Callable[[int], Written]


class OtherValue(NamedTuple):
    """Another value, in words, the rules with it, and the same in a rule file."""

    words: str
    with_it: Change
    written: Written


@dataclass(frozen=True, slots=True)
class Condition:
    """One rule: its key in the rule file, what it asks, and the ways in which it can give way.

    ``default`` says that the file may have left it unsaid. ``drop`` gives the rules without it, ``written``
    is the same in a rule file; where no file can leave it out altogether, ``loosest`` gives the rules with
    what is written. ``limit`` says that it reads pitches alone, so that without it the anatomy of a line is
    what it was.
    """

    key: str
    words: str
    drop: Change
    written: Written
    default: bool = False
    moves: tuple[Loosening, ...] = ()
    choices: tuple[OtherValue, ...] = ()
    limit: bool = False
    loosest: Change | None = None

    def without(self, rules: Rules) -> Rules:
        """The rules with what is written in place of the condition: what a rule file can say."""
        return (self.loosest or self.drop)(rules)


UNBOUNDED = 9999
"""More of anything than a line has."""


def longest_chord(rules: Rules) -> int:
    """Slots of the longest chord, pickup included: nothing happens more often than that in one chord."""
    starts = [min(rules.entry.slots), *rules.progression.starts[1:], rules.progression.slots]
    return max(after - start for start, after in pairwise(starts))
