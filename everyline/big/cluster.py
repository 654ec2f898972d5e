"""Work cut up for many processes, on this machine or on a Dask cluster; here the parts of an export.

A task carries the rules (some kilobytes) and the part, not the diagram: each process compiles that once. What
a part holds follows from the plan alone, so it does not matter who writes it, or how often: when a process
is lost, its parts are done again.
"""

from __future__ import annotations

import pickle
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack
from dataclasses import replace
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

from corpora.errors import EverylineError, InputError
from everyline.big.export import Runner, is_written, one_by_one, write_part
from everyline.big.plan import Part, Plan
from rules.ruleset import Rules
from solver.budget import at_most, most_nodes

SECONDS_TO_CONNECT = 10
MOST_LOST = 10
"""How many processes may be lost over one and the same part before the run gives up."""


class ClusterFailed(EverylineError):
    """The cluster did not do what it was asked to (exit code 3); what is written stays."""


def pack(value: Any) -> bytes:
    """Rules, or what holds some, as a task carries them; rules in Python go as the text of their files.

    Raises InputError for rules in Python that are in no file.
    """
    try:
        return pickle.dumps(value)
    except (pickle.PicklingError, AttributeError, TypeError) as error:
        raise InputError(
            f"these rules cannot be sent to other processes ({error}); leave out --workers and --scheduler."
        ) from None


@lru_cache(maxsize=32)
def unpacked(packed: bytes) -> Any:
    """What was packed; a process unpacks it once."""
    return pickle.loads(packed)


def in_order(client: Any, tasks: Iterable[tuple[Any, ...]], ahead: int | None = None) -> Iterator[Any]:
    """The results of (function, arguments...) in the order of the tasks, some of which run ahead.

    A task on a process that is lost is done again. Raises ClusterFailed after MOST_LOST losses.
    """
    waiting: deque[Any] = deque()
    most = ahead or 4 * max(1, len(client.scheduler_info()["workers"]))
    for function, *arguments in tasks:
        waiting.append(_submit(client, None, function, *arguments))
        if len(waiting) >= most:
            yield result_of(waiting.popleft())
    while waiting:
        yield result_of(waiting.popleft())


def _submit(client: Any, key: str | None, function: Callable[..., Any], *arguments: Any) -> Any:
    return client.submit(within, most_nodes(), function, *arguments, key=key, pure=False)


def within(nodes: int, function: Callable[..., Any], *arguments: Any) -> Any:
    """What the function answers, with diagrams of so many nodes allowed as where it was asked."""
    with at_most(nodes):
        return function(*arguments)


def result_of(done: Any) -> Any:
    """What a task answered. Raises what it raised, or ClusterFailed."""
    from distributed.scheduler import KilledWorker

    try:
        answer = done.result()
    except EverylineError:
        raise
    except KilledWorker:
        raise ClusterFailed(
            f"stopped: {MOST_LOST} processes were lost over the same part; they may need more memory, or "
            "smaller parts (--part-lines). What is written stays: ask again to go on."
        ) from None
    except Exception as error:
        raise ClusterFailed(f"stopped: a process failed ({type(error).__name__}: {error}).") from error
    done.release()
    return answer


def _task(packed: bytes, plan: Plan, folder: str, part: Part) -> Part:
    return write_part(unpacked(packed), plan, Path(folder), part)


def on_cluster(cluster: Cluster) -> Runner:
    """What writes parts on a cluster; all its processes must see the folder under the same path."""

    def run(rules: Rules, plan: Plan, folder: Path, parts: list[Part]) -> Iterable[Part]:
        if not parts:
            return
        if rules.filters:
            # Every process would have to look at every line; here they have been looked at.
            yield from one_by_one(rules, plan, folder, parts)
            return
        from distributed import as_completed

        packed, where, client = pack(replace(rules)), str(folder.resolve()), cluster.client
        tasks = [
            _submit(client, f"{plan.space[:12]}-{part.name}", _task, packed, plan, where, part)
            for part in parts
        ]
        with client.as_current():
            finished = as_completed(tasks)
        for done in finished:
            yield _written(done, folder)

    return run


def _written(done: Any, folder: Path) -> Part:
    part: Part = result_of(done)
    if not is_written(folder, part):
        raise InputError(
            f"{folder / part.name} was written, but not where this machine sees it; choose a folder that all "
            "machines of the cluster share."
        )
    return part


class Cluster:
    """The cluster at an address, else ``workers`` processes of this machine, started when first needed.

    A context: what was started is ended with it. Raises InputError for fewer than one process.
    """

    def __init__(self, scheduler: str | None = None, workers: int | None = None) -> None:
        if workers is not None and workers < 1:
            raise InputError(f"{workers} processes cannot work; give 1 or more.")
        self.scheduler, self.workers = scheduler, workers
        self._open = ExitStack()

    def __enter__(self) -> Cluster:
        return self

    def __exit__(self, *error: object) -> None:
        self._open.close()
        self.__dict__.pop("client", None)

    @cached_property
    def client(self) -> Any:
        """A client of the cluster. Raises InputError where no scheduler answers at the address."""
        import dask
        from distributed import Client, LocalCluster

        settings = {
            "distributed.scheduler.allowed-failures": MOST_LOST,
            "distributed.comm.timeouts.connect": f"{SECONDS_TO_CONNECT}s",
        }
        self._open.enter_context(dask.config.set(settings))
        if self.scheduler is not None:
            try:
                client = Client(self.scheduler, timeout=SECONDS_TO_CONNECT, set_as_default=False)
            except (OSError, ValueError, TimeoutError) as error:
                raise InputError(
                    f'no scheduler answers at "{self.scheduler}" ({error}); write it as tcp://machine:8786.'
                ) from None
            return self._open.enter_context(client)
        cluster = self._open.enter_context(
            LocalCluster(
                n_workers=self.workers,
                threads_per_worker=1,
                processes=True,
                # Any free port: two runs side by side are two clusters.
                dashboard_address="127.0.0.1:0",
                silence_logs="CRITICAL",
            )
        )
        return self._open.enter_context(Client(cluster, set_as_default=False))
