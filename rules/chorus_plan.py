"""A chorus plan: a form cut into phrases, each with rules of its own, and how one follows another."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from everyline.rules.ruleset import Rules


@dataclass(frozen=True, slots=True)
class Join:
    """How a phrase follows the one before it: ``reach`` in semitones between the last note and the first,
    rests in ticks (None: no longest one)."""

    reach: int
    least_rest: int
    most_rest: int | None = None

    def allows(self, rest: int) -> bool:
        """Whether the rest between two phrases may be so many ticks long."""
        return self.least_rest <= rest and (self.most_rest is None or rest <= self.most_rest)

    def leads(self, end: int, pitch: int, onset: int, first: int) -> bool:
        """Whether a phrase that stops at tick ``end`` on ``pitch`` may go on at ``onset`` with ``first``."""
        return self.allows(onset - end) and abs(first - pitch) <= self.reach


@dataclass(frozen=True)
class Phrase:
    """A phrase of a plan. Its rules count from its own first bar, which begins at tick ``shift`` of the form.

    ``bars`` are its first and last bar in the form, from 1; ``join`` is None in the first phrase.
    """

    name: str
    bars: tuple[int, int]
    rules: Rules
    shift: int
    join: Join | None

    @property
    def bars_text(self) -> str:
        """``bars 1-4``, or ``bar 5``."""
        first, last = self.bars
        return f"bar {first}" if first == last else f"bars {first}-{last}"


@dataclass(frozen=True)
class ChorusPlan:
    """A whole plan. ``form`` are rules over the whole form: its changes, scales, key, range, weights and
    limits, under which a chorus is shown; its entry is that of the first phrase."""

    form: Rules
    phrases: tuple[Phrase, ...]
    changed: Callable[[Mapping[str, Any]], ChorusPlan] = field(compare=False, repr=False)
    """The plan that its tables give once a change is made in them, written as ``rules.changes`` has it.
    Raises InputError where they then make no plan."""
