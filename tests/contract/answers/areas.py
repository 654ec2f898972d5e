"""Everything that is asked about one random rule file, by area."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator

from tests.contract.answers.case import Case, random_case
from tests.contract.answers.costs import costs_apart
from tests.contract.answers.nearest import nearest_apart
from tests.contract.answers.orders import following_apart, orders_apart
from tests.contract.answers.plans import plans_apart
from tests.contract.answers.properties import properties_apart
from tests.contract.answers.verdicts import verdicts_apart

AREAS: dict[str, Callable[[Case], Iterator[str]]] = {
    "verdicts": verdicts_apart,
    "nearest": nearest_apart,
    "costs": costs_apart,
    "properties": properties_apart,
    "orders": orders_apart,
    "following": following_apart,
    "plans": plans_apart,
}


def apart(seed: int, most: int, areas: Iterable[str], spent: dict[str, float] | None = None) -> Iterator[str]:
    """What is told otherwise than by the reference about the rule file that a seed makes, a sentence each.

    ``most`` bounds its lines; ``spent`` is given the seconds that each area took.
    """
    spent = {} if spent is None else spent

    def until(area: str, since: float) -> None:
        spent[area] = spent.get(area, 0.0) + time.process_time() - since

    since = time.process_time()
    case = random_case(seed, most)
    until("files", since)
    for area in areas:
        since = time.process_time()
        try:
            for sentence in AREAS[area](case):
                yield f"seed {seed}, {area}: {sentence}"
        except Exception as error:  # an answer too, and the run goes on to the next
            yield f"seed {seed}, {area}: {error!r}"
        until(area, since)
