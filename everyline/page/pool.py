"""Worker processes that do the counting, engraving and sounding, so that no request can block another.

One worker is kept for counts, so that a changed rule finds it free; long jobs never take it, nor the last of
the others while there are several. Work that nobody waits for any more is told to stop, and so is work that
takes longer than its request may; a process that does not stop is ended and replaced.
"""

from __future__ import annotations

import asyncio
import contextlib
import multiprocessing
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Coroutine
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from pathlib import Path
from typing import Any

from everyline.corpora.counted import plural
from everyline.corpora.errors import EverylineError, InputError
from everyline.page.lanes import COUNT, LONG, SET
from everyline.parallel.processes import undisturbed

OK, WRONG, STOPPED, BUG, TOLD = "ok", "wrong", "stopped", "bug", "told"
"""What a message from a worker is: an answer or the reason why there is none, or a word on the way to one."""
Tell = Callable[[Any], None]
LONGEST_START = 60
"""Seconds after which a worker is used although it has not said that it is ready."""
LATER = 1.0
"""Seconds that the first worker has to itself before the others are started."""
REMEMBERED = 16
"""Sets of rules that a worker keeps compiled, and for which it is preferred."""
DEAR = 0.5
"""Seconds of counting from which on rules are rather not compiled by a second worker."""
GRACE = 3.0
"""Seconds in which a worker stops when it is told to, or is ended."""


class TookTooLong(EverylineError):
    """A request ran out of its time and was stopped."""


class WorkerLost(EverylineError):
    """A worker ended in the middle of a request, most likely for want of memory."""


class ShuttingDown(EverylineError):
    """The server is being ended."""


class Broken(EverylineError):
    """A fault of the program itself; its details are for the log, not for the reader."""


@dataclass(eq=False)
class Worker:
    """A worker process; ``known`` are the rules that it has compiled, with the seconds that the first request
    for them took."""

    process: SpawnProcess
    pipe: Connection
    counts: bool
    known: OrderedDict[str, float] = field(default_factory=OrderedDict)
    requests: int = 0
    sending: threading.Lock = field(default_factory=threading.Lock)

    def remembers(self, subject: str, seconds: float) -> None:
        self.known.setdefault(subject, seconds)
        self.known.move_to_end(subject)
        while len(self.known) > REMEMBERED:
            self.known.popitem(last=False)


class Pool:
    """``size`` processes (two at least). ``run`` may be called by any number of coroutines at once."""

    def __init__(
        self,
        size: int,
        corpora_folder: Path | None = None,
        memory: int | None = None,
        begun: Worker | None = None,
    ) -> None:
        """``begun`` is a worker that was started before (see ``begin``), not the one for counts."""
        self.size = max(2, size)
        self._folder = corpora_folder
        self._memory = memory
        self._begun = begun
        self._idle: list[Worker] = []
        self._all: set[Worker] = set()
        self._busy = {LONG: 0, SET: 0}
        self._most = {LONG: max(1, self.size - 2), SET: 1}
        self._changed = asyncio.Condition()
        self._threads = ThreadPoolExecutor(2 * self.size + 2, "worker-pipe")
        self._closed = False
        self._tasks: set[asyncio.Future[None]] = set()

    def start(self) -> None:
        """Start the processes; requests wait for the first that is ready."""
        self._later(self._begin())

    async def _begin(self) -> None:
        """Start one, by which everything can be answered, and later the others: at once they would only slow
        each other down, and whoever is waiting for the first page."""
        await self._replace(False)
        await asyncio.sleep(LATER)
        await self._replace(True)
        for _ in range(self.size - 2):
            await self._replace(False)

    async def close(self) -> None:
        """End all processes; whoever waits for an answer is told. Does nothing the second time."""
        if self._closed:
            return
        self.kill()
        async with self._changed:
            self._changed.notify_all()
        if self._tasks:
            await asyncio.wait(self._tasks, timeout=GRACE)
        self._threads.shutdown(wait=False)

    def kill(self) -> None:
        """End all processes at once."""
        self._closed = True
        for worker in list(self._all):
            worker.process.kill()

    async def run(
        self,
        operation: str,
        arguments: dict[str, Any],
        seconds: float | None,
        lane: str,
        subject: str = "",
        tell: Tell | None = None,
    ) -> Any:
        """What the operation answers. ``subject`` names the rules, so that a worker that knows them is taken;
        ``tell`` is given what the operation tells on the way, in a thread of its own; ``seconds`` may be None
        for as long as it takes.

        Raises what the operation raised, or TookTooLong when ``seconds``, waiting included, are over. When it
        is cancelled, the work stops too.
        """
        began = time.monotonic()
        worker = await self._take(subject, lane, began, seconds)
        worker.requests += 1
        message = (worker.requests, operation, arguments)
        asked = self._in_thread(_ask, worker, message, tell)
        left = None if seconds is None else max(0.05, began + seconds - time.monotonic())
        try:
            done, _ = await asyncio.wait({asked}, timeout=left)
        except asyncio.CancelledError:
            self._later(self._stop(worker, asked, lane))
            raise
        if not done:
            assert seconds is not None  # without a limit, it is done
            self._later(self._stop(worker, asked, lane))
            raise TookTooLong(_over(seconds))
        try:
            kind, value = asked.result()
        except (EOFError, OSError):
            self._later(self._lost(worker, lane))
            if self._closed:
                raise ShuttingDown(_ENDING) from None
            raise WorkerLost(_LOST) from None
        worker.remembers(subject, time.monotonic() - began)
        # In a task of its own: a request that is cancelled here must not keep the worker.
        self._later(self._give_back(worker, lane))
        if kind == OK:
            return value
        raise {WRONG: InputError, STOPPED: EverylineError}.get(kind, Broken)(value)

    # -- which worker ----------------------------------------------------------------------------------------

    async def _take(self, subject: str, lane: str, began: float, seconds: float | None) -> Worker:
        async with self._changed:
            while True:
                if self._closed:
                    raise ShuttingDown(_ENDING)
                chosen = self._choose(subject, lane)
                if chosen is not None:
                    break
                left = None if seconds is None else max(0.0, began + seconds - time.monotonic())
                try:
                    await asyncio.wait_for(self._changed.wait(), left)
                except TimeoutError:
                    assert seconds is not None  # without a limit, nothing is too late
                    raise TookTooLong(_over(seconds)) from None
            self._idle.remove(chosen)
            if lane in self._busy:
                self._busy[lane] += 1
            return chosen

    def _choose(self, subject: str, lane: str) -> Worker | None:
        """The idle worker that fits best, if there is one."""
        if lane in self._busy and self._busy[lane] >= self._most[lane]:
            return None
        own = [each for each in self._idle if each.counts]
        others = [each for each in self._idle if not each.counts]
        if lane == COUNT:
            # Whoever knows the rules answers at once; else the one that is kept for this.
            able = [*own, *others]
        elif lane in self._busy:
            able = others
        elif any(each.known.get(subject, 0.0) > DEAR for each in own):
            able = [*own, *others]
        else:
            able = others or own
        return next((each for each in able if subject in each.known), able[0] if able else None)

    async def _give_back(self, worker: Worker | None, lane: str = "") -> None:
        async with self._changed:
            if lane in self._busy:
                self._busy[lane] -= 1
            if worker is not None and not self._closed:
                # Last back, first out: its caches are warm.
                self._idle.insert(0, worker)
            self._changed.notify_all()

    # -- stopping and replacing ------------------------------------------------------------------------------

    async def _stop(self, worker: Worker, asked: asyncio.Future[Any], lane: str) -> None:
        """Tell a worker that its answer is not waited for; end it where it does not stop."""
        if not self._closed:  # else it is ended already
            self._in_thread(_tell, worker, worker.requests)
        done, _ = await asyncio.wait({asked}, timeout=GRACE)
        if not done:
            worker.process.kill()
            # The other end of the pipe is closed now, so this does not last.
            done, _ = await asyncio.wait({asked})
        if asked.exception() is None and worker.process.is_alive():
            await self._give_back(worker, lane)
        else:
            await self._lost(worker, lane)

    async def _lost(self, worker: Worker, lane: str) -> None:
        """A worker has ended: another one takes its place."""
        self._all.discard(worker)
        worker.process.kill()
        with contextlib.suppress(OSError):
            worker.pipe.close()
        # The place is free for others while the new worker starts.
        await self._give_back(None, lane)
        await self._replace(worker.counts)

    async def _replace(self, counts: bool) -> None:
        if self._closed:
            return
        worker = await self._in_thread(self._new, counts)
        await self._give_back(worker)

    def _new(self, counts: bool) -> Worker:
        worker, self._begun = self._begun or begin(counts, self._folder, self._memory), None
        self._all.add(worker)
        if self._closed:
            worker.process.kill()
        # A worker says that it is warm, so that no request pays for its start.
        with contextlib.suppress(EOFError, OSError):
            if worker.pipe.poll(LONGEST_START):
                worker.pipe.recv()
        return worker

    def _in_thread(self, act: Any, *arguments: Any) -> asyncio.Future[Any]:
        return asyncio.get_running_loop().run_in_executor(self._threads, act, *arguments)

    def _later(self, work: Coroutine[Any, Any, None]) -> None:
        """Do something that nobody waits for."""
        task = asyncio.ensure_future(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)


def begin(counts: bool, folder: Path | None, memory: int | None) -> Worker:
    """Start a worker, the one that is kept for counts or another. It is not waited for: it may load what it
    needs while the server does."""
    from everyline.page.worker import serve

    spawn = multiprocessing.get_context("spawn")
    ours, theirs = spawn.Pipe()
    process = spawn.Process(target=serve, args=(theirs, folder, memory, counts), daemon=True)
    with undisturbed():
        process.start()
    theirs.close()
    return Worker(process, ours, counts)


def _ask(worker: Worker, message: tuple[int, str, dict[str, Any]], tell: Tell | None) -> tuple[str, Any]:
    """A worker's answer to a message, waited for however long it takes, with what it tells on the way. Raises
    EOFError when it ends."""
    with worker.sending:
        worker.pipe.send(message)
    while True:
        found = worker.pipe.recv()
        # What a worker said too late of its start is no answer.
        if found == OK or found[0] != message[0]:
            continue
        if found[1] != TOLD:
            return found[1], found[2]
        if tell is not None:
            tell(found[2])


def _tell(worker: Worker, number: int) -> None:
    """Tell a worker that an answer is not waited for."""
    with worker.sending, contextlib.suppress(OSError):
        worker.pipe.send(number)


_ENDING = "the server is shutting down."
_LOST = "stopped: this needs more memory than the page allows; narrow the rules, or raise --memory-limit."


def _over(seconds: float) -> str:
    return (
        f"stopped: this took more than {plural(seconds, 'second')}; narrow the rules, or start the page "
        "with a higher --time-limit."
    )
