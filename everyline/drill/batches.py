"""The work on a drill set's lines, cut into batches that do not depend on each other.

Where and in which process a batch is worked on makes no difference to what comes out of it, so a set is the
same on one processor, on many, and after it was stopped and gone on with.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, Protocol

from everyline.drill.sources import Source
from everyline.drill.spec import Spec

Item = tuple[int, int]
"""(index of the source, number of the line)."""

Batch = tuple[int, tuple[Item, ...]]
"""(place of the first item in the set, counted from 1; the items)."""

Sources = Sequence[Source] | Mapping[int, Source]
"""Sources by their index; a process may have no more than a batch needs."""

Work = Callable[[Spec, Sources, Batch], Any]
"""A function of a module, so that other processes find it by its name."""


class Mapper(Protocol):
    """What works on batches: answers come in the order of the batches."""

    def __call__(
        self, work: Work, spec: Spec, sources: Sequence[Source], batches: Iterable[Batch]
    ) -> Iterator[Any]:
        """The answer for each batch."""


def here(work: Work, spec: Spec, sources: Sequence[Source], batches: Iterable[Batch]) -> Iterator[Any]:
    """One batch after another in this process."""
    return (work(spec, sources, batch) for batch in batches)


def cut(items: Sequence[Item], size: int, done: int = 0) -> Iterator[Batch]:
    """The items from place ``done + 1`` on in batches of ``size``."""
    return ((first + 1, tuple(items[first : first + size])) for first in range(done, len(items), size))
