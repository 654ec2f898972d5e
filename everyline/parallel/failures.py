"""What can go wrong in another process, each as one sentence, and what a task carries there."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from typing import Any

from everyline.corpora.counted import plural
from everyline.corpora.errors import EverylineError, Stopped
from everyline.rules.schema import listed

MOST_LOST = 10
"""How many processes may be lost over one and the same part before the run gives up."""

Task = tuple[Callable[..., Any], tuple[Any, ...]]
"""A function of a module, found by its name in another process, and its arguments."""


Room = Callable[[int], bool]
"""Told the place of a task; answers whether it may be given out already."""


class ClusterFailed(Stopped):
    """Other processes did not do what they were asked to; what is written stays."""


class ProcessesLost(ClusterFailed):
    """So many processes were lost over the same part that the run gives up."""


class Packed(bytes):
    """Rules as a task carries them; ``in_python`` names the rules in Python that go along."""

    in_python: frozenset[str] = frozenset()


def told(error: BaseException, smaller: str) -> BaseException:
    """What is raised here for what was raised in another process.

    ``smaller`` says how the work can be cut into smaller parts, where it can.
    """
    match error:
        case EverylineError():
            return error
        case MemoryError():
            return ClusterFailed(f"stopped: the memory of a process was not enough; {_less(smaller)}.")
        case OSError():
            return ClusterFailed(f"stopped: {_said(error)}; mend that, and ask again.")
        case _:
            return ClusterFailed(
                f"stopped: a process failed ({str(error).rstrip('.')}); see that every machine has Everyline "
                "in this version, or ask again without --workers and --scheduler."
            )


def lost(number: int, task: Task, smaller: str) -> ProcessesLost:
    """What is raised after so many losses over a task."""
    names = listed(f'"{name}"' for name in sorted(_in_python(task[1])))
    rule = f"the rule in Python {names} ends its process or crashes it (mend it), or " if names else ""
    return ProcessesLost(
        f"stopped: {plural(number, 'process was', 'processes were')} lost over the same part of the work; "
        f"{'either ' * bool(rule)}{rule}the memory is not enough ({_less(smaller)})."
    )


def _less(smaller: str) -> str:
    return "try fewer processes, machines with more memory" + (f", or {smaller}" if smaller else "")


def _said(error: OSError) -> str:
    """What the system said in another process, with the file if it is known."""
    said = os.strerror(error.errno) if error.errno else str(error).rstrip(".") or "input or output failed"
    return (
        f"{error.filename}: {said}" if error.filename else f"in one of the processes the system said: {said}"
    )


def _in_python(arguments: Iterable[Any]) -> set[str]:
    """The names of the rules in Python that a task carries."""
    each = [part for given in arguments for part in (given.values() if isinstance(given, dict) else (given,))]
    return {name for part in each if isinstance(part, Packed) for name in part.in_python}
