"""New lines for a student: drawn by taste, none that the student had, none that is a copy of one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

from everyline.practice.copies import tune
from everyline.practice.records import GivenLine
from everyline.rules.canonical import fingerprint
from everyline.rules.line_text import parse_line
from everyline.rules.taste import Taste, strangeness
from everyline.solver.picking import FOR_EACH, POOL, pick
from everyline.solver.strange import Strange
from everyline.spaces.space import Space

LOOKED_BACK = 100
"""Lines that the student had before, of which new ones are to be unlike."""


@dataclass(frozen=True, slots=True)
class Fresh:
    """New lines, and whether there are no more: ``whole`` says that all the space has were looked at."""

    lines: tuple[Strange, ...]
    whole: bool


def fresh(
    space: Space, had: Sequence[GivenLine], most: int, seed: int = 1, drawing: Taste | None = None
) -> Fresh:
    """Up to ``most`` new lines: of those drawn without replacement the least strange that are unlike each
    other and unlike the last ones that the student had under these rules, as ``Space.pick`` chooses them;
    then, where these are too few, the least strange of the rest.

    None is one of those ``had``, or a copy of one (``everyline.practice.copies``). ``drawing`` is the taste
    to draw by, the space's own unless another is given. Fewer come only where the space has no more. The
    same for the same seed and the same lines had.
    """
    drawn = _unheard(space, {line.tune for line in had}, seed, drawing or space.taste)
    size = max(POOL, FOR_EACH * most)
    pool = list(islice(drawn, size))
    chosen = pick(space.rules, pool, most, len(pool), _last(space, had)).lines if pool else ()
    there = set(chosen)
    rest = sorted(line for line in pool if line not in there)
    return Fresh((*chosen, *rest[: most - len(chosen)]), len(pool) < size)


def _last(space: Space, had: Sequence[GivenLine]) -> list[Strange]:
    """The last lines that the student had under the same rules, as they are compared with others."""
    found = fingerprint(space.rules)
    same = [line for line in had if line.fingerprint == found][-LOOKED_BACK:]
    return [Strange(0, 0, parse_line(line.notes, space.rules)[0]) for line in same]


def _unheard(space: Space, heard: set[str], seed: int, drawing: Taste) -> Iterator[Strange]:
    """Lines as they are drawn, without those that were heard and without copies of each other."""
    for line in space.by(drawing).drawn(seed):
        found = tune(space.rules, line.events)
        if found not in heard:
            heard.add(found)
            yield Strange(strangeness(space.rules, line.events, space.taste), line.number, line.events)
