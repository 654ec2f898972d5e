"""The conditions of the limits: each can be dropped, and its numbers can give way."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from typing import Any

from everyline.rules.acceptor import Limit
from everyline.rules.limits import LIMITS
from everyline.rules.ruleset import Rules
from everyline.solver.condition import MOST_STEPS, Condition, Loosening, OtherValue


def limit_conditions(rules: Rules) -> Iterator[Condition]:
    """A condition for each limit, each whole-line rule and each must-target."""
    number = 0
    for limit in rules.limits:
        number += 1
        yield Condition(
            f"limit {number}, {limit.kind}",
            limit.describe(),
            partial(_without, limit=limit),
            {f"limit {number}": None},
            moves=tuple(_limit_moves(limit, number)),
            choices=tuple(_limit_choices(limit, number)),
            limit=True,
        )
    for own in rules.filters:
        yield Condition(f"own rule {own.kind}", own.describe(), partial(_unfiltered, own=own), {})
    for must in rules.must_targets:
        number += 1
        drop = partial(_unmet, must=must)
        yield Condition(f"limit {number}, {must.kind}", must.describe(), drop, {f"limit {number}": None})


def _without(rules: Rules, limit: Limit) -> Rules:
    return replace(rules, limits=tuple(each for each in rules.limits if each is not limit))


def _unfiltered(rules: Rules, own: object) -> Rules:
    return replace(rules, filters=tuple(each for each in rules.filters if each is not own))


def _unmet(rules: Rules, must: object) -> Rules:
    return replace(rules, must_targets=tuple(each for each in rules.must_targets if each is not must))


def _instead(rules: Rules, limit: Limit, other: Limit) -> Rules:
    return replace(rules, limits=tuple(other if each is limit else each for each in rules.limits))


def _limit_moves(limit: Any, number: int) -> Iterator[Loosening]:
    """Each number of a limit, as it admits more; a teacher's own rule has none that is known."""
    for name, (step, end) in LIMITS[limit.kind].loosened.items() if limit.kind in LIMITS else ():
        value = getattr(limit, name, None)
        if value is None:
            continue
        room = min(MOST_STEPS, (end - value) * step)
        if room > 0:
            yield _limit_move(limit, number, name, value, step, room)


def _limit_move(limit: Any, number: int, name: str, value: int, step: int, room: int) -> Loosening:
    return Loosening(
        lambda n: f"{limit.kind} {name} {value} -> {value + step * n}",
        lambda changed, n: _instead(changed, limit, replace(limit, **{name: value + step * n})),
        room,
        lambda n: {f"limit {number}.{name}": value + step * n},
    )


def _limit_choices(limit: Any, number: int) -> Iterator[OtherValue]:
    for name, words in LIMITS[limit.kind].freed.items() if limit.kind in LIMITS else ():
        if getattr(limit, name, None) is not None:
            with_it = partial(_instead, limit=limit, other=replace(limit, **{name: None}))
            yield OtherValue(words, with_it, {f"limit {number}.{name}": None})
