"""The options of ``list --order varied``, and what it says on standard error about its choice."""

from __future__ import annotations

import argparse
from collections.abc import Iterator

from everyline.cli.said import say
from everyline.corpora.counted import only, plural
from everyline.corpora.errors import InputError
from everyline.solver.smooth import Ranked
from everyline.space import Space

OPTIONS = ("pool", "balance", "exact", "budget")


def add_varied(parser: argparse.ArgumentParser) -> None:
    """The options that only --order varied has."""
    group = parser.add_argument_group("with --order varied")
    group.add_argument("--pool", type=int, metavar="N", help="choose from the N smoothest lines")
    group.add_argument(
        "--balance", type=int, metavar="PERCENT", help="what distance counts for; smoothness has the rest"
    )
    group.add_argument(
        "--exact", action="store_true", default=None, help="choose all at once, with proof, from a small pool"
    )
    group.add_argument(
        "--budget", type=int, metavar="R", help="with --exact: roughness of all lines together, at most"
    )


def check_varied(arguments: argparse.Namespace) -> None:
    """Raises InputError for options that do not go together."""
    given = [name for name in OPTIONS if getattr(arguments, name) is not None]
    if given and arguments.order != "varied":
        raise InputError(f"--{given[0]} goes with --order varied; add that, or leave it out.")
    if arguments.exact and arguments.balance is not None:
        raise InputError("--balance weighs a choice made line by line; --exact chooses all at once. Use one.")
    if arguments.exact and arguments.most is None:
        raise InputError("--exact needs to know how many lines; add --most K.")
    if arguments.budget is not None and not arguments.exact:
        raise InputError("--budget goes with --exact; add that, or leave it out.")
    if arguments.pool is not None and arguments.pool < (arguments.most or 1):
        raise InputError(
            f"--pool {arguments.pool}: it must hold as many lines as are asked for, {arguments.most or 1} "
            f"or more."
        )


def varied_lines(space: Space, arguments: argparse.Namespace) -> Iterator[Ranked]:
    """The lines in varied order, after a word on what they were chosen from."""
    from everyline.solver.varied import EXACT_POOL, POOL

    if arguments.exact:
        return _exact(space, arguments, arguments.pool or EXACT_POOL)
    wanted = None if arguments.most is None else arguments.first - 1 + arguments.most
    pool = min(space.count, arguments.pool or max(POOL, wanted or 0))
    say(f"chosen from the {pool} smoothest of {plural(space.count, 'line')}.")
    if wanted is not None and wanted > pool:
        say(f"{only(space.count, 'line')}.")
    return space.varied_ranked(wanted, pool, arguments.balance)


def _exact(space: Space, arguments: argparse.Namespace, pool: int) -> Iterator[Ranked]:
    from everyline.solver.varied import OPTIMAL

    pool = min(space.count, pool)
    most = arguments.most
    if most > space.count:
        say(f"{only(space.count, 'line')}; all follow.")
        most = space.count
    choice = space.most_varied(most, pool, arguments.budget)
    proof = "proven the greatest" if choice.status == OPTIMAL else f"no more than {choice.bound} is possible"
    say(
        f"chosen from the {pool} smoothest of {plural(space.count, 'line')}: any two differ at "
        f"{plural(choice.least, 'onset')} or more ({proof}); roughness {choice.roughness} together."
    )
    return iter(choice.lines)
