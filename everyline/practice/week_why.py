"""Why there is no plan: each constraint is loosened alone, as little as brings a plan back."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from everyline.corpora.counted import choice, plural
from everyline.practice.week import MOST_MINUTES, SPREAD, WEEKDAYS, Wishes
from everyline.practice.week_days import DayModel
from everyline.practice.week_rules import Standing


def what_to_loosen(standings: Sequence[Standing], wishes: Wishes) -> str:
    """The changes that bring a plan back, each alone, in words; or that none of them does."""
    found = [words for loosen in _WAYS for words in loosen(standings, wishes)]
    if not found:
        return "no change of one wish alone brings one back; ask for fewer new lines and give more minutes"
    return f"there is one with {choice(found)}"


def _goes(standings: Sequence[Standing], wishes: Wishes) -> bool:
    return DayModel(standings, wishes).feasible()


def _minutes(standings: Sequence[Standing], wishes: Wishes) -> Iterator[str]:
    """More minutes, the same number on each day."""
    least = _least(
        lambda more: _goes(standings, replace(wishes, minutes=tuple(each + more for each in wishes.minutes))),
        MOST_MINUTES - max(wishes.minutes),
    )
    if least:
        yield f"{plural(least, 'minute')} a day more"


def _days(standings: Sequence[Standing], wishes: Wishes) -> Iterator[str]:
    """One more day of practice a week, as long as the longest."""
    if len(wishes.weekdays) == max(SPREAD):
        return
    for day in range(len(WEEKDAYS)):
        if day not in wishes.weekdays:
            minutes = dict(zip(wishes.weekdays, wishes.minutes, strict=True)) | {day: max(wishes.minutes)}
            days = tuple(sorted(minutes))
            wider = replace(wishes, weekdays=days, minutes=tuple(minutes[each] for each in days))
            if _goes(standings, wider):
                yield f"practice on {WEEKDAYS[day]} too"
                return


def _keys(standings: Sequence[Standing], wishes: Wishes) -> Iterator[str]:
    """Fewer keys before a new line, where new lines are asked for."""
    least = _least(
        lambda fewer: _goes(standings, replace(wishes, keys=wishes.keys - fewer)),
        wishes.keys - 1 if wishes.new else 0,
    )
    if least:
        yield f"{plural(wishes.keys - least, 'key')} before a new line"


def _pace(standings: Sequence[Standing], wishes: Wishes) -> Iterator[str]:
    """More new lines a week, where new lines are asked for."""
    least = _least(
        lambda more: _goes(standings, replace(wishes, new_a_week=wishes.new_a_week + more)),
        7 - wishes.new_a_week if wishes.new else 0,
    )
    if least:
        yield f"up to {plural(wishes.new_a_week + least, 'new line')} a week"


def _new(standings: Sequence[Standing], wishes: Wishes) -> Iterator[str]:
    """Fewer new lines in all, or more lines to begin."""
    if not wishes.new:
        return
    least = _least(lambda fewer: _goes(standings, replace(wishes, new=wishes.new - fewer)), wishes.new)
    if least:
        left = wishes.new - least
        yield f"{plural(left, 'new line')} at least" if left else "no new line asked for"


def _late(standings: Sequence[Standing], wishes: Wishes) -> Iterator[str]:
    """Lines that may come late."""
    if not wishes.let_late and _goes(standings, replace(wishes, let_late=True)):
        yield "lines that may be late (--let-late)"


_WAYS: tuple[Callable[[Sequence[Standing], Wishes], Iterator[str]], ...] = (
    _minutes,
    _days,
    _keys,
    _pace,
    _new,
    _late,
)
"""Every way to loosen the wishes, in the order in which they are told."""


def _least(goes: Callable[[int], bool], most: int) -> int:
    """The least number from 1 to ``most`` with which it goes, 0 for none; more never goes worse."""
    if most < 1 or not goes(most):
        return 0
    low, high = 1, most
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if goes(middle) else (middle + 1, high)
    return low
