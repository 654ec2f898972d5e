"""How large a diagram may grow before the work is stopped, and what is said then.

A diagram that would explode is noticed while it is being made, long before memory ends: nodes are counted as
they are met, and each limit is joined on its own, so that the one that multiplies them is known.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError, Stopped

MOST_NODES = 4_000_000
"""Nodes that a diagram may have before dead ends are dropped, unless the user allows more.

Measured on a 64-bit CPython 3.11: while a limit is joined, 25 to 60 bytes for a node met and 300 for one
kept, so mostly below 1.4 GB; 2.8 GB were seen where most nodes were kept and many met.
"""
BODY = 4
"""How many of these nodes one counts for before any limit is joined, since its readings take about 1 KB."""
LEAST = 1000

_most: ContextVar[int] = ContextVar("most nodes", default=MOST_NODES)


class TooManyNodes(Stopped):
    """The diagram of some rules would have more nodes than allowed (exit code 3)."""


def most_nodes() -> int:
    """How many nodes a diagram may have here."""
    return _most.get()


@contextmanager
def at_most(nodes: int) -> Iterator[None]:
    """Let diagrams have so many nodes inside the block. Raises InputError for fewer than LEAST."""
    if nodes < LEAST:
        raise InputError(
            f"a bound of {plural(nodes, 'node')} is too low for any diagram; allow {LEAST} or more."
        )
    before = _most.set(nodes)
    try:
        yield
    finally:
        _most.reset(before)


def check_body(nodes: int, bars: float, of_bars: float, must_targets: int) -> None:
    """Stop where the lines before any limit need too many nodes."""
    if BODY * nodes <= most_nodes():
        return
    what = "the figures and their counts"
    if must_targets:
        what += f", with {plural(must_targets, 'must-target limit')} to remember,"
    raise TooManyNodes(
        f"stopped: {what} need more than {most_nodes() // BODY} nodes, which count for {BODY} each, "
        f"by bar {bars:.0f} of {of_bars:.0f}; " + _remedy("allow fewer figures")
    )


def check_limit(nodes: int, before: int, kind: str, states: int) -> None:
    """Stop where a limit makes too many nodes out of those ``before`` it, remembering ``states`` things."""
    if nodes <= most_nodes():
        return
    raise TooManyNodes(
        f'stopped: the limit "{kind}" has to tell {plural(states, "thing")} about a line apart, which makes '
        f"more than {most_nodes()} nodes of {before}; " + _remedy("loosen it or leave it out")
    )


def _remedy(first: str) -> str:
    return f"{first}, shorten the changes, narrow the range, or allow more with --most-nodes ({_memory()})."


def _memory() -> str:
    size = 2 * most_nodes() * 350 / 1e6
    room = f"{size / 1000:.1f} GB" if size >= 1000 else f"{size:.0f} MB"
    return f"{2 * most_nodes()} may take {room}"
