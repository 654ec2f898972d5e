"""Uniform samples without replacement from a range of any size."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator


def sample_numbers(count: int, most: int, seed: int) -> Iterator[int]:
    """``min(most, count)`` distinct numbers out of 1..count, every ordered choice equally likely.

    A shuffle of the whole range that writes down only the places it has touched (Durstenfeld's form of the
    Fisher-Yates shuffle), so memory follows ``most`` and not ``count``. The first k numbers of a longer
    sample with the same seed are the shorter sample. Only ``getrandbits`` of the Mersenne Twister is used,
    whose stream for a seed is the same on every machine.
    """
    bits = random.Random(seed).getrandbits
    moved: dict[int, int] = {}
    for place in range(min(most, count)):
        chosen = place + below(count - place, bits)
        yield moved.get(chosen, chosen) + 1
        if chosen != place:
            moved[chosen] = moved.pop(place, place)
        else:
            moved.pop(place, None)


def below(bound: int, bits: Callable[[int], int]) -> int:
    """A uniform integer in 0..bound-1, by drawing bits until they fall inside."""
    if bound == 1:
        return 0
    width = (bound - 1).bit_length()
    while True:
        drawn = bits(width)
        if drawn < bound:
            return drawn
