"""Parts written by many processes, on this machine or on a Dask cluster.

A task carries the rules (some kilobytes) and the part, not the diagram: each process compiles that once. What
a part holds follows from the plan alone, so it does not matter who writes it, or how often: when a process
is lost, its parts are done again.
"""

from __future__ import annotations

import pickle
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from corpora.errors import EverylineError, InputError
from everyline.big.export import Runner, is_written, write_part
from everyline.big.plan import Part, Plan
from rules.ruleset import Rules

SECONDS_TO_CONNECT = 10
MOST_LOST = 10
"""How many processes may be lost over one and the same part before the run gives up."""


class ClusterFailed(EverylineError):
    """The cluster did not do what it was asked to (exit code 3); what is written stays."""


@lru_cache(maxsize=2)
def _unpacked(packed: bytes) -> Rules:
    rules: Rules = pickle.loads(packed)
    return rules


def _task(packed: bytes, plan: Plan, folder: str, part: Part) -> Part:
    return write_part(_unpacked(packed), plan, Path(folder), part)


def pack(rules: Rules) -> bytes:
    """The rules as a task carries them. Raises InputError for rules of the user's own in Python."""
    try:
        return pickle.dumps(replace(rules))
    except (pickle.PicklingError, AttributeError, TypeError):
        raise InputError(
            "rules of your own in Python cannot be sent to other processes; export without --workers and "
            "--scheduler."
        ) from None


def on_cluster(scheduler: str | None = None, workers: int | None = None) -> Runner:
    """What writes parts on the cluster at an address, else on ``workers`` processes of this machine.

    All of them must see the folder under the same path.
    """

    def run(rules: Rules, plan: Plan, folder: Path, parts: list[Part]) -> Iterable[Part]:
        if not parts:
            return
        packed, where = pack(rules), str(folder.resolve())
        with client_for(scheduler, workers) as client:
            from distributed import as_completed

            tasks = [
                client.submit(
                    _task, packed, plan, where, part, key=f"{plan.space[:12]}-{part.name}", pure=False
                )
                for part in parts
            ]
            with client.as_current():
                finished = as_completed(tasks)  # type: ignore[no-untyped-call]
            for done in finished:
                yield _result(done, folder)

    return run


def _result(done: Any, folder: Path) -> Part:
    from distributed.scheduler import KilledWorker

    try:
        part: Part = done.result()
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
    if not is_written(folder, part):
        raise InputError(
            f"{folder / part.name} was written, but not where this machine sees it; choose a folder that all "
            "machines of the cluster share."
        )
    return part


@contextmanager
def client_for(scheduler: str | None, workers: int | None) -> Iterator[Any]:
    """A client of the cluster at an address, or of one made here for as long as the block lasts."""
    if workers is not None and workers < 1:
        raise InputError(f"{workers} processes cannot work; give 1 or more.")
    import dask
    from distributed import Client, LocalCluster

    settings = {
        "distributed.scheduler.allowed-failures": MOST_LOST,
        "distributed.comm.timeouts.connect": f"{SECONDS_TO_CONNECT}s",
    }
    with dask.config.set(settings):
        if scheduler is not None:
            try:
                client = Client(  # type: ignore[no-untyped-call]
                    scheduler, timeout=SECONDS_TO_CONNECT, set_as_default=False
                )
            except (OSError, ValueError, TimeoutError) as error:
                raise InputError(
                    f'no scheduler answers at "{scheduler}" ({error}); write it as tcp://machine:8786.'
                ) from None
            with client:
                yield client
            return
        with (
            LocalCluster(  # type: ignore[no-untyped-call]
                n_workers=workers,
                threads_per_worker=1,
                processes=True,
                dashboard_address=None,
                silence_logs="CRITICAL",
            ) as cluster,
            Client(cluster, set_as_default=False) as client,  # type: ignore[no-untyped-call]
        ):
            yield client
