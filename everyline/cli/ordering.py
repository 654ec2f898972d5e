"""Orders of lines other than by number, with a word on what was chosen from."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from itertools import islice
from typing import TYPE_CHECKING

from everyline.cli.by_taste import drawing
from everyline.cli.messages import say_at_end
from everyline.corpora.counted import only, plural
from everyline.corpora.errors import InputError
from everyline.spaces.space import Space
from everyline.text.notes_only import Numbered

if TYPE_CHECKING:
    from everyline.solver.picking import Pick
    from everyline.solver.strange import Strange

ORDERS = ("number", "smooth", "idiomatic", "varied")
ENDLESS = 10**15
"""More lines than anybody will come to the end of: from here on, all of them are meant."""

OPTIONS = ("pool", "exact", "budget")


def add_varied(parser: argparse.ArgumentParser) -> None:
    """The options that only --order varied has."""
    group = parser.add_argument_group("with --order varied")
    group.add_argument("--pool", type=int, metavar="N", help="choose from N lines drawn by taste")
    group.add_argument(
        "--exact",
        action="store_true",
        default=None,
        help="choose all at once, with proof, from a small pool of the smoothest",
    )
    group.add_argument(
        "--budget", type=int, metavar="R", help="with --exact: roughness of all lines together, at most"
    )


def check_varied(arguments: argparse.Namespace) -> None:
    """Raises InputError for options that do not go together."""
    given = [name for name in OPTIONS if getattr(arguments, name) is not None]
    if given and arguments.order != "varied":
        raise InputError(f"--{given[0]} goes with --order varied; add that, or leave it out.")
    if arguments.exact and arguments.most is None:
        raise InputError("--exact needs to know how many lines; add --most K.")
    if arguments.budget is not None and not arguments.exact:
        raise InputError("--budget goes with --exact; add that, or leave it out.")
    if arguments.pool is not None and arguments.pool < (arguments.most or 1):
        raise InputError(
            f"--pool {arguments.pool}: it must hold as many lines as are asked for, {arguments.most or 1} "
            f"or more."
        )


def ordered(space: Space, order: str, first: int = 1, most: int | None = None) -> Iterator[Numbered]:
    """Lines from place ``first`` of an order on."""
    start = min(first - 1, ENDLESS)
    stop = None if most is None else start + most
    if order == "number":
        return islice(enumerate(space.diagram.walk(first), first), most)
    if order == "smooth":
        return ((line.number, line.events) for line in islice(space.ranked(), start, stop))
    found = space.strange() if order == "idiomatic" else varied_lines(space, stop)
    return ((line.number, line.events) for line in islice(found, start, stop))


def varied_lines(space: Space, wanted: int | None, pool: int | None = None) -> Iterator[Strange]:
    """The lines in varied order, with a word at the end on what they were chosen from."""
    from everyline.solver.picking import POOL

    size = min(space.count, pool or max(POOL, wanted or 0))
    say_at_end(_chosen_from(space, size))
    if wanted is not None and wanted > size:
        say_at_end(f"{only(space.count, 'line')}.")
    return space.varied_ranked(wanted, size, drawing=drawing(space))


def picked(space: Space, most: int, pool: int | None = None, seed: int = 1) -> Pick:
    """A few lines to hand out, with a word at the end on what they were chosen from."""
    found = space.picked(most, seed, pool, drawing(space))
    say_at_end(_chosen_from(space, found.drawn))
    if len(found.lines) < most:
        say_at_end(f"no more than {plural(len(found.lines), 'line')} of them are no copies of each other.")
    return found


def _chosen_from(space: Space, size: int) -> str:
    """What lines were chosen from, in words."""
    if size == space.count:
        return f"chosen from all {plural(size, 'line')} by {space.taste.name}."
    how = ", fitted to these rules," if space.taste.statistics else ""
    return f"chosen from {plural(size, 'line')} drawn by {space.taste.name}{how} out of {space.count}."


def exact_lines(space: Space, arguments: argparse.Namespace) -> Iterator[Numbered]:
    """The choice made at once, with a word at the end on what is proven."""
    from everyline.solver.varied import EXACT_POOL, OPTIMAL

    pool = min(space.count, arguments.pool or EXACT_POOL)
    most = arguments.most
    if most > space.count:
        say_at_end(f"{only(space.count, 'line')}; all follow.")
        most = space.count
    choice = space.most_varied(most, pool, arguments.budget)
    proof = "proven the greatest" if choice.status == OPTIMAL else f"no more than {choice.bound} is possible"
    say_at_end(
        f"chosen from the {pool} smoothest of {plural(space.count, 'line')}: any two differ at "
        f"{plural(choice.least, 'onset')} or more ({proof}); roughness {choice.roughness} together."
    )
    return ((line.number, line.events) for line in choice.lines)
