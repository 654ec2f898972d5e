"""Work cut up for many processes, on this machine or on a Dask cluster; here the parts of an export.

A task carries the rules (some kilobytes) and the part, not the diagram: each process compiles that once. What
a part holds follows from the plan alone, so it does not matter who writes it, or how often: when a process
is lost, its parts are done again.
"""

from __future__ import annotations

import asyncio
import os
import pickle
import re
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import replace
from functools import cached_property, lru_cache
from pathlib import Path
from threading import Event, Thread
from typing import Any

from everyline.big.export import Runner, is_written, one_by_one, write_part
from everyline.big.plan import Part, Plan
from everyline.corpora.counted import plural
from everyline.corpora.errors import EverylineError, InputError, Stopped
from everyline.rules.own import StepRule
from everyline.rules.ruleset import Rules
from everyline.rules.schema import listed
from everyline.solver.budget import at_most, most_nodes

SECONDS_TO_CONNECT = 10
SECONDS_TO_TELL = 5
"""How long work waits for a process before the user is told that there is none."""
MOST_LOST = 10
"""How many processes may be lost over one and the same part before the run gives up."""
MOST_PER_CORE = 4
"""Processes of this machine for each of its cores; more only take memory from each other."""

SCHEMES = ("tcp", "tls", "ws", "wss", "ucx")
_ADDRESS = re.compile(r"(?:(?P<scheme>\w+)://)?(?:\[[\w:.%]+\]|[^\s/:@\[\]]+):(?P<port>[0-9]{1,5})")
"""``scheme://machine:port``; without a scheme it is tcp. An IPv6 address stands in brackets."""

Report = Callable[[str], None]
"""Told one sentence for the user."""


class ClusterFailed(Stopped):
    """The cluster did not do what it was asked to; what is written stays."""


class ProcessesLost(ClusterFailed):
    """So many processes were lost over the same part that the run gives up."""


class Packed(bytes):
    """What ``pack`` makes; ``in_python`` names the rules in Python that go along."""

    in_python: frozenset[str] = frozenset()


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


def in_order(client: Any, tasks: Iterable[tuple[Any, ...]], ahead: int | None = None) -> Iterator[Any]:
    """The results of (function, arguments...) in the order of the tasks, some of which run ahead.

    A task on a process that is lost is done again. Raises ProcessesLost after MOST_LOST losses.
    """
    waiting: deque[tuple[Any, tuple[Any, ...]]] = deque()
    most = ahead or 4 * max(1, len(client.scheduler_info()["workers"]))
    for task in tasks:
        waiting.append((_submit(client, None, *task), task))
        if len(waiting) >= most:
            yield result_of(*waiting.popleft())
    while waiting:
        yield result_of(*waiting.popleft())


def _submit(client: Any, key: str | None, function: Callable[..., Any], *arguments: Any) -> Any:
    return client.submit(within, most_nodes(), function, *arguments, key=key, pure=False)


def within(nodes: int, function: Callable[..., Any], *arguments: Any) -> Any:
    """What the function answers, with diagrams of so many nodes allowed as where it was asked."""
    with at_most(nodes):
        return function(*arguments)


def result_of(done: Any, task: Iterable[Any] = (), smaller: str = "") -> Any:
    """What a task answered. Raises what it raised, or ClusterFailed.

    ``smaller`` says how the work can be cut into smaller parts, where it can.
    """
    from concurrent.futures import CancelledError

    from distributed.comm.core import CommClosedError
    from distributed.scheduler import KilledWorker

    try:
        answer = done.result()
    except EverylineError:
        raise
    except KilledWorker as error:
        raise ProcessesLost(_lost(error.allowed_failures + 1, _in_python(task), smaller)) from None
    except (CancelledError, CommClosedError):
        raise ClusterFailed(
            "stopped: the scheduler of the processes was lost; see that it runs, and ask again."
        ) from None
    except MemoryError:
        raise ClusterFailed(f"stopped: the memory of a process was not enough; {_less(smaller)}.") from None
    except OSError as error:
        raise ClusterFailed(f"stopped: {_said(error)}; mend that, and ask again.") from error
    except Exception as error:
        raise ClusterFailed(
            f"stopped: a process failed ({str(error).rstrip('.')}); see that every machine has Everyline in "
            "this version, or ask again without --workers and --scheduler."
        ) from error
    done.release()
    return answer


def _lost(number: int, in_python: Iterable[str], smaller: str) -> str:
    names = listed(f'"{name}"' for name in sorted(in_python))
    rule = f"the rule in Python {names} ends its process or crashes it (mend it), or " if names else ""
    return (
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


def _in_python(task: Iterable[Any]) -> set[str]:
    """The names of the rules in Python that a task carries."""
    each = [part for given in task for part in (given.values() if isinstance(given, dict) else (given,))]
    return {name for part in each if isinstance(part, Packed) for name in part.in_python}


def _task(packed: bytes, plan: Plan, folder: str, part: Part) -> Part:
    try:
        return write_part(unpacked(packed), plan, Path(folder), part)
    except OSError as error:
        if error.errno and error.filename is None:  # a full disk does not say where it is full
            error.filename = str(Path(folder) / part.name)
        raise


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
            yield _written(done, folder, packed)

    return run


def _written(done: Any, folder: Path, packed: Packed) -> Part:
    try:
        part: Part = result_of(done, (packed,), "smaller parts (--part-lines) in another folder")
    except ClusterFailed as error:
        if not any(folder.glob("part-*.parquet")):
            raise
        raise type(error)(f"{error} What is written stays: ask for the same again to go on.") from error
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
            _check_address(scheduler)
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
            "distributed.scheduler.allowed-failures": MOST_LOST - 1,
            # A process that is being replaced at that moment would be given up; with the last the run hangs.
            "distributed.deploy.lost-worker-timeout": "1000 days",
            "distributed.comm.timeouts.connect": f"{SECONDS_TO_CONNECT}s",
        }
        self._open.enter_context(dask.config.set(settings))
        if self.scheduler is not None:
            self._open.enter_context(_quiet())
            client = self._open.enter_context(_client_of(self.scheduler))
            if self._report is not None:
                self._open.enter_context(_watched(client, self.scheduler, self._report))
            return client
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


@contextmanager
def _quiet() -> Iterator[None]:
    """Without what the library logs of a lost scheduler; the error says it in one sentence."""
    from distributed.utils import silence_logging_cmgr

    with silence_logging_cmgr("CRITICAL"), silence_logging_cmgr("CRITICAL", "distributed.client"):
        yield


@contextmanager
def _watched(client: Any, address: str, report: Report) -> Iterator[None]:
    """Tell once, inside the block, when work has waited for SECONDS_TO_TELL and there is no process."""
    over = Event()

    def watch() -> None:
        empty = 0
        # Two looks in a row: a process that is just being replaced is missing in one.
        while empty < 2 and not over.wait(SECONDS_TO_TELL / 2):
            waits = any(future.status == "pending" for future in list(client.futures.values()))
            empty = empty + 1 if waits and not client.nthreads() else 0
        if empty == 2:
            report(
                f"the cluster at {address} has no workers, so this waits; start one with: "
                f"dask worker {address}, or end this with Ctrl-C."
            )

    def watch_quietly() -> None:
        with suppress(Exception):  # the connection is lost or closed: the waiting itself says so
            watch()

    watcher = Thread(target=watch_quietly, daemon=True)
    watcher.start()
    try:
        yield
    finally:
        over.set()
        watcher.join(1)


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
    from distributed.comm.core import connect

    if dask.config.get("distributed.client.security-loader", None) is not None:
        return  # only a client knows the keys then
    keys = Security().get_connection_args("client")
    async with asyncio.timeout(SECONDS_TO_CONNECT + 1):
        (await connect(address, timeout=SECONDS_TO_CONNECT, **keys)).abort()
