"""Work cut up for many processes, on this machine or on a Dask cluster; here the parts of an export.

A task carries the rules (some kilobytes) and the part, not the diagram: each process compiles that once. What
a part holds follows from the plan alone, so it does not matter who writes it, or how often: when a process
is lost, its parts are done again.
"""

from __future__ import annotations

import asyncio
import pickle
import re
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack
from dataclasses import replace
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

from corpora.counted import plural
from corpora.errors import EverylineError, InputError
from everyline.big.export import Runner, is_written, one_by_one, write_part
from everyline.big.plan import Part, Plan
from rules.ruleset import Rules
from solver.budget import at_most, most_nodes

SECONDS_TO_CONNECT = 10
MOST_LOST = 10
"""How many processes may be lost over one and the same part before the run gives up."""
MOST_PER_CORE = 4
"""Processes of this machine for each of its cores; more only take memory from each other."""

SCHEMES = ("tcp", "tls", "ws", "wss", "ucx")
_ADDRESS = re.compile(r"(?:(?P<scheme>\w+)://)?(?:\[[\w:.%]+\]|[^\s/:@\[\]]+):(?P<port>[0-9]{1,5})")
"""``scheme://machine:port``; without a scheme it is tcp. An IPv6 address stands in brackets."""


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

    A context: what was started is ended with it. Raises InputError for both, for a number of processes that
    this machine cannot use, and for a text that is no address.
    """

    def __init__(self, scheduler: str | None = None, workers: int | None = None) -> None:
        if scheduler is not None:
            _check_address(scheduler)
            if workers is not None:
                raise InputError(
                    f"--workers {workers} starts processes of this machine, and the cluster at {scheduler} has "
                    "its own; leave out --workers or --scheduler."
                )
        if workers is not None:
            _check_number(workers)
        self.scheduler, self.workers = scheduler, workers
        self._open = ExitStack()

    def __enter__(self) -> Cluster:
        return self

    def __exit__(self, *error: object) -> None:
        self._open.close()
        self.__dict__.pop("client", None)

    def connect(self) -> None:
        """Connect to the scheduler, where there is an address; processes of this machine start when needed.

        For those who write before they ask for a process. Raises InputError where no scheduler answers.
        """
        if self.scheduler is not None:
            _ = self.client

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
            return self._open.enter_context(_client_of(self.scheduler))
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


def _check_address(address: str) -> None:
    """Raises InputError for a text that is no address, before the long wait for an answer."""
    match = _ADDRESS.fullmatch(address)
    if match is None or match["scheme"] not in (None, *SCHEMES) or not 1 <= int(match["port"]) <= 65535:
        raise InputError(
            f'"{address}" is no address of a scheduler; write scheme, machine and port, such as '
            f"tcp://machine:8786 (schemes: {', '.join(SCHEMES)}; ports: 1 to 65535)."
        )


def _check_number(workers: int) -> None:
    from dask.system import cpu_count

    cores = cpu_count()
    most = MOST_PER_CORE * cores
    if workers < 1:
        raise InputError(f"{workers} processes cannot work; give 1 or more.")
    if workers > most:
        raise InputError(
            f"{workers} processes are too many for the {plural(cores, 'core')} that this run may use; "
            f"give from 1 to {most}, best {cores}."
        )


def _client_of(address: str) -> Any:
    """A client of the scheduler there. Raises InputError where none answers."""
    from distributed import Client

    try:
        asyncio.run(_answers(address))
        return Client(address, timeout=SECONDS_TO_CONNECT, set_as_default=False)
    except Exception as error:  # whatever the kind of connection brings along
        reason = str(error).rstrip(".") or f"nothing in {SECONDS_TO_CONNECT} seconds"
        raise InputError(
            f'no scheduler answers at "{address}" ({reason}); write it as tcp://machine:8786, and start one '
            "there with: dask scheduler."
        ) from None


async def _answers(address: str) -> None:
    """Shake hands with a scheduler and leave. A client that cannot connect would not end by itself."""
    import dask
    from distributed import Security
    from distributed.comm import connect

    if dask.config.get("distributed.client.security-loader", None) is not None:
        return  # only a client knows the keys then
    keys = Security().get_connection_args("client")
    async with asyncio.timeout(SECONDS_TO_CONNECT + 1):
        (await connect(address, timeout=SECONDS_TO_CONNECT, **keys)).abort()
