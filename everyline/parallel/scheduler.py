"""A Dask cluster at an address: whether one answers there, and tasks given to it."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from threading import Event, Thread
from typing import Any

from everyline.corpora.errors import InputError
from everyline.parallel import failures
from everyline.parallel.failures import ClusterFailed, Room, Task, lost, told

SECONDS_TO_CONNECT = 10
SECONDS_TO_TELL = 5
"""How long work waits for a process before the user is told that there is none."""

SCHEMES = ("tcp", "tls", "ws", "wss", "ucx")
_ADDRESS = re.compile(r"(?:(?P<scheme>\w+)://)?(?:\[[\w:.%]+\]|[^\s/:@\[\]]+):(?P<port>[0-9]{1,5})")
"""``scheme://machine:port``; without a scheme it is tcp. An IPv6 address stands in brackets."""

Report = Callable[[str], None]
"""Told one sentence for the user."""


class Scheduler:
    """A cluster's scheduler. A context, at whose end it is left; connecting raises InputError where none
    answers. ``report`` is told once when work waits for a process that is not there."""

    def __init__(self, address: str, report: Report | None = None) -> None:
        self._address, self._report = address, report
        self._open = ExitStack()
        self._client: Any = None

    def __enter__(self) -> Scheduler:
        import dask

        settings = {
            "distributed.scheduler.allowed-failures": failures.MOST_LOST - 1,
            # A process that is being replaced at that moment would be given up; with the last the run hangs.
            "distributed.deploy.lost-worker-timeout": "1000 days",
            "distributed.comm.timeouts.connect": f"{SECONDS_TO_CONNECT}s",
        }
        with self._open:  # left again unless all goes well
            self._open.enter_context(dask.config.set(settings))
            self._open.enter_context(_quiet())
            self._client = self._open.enter_context(_client_of(self._address))
            if self._report is not None:
                self._open.enter_context(_watched(self._client, self._address, self._report))
            self._open = self._open.pop_all()
        return self

    def __exit__(self, *error: object) -> None:
        self._open.close()

    @property
    def most_ahead(self) -> int:
        """How many tasks may be given out at once: processes come and go."""
        return 4 * max(1, len(self._client.scheduler_info()["workers"]))

    def results(self, tasks: Iterable[Task], room: Room, smaller: str = "") -> Iterator[tuple[int, Any]]:
        """(place of the task, what it answered) for each task, as they finish; a task is given out when there
        is ``room`` for it. A task on a process that is lost is done again. Raises what a task raised, and
        ClusterFailed."""
        from distributed import as_completed

        left, place = iter(tasks), 0
        given: dict[Any, tuple[int, Task]] = {}
        with self._client.as_current():
            finished = as_completed()
        while True:
            while room(place) and (task := next(left, None)) is not None:
                future = self._client.submit(task[0], *task[1], pure=False)
                given[future] = place, task
                finished.add(future)
                place += 1
            if not given:
                return
            done = next(finished)
            at, task = given.pop(done)
            yield at, _result_of(done, task, smaller)


def _result_of(done: Any, task: Task, smaller: str) -> Any:
    from concurrent.futures import CancelledError

    from distributed.comm.core import CommClosedError
    from distributed.scheduler import KilledWorker

    try:
        answer = done.result()
    except KilledWorker as error:
        raise lost(error.allowed_failures + 1, task, smaller) from None
    except (CancelledError, CommClosedError):
        raise ClusterFailed(
            "stopped: the scheduler of the processes was lost; see that it runs, and ask again."
        ) from None
    except Exception as error:
        raise told(error, smaller) from None
    done.release()
    return answer


def check_address(address: str) -> None:
    """Raises InputError for a text that is no address, before the long wait for an answer."""
    match = _ADDRESS.fullmatch(address)
    if match is None or match["scheme"] not in (None, *SCHEMES) or not 1 <= int(match["port"]) <= 65535:
        raise InputError(
            f'"{address}" is no address of a scheduler; write scheme, machine and port, such as '
            f"tcp://machine:8786 (schemes: {', '.join(SCHEMES)}; ports: 1 to 65535)."
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
