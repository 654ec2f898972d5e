"""Approach figures: steps written from the target, one catalogue and families made by a rule."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from everyline.corpora.errors import InputError, did_you_mean

STEPS = ("+d", "-d", "+1", "-1", "+2", "-2")
MOST_STEPS = 16


@dataclass(frozen=True, slots=True)
class Figure:
    """An approach figure: its notes in order, each written as a step from the target that follows them.

    ``+d``/``-d`` is the diatonic neighbour above/below, ``+1 -1 +2 -2`` are semitones.
    """

    name: str
    steps: tuple[str, ...]
    remark: str = ""

    @property
    def text(self) -> str:
        """The steps as they are written in a file."""
        return " ".join(self.steps)

    @property
    def two_sided(self) -> bool:
        """Whether notes both above and below the target occur (an enclosure)."""
        return len({step[0] for step in self.steps}) == 2

    def __len__(self) -> int:
        """How many approach notes the figure has, its target not counted."""
        return len(self.steps)


@dataclass(frozen=True, slots=True)
class Family:
    """A named family: every two-sided sequence of ``size`` steps out of ``steps`` that closes in."""

    name: str
    size: int
    steps: tuple[str, ...]
    remark: str = ""

    def __post_init__(self) -> None:
        """A family has members. Raises InputError for steps that make none."""
        if not self.members:
            raise InputError(
                f"no {self.size} of the steps {' '.join(self.steps)} lie on both sides of a target and close "
                "in on it; give steps of both sides."
            )

    @property
    def members(self) -> tuple[Figure, ...]:
        """The figures of the family, in the order of their steps as the file lists those."""
        return tuple(
            Figure(f"{self.name} ({' '.join(steps)})", steps, self.remark)
            for steps in closing_sequences(self.size, self.steps)
        )


def parse_steps(text: str) -> tuple[str, ...]:
    """Read ``-2 +1 -1`` as a tuple of step tokens. Raises InputError naming the token that is wrong."""
    tokens = tuple(text.replace("\N{MINUS SIGN}", "-").split())
    if not tokens:
        raise InputError(f"a figure needs at least one step out of {', '.join(STEPS)}.")
    if len(tokens) > MOST_STEPS:
        raise InputError(f"a figure has at most {MOST_STEPS} steps, and this one has {len(tokens)}.")
    for token in tokens:
        if token not in STEPS:
            raise InputError(
                f'"{token}" in the steps "{text}" is not a step: write one of {", ".join(STEPS)}.'
                f"{did_you_mean(token, STEPS)}"
            )
    return tokens


def closing_sequences(size: int, steps: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    """Every sequence of ``size`` semitone steps in which both sides occur and each side closes in.

    On each side of the target the steps shrink strictly from first to last; so no two neighbours are equal.
    """

    def extend(made: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
        if len(made) == size:
            if len({step[0] for step in made}) == 2:
                yield made
            return
        for step in steps:
            if all(int(step[1:]) < int(old[1:]) for old in made if old[0] == step[0]):
                yield from extend((*made, step))

    return extend(())
