"""Work cut up for many processes, of this machine or of a Dask cluster; here the parts of an export.

A task carries the rules (some kilobytes) and the part, not the diagram: each process compiles that once. What
a part holds follows from the plan alone, so it does not matter who writes it, or how often: when a process
is lost, its parts are done again.
"""

from __future__ import annotations

import os
import pickle
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack
from dataclasses import replace
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any, Protocol

from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.parallel.failures import ClusterFailed, Packed, Room, Task
from everyline.parallel.parquet import Runner, Written, is_written, one_by_one, write_part
from everyline.parallel.parts import ExportPart, ExportPlan
from everyline.parallel.processes import Processes
from everyline.parallel.scheduler import Report, Scheduler, check_address
from everyline.rules.own import StepRule
from everyline.rules.ruleset import Rules
from everyline.solver.budget import at_most, most_nodes

MOST_PER_CORE = 4
"""Processes of this machine for each of its cores; more only take memory from each other."""


def pack(value: Any) -> Packed:
    """Rules, or what holds some, as a task carries them; rules in Python go as the text of their files.

    Raises InputError for rules in Python that are in no file.
    """
    try:
        packed = Packed(pickle.dumps(value))
    except (pickle.PicklingError, AttributeError, TypeError) as error:
        raise InputError(
            f"these rules cannot be sent to other processes ({error}); leave out --workers and --scheduler."
        ) from None
    rules = value if isinstance(value, Rules) else getattr(value, "rules", None)
    if isinstance(rules, Rules):
        steps = {limit.kind for limit in rules.limits if isinstance(limit, StepRule)}
        packed.in_python = frozenset(steps | {rule.kind for rule in rules.filters})
    return packed


@lru_cache(maxsize=32)
def unpacked(packed: bytes) -> Any:
    """What was packed; a process unpacks it once."""
    return pickle.loads(packed)


class Workers(Protocol):
    """Who works on tasks: processes of this machine, or a cluster."""

    @property
    def most_ahead(self) -> int:
        """How many tasks may be given out at once."""

    def results(self, tasks: Iterable[Task], room: Room, smaller: str = "") -> Iterator[tuple[int, Any]]:
        """(place of the task, what it answered) for each task, as they finish."""


def in_order(cluster: Cluster, tasks: Iterable[tuple[Any, ...]], ahead: int | None = None) -> Iterator[Any]:
    """The results of (function, arguments...) in the order of the tasks, at most ``ahead`` of them ahead.

    A task on a process that is lost is done again. Raises ProcessesLost after MOST_LOST losses.
    """
    found: dict[int, Any] = {}
    due = 0
    workers = cluster.processes
    most = ahead or workers.most_ahead

    def room(place: int) -> bool:
        return place < due + most

    for place, answer in workers.results(_bounded(tasks), room):
        found[place] = answer
        while due in found:
            due += 1
            yield found.pop(due - 1)


def _bounded(tasks: Iterable[tuple[Any, ...]]) -> Iterator[Task]:
    """The tasks, with diagrams of so many nodes allowed as here."""
    return ((within, (most_nodes(), *task)) for task in tasks)


def within(nodes: int, function: Callable[..., Any], *arguments: Any) -> Any:
    """What the function answers, with diagrams of so many nodes allowed as where it was asked."""
    with at_most(nodes):
        return function(*arguments)


def _task(packed: bytes, plan: ExportPlan, folder: str, part: ExportPart) -> ExportPart:
    try:
        return write_part(unpacked(packed), plan, Path(folder), part)
    except OSError as error:
        if error.errno and error.filename is None:  # a full disk does not say where it is full
            error.filename = str(Path(folder) / part.name)
        raise


def on_cluster(cluster: Cluster) -> Runner:
    """What writes parts on a cluster; all its processes must see the folder under the same path."""

    def run(rules: Rules, plan: ExportPlan, folder: Path, parts: list[ExportPart]) -> Written:
        if not parts:
            return
        if rules.filters:
            # Every process would have to look at every line; here they have been looked at.
            yield from one_by_one(rules, plan, folder, parts)
            return
        packed, where = pack(replace(rules)), str(folder.resolve())
        tasks = _bounded((_task, packed, plan, where, part) for part in parts)
        smaller = "smaller parts (--part-lines) in another folder"
        try:
            for _, part in cluster.processes.results(tasks, lambda place: True, smaller):
                yield _seen(part, folder)
        except ClusterFailed as error:
            if not any(folder.glob("part-*.parquet")):
                raise
            raise type(error)(f"{error} What is written stays: ask for the same again to go on.") from error

    return run


def _seen(part: ExportPart, folder: Path) -> ExportPart:
    if not is_written(folder, part):
        raise InputError(
            f"{folder / part.name} was written, but not where this machine sees it; choose a folder that all "
            "machines of the cluster share."
        )
    return part


class Cluster:
    """The cluster at an address, else ``workers`` processes of this machine, started when first needed.

    A context: what was started is ended with it. Raises InputError for both, for a number of processes that
    this machine cannot use, and for a text that is no address. ``report`` is told once when work waits for
    a process that is not there.
    """

    def __init__(
        self, scheduler: str | None = None, workers: int | None = None, report: Report | None = None
    ) -> None:
        if scheduler is not None:
            check_address(scheduler)
            if workers is not None:
                raise InputError(
                    f"--workers {workers} starts processes of this machine, and the cluster at {scheduler} "
                    "has its own; leave out --workers or --scheduler."
                )
        if workers is not None:
            _check_number(workers)
        self.scheduler, self.workers, self._report = scheduler, workers, report
        self._open = ExitStack()

    def __enter__(self) -> Cluster:
        return self

    def __exit__(self, *error: object) -> None:
        self._open.close()
        self.__dict__.pop("processes", None)

    def connect(self) -> None:
        """Connect to the scheduler, where there is an address; processes of this machine start when needed.

        For those who write before they ask for a process. Raises InputError where no scheduler answers.
        """
        if self.scheduler is not None:
            _ = self.processes

    @cached_property
    def processes(self) -> Workers:
        """Who does the work. Raises InputError where no scheduler answers at the address."""
        if self.scheduler is not None:
            return self._open.enter_context(Scheduler(self.scheduler, self._report))
        return self._open.enter_context(Processes(self.workers or cores()))


def cores() -> int:
    """The cores that this run may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _check_number(workers: int) -> None:
    most = MOST_PER_CORE * cores()
    if workers < 1:
        raise InputError(f"{workers} processes cannot work; give 1 or more.")
    if workers > most:
        raise InputError(
            f"{workers} processes are too many for the {plural(cores(), 'core')} that this run may use; "
            f"give from 1 to {most}, best {cores()}."
        )
