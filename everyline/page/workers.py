"""Worker processes that do the counting, engraving and sounding, so that no request can block another.

A process that works longer than its request may take is ended and replaced: a thread could not be stopped.
Long jobs never take the last free worker, so that a count or a page of lines always finds one.
"""

from __future__ import annotations

import asyncio
import contextlib
import multiprocessing
import time
from collections import OrderedDict
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from pathlib import Path
from typing import Any

from corpora.errors import EverylineError, InputError

OK, WRONG, STOPPED, BUG = "ok", "wrong", "stopped", "bug"
LONGEST_START = 60
"""Seconds after which a worker is used although it has not said that it is ready."""
REMEMBERED = 16
"""Sets of rules that a worker keeps compiled, and for which it is preferred."""


class TookTooLong(EverylineError):
    """A request ran out of its time and was stopped."""


class WorkerLost(EverylineError):
    """A worker ended in the middle of a request, most likely for want of memory."""


class Broken(EverylineError):
    """A fault of the program itself; its details are for the log, not for the reader."""


@dataclass(eq=False)
class _Worker:
    process: SpawnProcess
    pipe: Connection
    known: OrderedDict[str, None] = field(default_factory=OrderedDict)

    def remembers(self, subject: str) -> None:
        self.known[subject] = None
        self.known.move_to_end(subject)
        while len(self.known) > REMEMBERED:
            self.known.popitem(last=False)


class Pool:
    """``size`` processes (two at least). ``run`` may be called by any number of coroutines at once."""

    def __init__(self, size: int, corpora_folder: Path | None = None, memory: int | None = None) -> None:
        self.size = max(2, size)
        self._folder = corpora_folder
        self._memory = memory
        self._idle: list[_Worker] = []
        self._all: set[_Worker] = set()
        self._slow = 0
        self._changed = asyncio.Condition()
        self._threads = ThreadPoolExecutor(self.size + 2, "worker-pipe")
        self._spawn = multiprocessing.get_context("spawn")
        self._closed = False
        self._returning: set[asyncio.Future[None]] = set()

    def start(self) -> None:
        """Start the processes; requests wait for the first that is ready."""
        self._returning = {asyncio.ensure_future(self._give_back(None, False)) for _ in range(self.size)}

    def close(self) -> None:
        """End all processes."""
        self._closed = True
        for worker in list(self._all):
            self._end(worker)
        self._threads.shutdown(wait=False, cancel_futures=True)

    async def run(
        self, operation: str, arguments: dict[str, Any], seconds: float, subject: str = "", slow: bool = False
    ) -> Any:
        """What the operation answers. ``subject`` names the rules, so that a worker that knows them is taken.

        Raises what the operation raised, or TookTooLong when ``seconds``, waiting included, are over.
        """
        deadline = time.monotonic() + seconds
        worker = await self._take(subject, slow, deadline, seconds)
        loop = asyncio.get_running_loop()
        kept: _Worker | None = worker
        try:
            answer = await loop.run_in_executor(
                self._threads, _ask, worker, operation, arguments, max(0.05, deadline - time.monotonic())
            )
            worker.remembers(subject)
        except BaseException as error:
            kept = None
            self._end(worker)
            if isinstance(error, TimeoutError):
                raise TookTooLong(_over(seconds)) from None
            if isinstance(error, EOFError | OSError):
                raise WorkerLost(
                    "stopped: this needs more memory than the page allows; narrow the rules, "
                    "or raise --memory-limit."
                ) from None
            raise
        finally:
            # Whoever waits for the answer does not wait for a new worker to start.
            back = asyncio.ensure_future(self._give_back(kept, slow))
            self._returning.add(back)
            back.add_done_callback(self._returning.discard)
        kind, value = answer
        if kind == OK:
            return value
        raise {WRONG: InputError, STOPPED: EverylineError}.get(kind, Broken)(value)

    async def _take(self, subject: str, slow: bool, deadline: float, seconds: float) -> _Worker:
        async with self._changed:
            while True:
                if self._idle and not (slow and self._slow >= self.size - 1):
                    break
                left = deadline - time.monotonic()
                try:
                    await asyncio.wait_for(self._changed.wait(), max(0.0, left))
                except TimeoutError:
                    raise TookTooLong(_over(seconds)) from None
            chosen = next((each for each in self._idle if subject in each.known), self._idle[0])
            self._idle.remove(chosen)
            self._slow += slow
            return chosen

    async def _give_back(self, worker: _Worker | None, slow: bool) -> None:
        if worker is None and not self._closed:
            loop = asyncio.get_running_loop()
            worker = await loop.run_in_executor(self._threads, self._new)
        async with self._changed:
            self._slow -= slow
            if worker is not None and not self._closed:
                # Last back, first out: its caches are warm.
                self._idle.insert(0, worker)
            self._changed.notify_all()

    def _new(self) -> _Worker:
        from everyline.page.worker import serve

        ours, theirs = self._spawn.Pipe()
        process = self._spawn.Process(target=serve, args=(theirs, self._folder, self._memory), daemon=True)
        process.start()
        theirs.close()
        worker = _Worker(process, ours)
        self._all.add(worker)
        # A worker says that it is warm, so that no request pays for its start.
        with contextlib.suppress(EOFError, OSError):
            if ours.poll(LONGEST_START):
                ours.recv()
        return worker

    def _end(self, worker: _Worker) -> None:
        self._all.discard(worker)
        worker.process.kill()
        with contextlib.suppress(OSError):
            worker.pipe.close()


def _ask(worker: _Worker, operation: str, arguments: dict[str, Any], seconds: float) -> Any:
    worker.pipe.send((operation, arguments))
    if not worker.pipe.poll(seconds):
        raise TimeoutError
    return worker.pipe.recv()


def _over(seconds: float) -> str:
    return (
        f"stopped: this took more than {seconds:g} seconds; narrow the rules, or start the page with a "
        "higher --time-limit."
    )
