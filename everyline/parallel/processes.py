"""Processes of this machine that work on tasks, each behind a pipe of its own that nobody else can open.

A process that is lost is replaced and its task done again. All end with whoever started them, however that
one ends.
"""

from __future__ import annotations

import multiprocessing
import os
import pickle
import signal
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing import resource_tracker, spawn
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess
from typing import Any

from everyline.parallel import failures
from everyline.parallel.failures import Room, Task, lost, told

SECONDS_TO_END = 10.0
"""How long a process that was killed is waited for."""


PUT_OFF = tuple(signal.Signals[name] for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))
"""Signals that must not come into the middle of starting a process."""

_STARTING = threading.Lock()
"""Threads start processes one at a time, since the command that starts them is changed meanwhile."""


@contextmanager
def undisturbed() -> Iterator[None]:
    """Signals wait for the end of the block, in which processes are started that call ``settle``: those are
    deaf to them until then, since who starts them is the one to answer. If that one is killed before it has
    told a process what to do, the process ends without a word."""
    came: list[int] = []
    handlers: dict[int, Any] = {}
    if threading.current_thread() is threading.main_thread():
        found = {each: signal.getsignal(each) for each in PUT_OFF}
        handlers = {each: handler for each, handler in found.items() if callable(handler)}
    for each in handlers:
        signal.signal(each, lambda number, frame: came.append(number))
    masks = hasattr(signal, "pthread_sigmask")
    before = signal.pthread_sigmask(signal.SIG_BLOCK, ()) if masks else set()
    try:
        if masks:
            # Started here, since starting it ends with all signals let through, as would the first process.
            resource_tracker.ensure_running()
            # What is blocked in a thread is blocked in the processes that it starts.
            signal.pthread_sigmask(signal.SIG_BLOCK, PUT_OFF)
        with _STARTING:
            command_line = spawn.get_command_line
            spawn.get_command_line = _silent_without_parent(command_line)
            try:
                yield
            finally:
                spawn.get_command_line = command_line
    finally:
        if masks:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)
        for each, handler in handlers.items():
            signal.signal(each, handler)
        for number in came:
            signal.raise_signal(number)


def _silent_without_parent(command_line: Callable[..., list[str]]) -> Callable[..., list[str]]:
    """The command that starts a process, made to end quietly where what it is to do never comes. Without
    this, ``multiprocessing`` prints a traceback of its own, before any code of ours could prevent it."""

    def changed(**numbers: int) -> list[str]:
        made = command_line(**numbers)
        if "-c" in made:
            place = made.index("-c") + 1
            made[place] = f"import pickle\ntry: {made[place]}\nexcept (EOFError, pickle.PickleError): pass"
        return made

    return changed


def settle() -> None:
    """Hear signals in a process that was started here, but for Ctrl-C."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, PUT_OFF)


def end_with_parent() -> None:
    """End this process as soon as the one that started it has ended, whatever it is doing."""
    parent = multiprocessing.parent_process()
    assert parent is not None

    def watch() -> None:
        wait([parent.sentinel])
        os._exit(0)

    threading.Thread(target=watch, daemon=True).start()


def work(pipe: Connection) -> None:
    """Answer tasks until the pipe is closed: (whether it went well, what came of it)."""
    settle()
    end_with_parent()
    sys.set_int_max_str_digits(0)  # counts are exact at any size, in decimal too
    with suppress(EOFError, OSError):
        while True:
            function, arguments = pipe.recv()
            try:
                answer = True, function(*arguments)
            except BaseException as error:
                answer = False, error
            try:
                data = pickle.dumps(answer)
            except Exception as error:  # an exception of somebody's making need not be one that travels
                data = pickle.dumps((False, RuntimeError(f"{type(error).__name__}: {error}")))
            pipe.send_bytes(data)


@dataclass(eq=False)
class _Process:
    process: SpawnProcess
    pipe: Connection
    task: tuple[int, Task, int] | None = None
    """(place, task, how often a process was lost over it), while it works on one."""


class _Left:
    """The tasks that are still to be given out: those of lost processes first."""

    def __init__(self, tasks: Iterable[Task], room: Room) -> None:
        self._tasks, self._room, self._place = iter(tasks), room, 0
        self.again: deque[tuple[int, Task, int]] = deque()

    def take(self) -> tuple[int, Task, int] | None:
        """(place, task, losses so far); None where there is none, or no room for it yet."""
        if self.again:
            return self.again.popleft()
        task = next(self._tasks, None) if self._room(self._place) else None
        if task is None:
            return None
        self._place += 1
        return self._place - 1, task, 0


class Processes:
    """So many processes, started when there is work for them. A context, at whose end they end."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._all: list[_Process] = []
        self._spawn = multiprocessing.get_context("spawn")

    def __enter__(self) -> Processes:
        return self

    def __exit__(self, *error: object) -> None:
        for each in self._all:
            each.process.kill()
        for each in self._all:
            each.process.join(SECONDS_TO_END)
            each.pipe.close()
        self._all = []

    @property
    def most_ahead(self) -> int:
        """How many tasks may be given out at once."""
        return 4 * self._size

    def results(self, tasks: Iterable[Task], room: Room, smaller: str = "") -> Iterator[tuple[int, Any]]:
        """(place of the task, what it answered) for each task, as they finish; a task is taken when a process
        is free and there is ``room`` for it. Raises what a task raised, and ProcessesLost.
        """
        left = _Left(tasks, room)
        self._reset()
        try:
            yield from self._results(left, smaller)
        finally:
            self._reset()  # nobody waits for what they are at, and what it writes is half there

    def _results(self, left: _Left, smaller: str) -> Iterator[tuple[int, Any]]:
        while True:
            self._give_out(left)
            busy = {each.pipe: each for each in self._all if each.task is not None}
            if not busy:
                return
            for pipe in wait(list(busy)):  # typed as any object that can be waited for
                each = busy[pipe]  # type: ignore[index]
                assert each.task is not None
                place, task, losses = each.task
                try:
                    good, answer = each.pipe.recv()
                except (EOFError, OSError):
                    self._discard(each)
                    if losses + 1 >= failures.MOST_LOST:
                        raise lost(losses + 1, task, smaller) from None
                    left.again.append((place, task, losses + 1))
                    continue
                each.task = None
                if not good:
                    raise told(answer, smaller) from None
                self._give_out(left)  # so that nobody is idle while this answer is looked at
                yield place, answer

    def _give_out(self, left: _Left) -> None:
        """Give every idle process a task, as long as there are any."""
        while True:
            idle = next((each for each in self._all if each.task is None), None)
            if idle is None and len(self._all) >= self._size:
                return
            task = left.take()
            if task is None:
                return
            each = idle or self._new()
            each.task = task
            with suppress(
                OSError
            ):  # a process that was lost meanwhile is noticed when its answer is waited for
                each.pipe.send(each.task[1])

    def _new(self) -> _Process:
        ours, theirs = self._spawn.Pipe()
        process = self._spawn.Process(target=work, args=(theirs,), daemon=True)
        made = _Process(process, ours)
        with undisturbed():
            process.start()
            self._all.append(made)
        theirs.close()
        return made

    def _reset(self) -> None:
        """End processes that are still at work on what nobody waits for any more."""
        for each in [each for each in self._all if each.task is not None]:
            self._discard(each)

    def _discard(self, each: _Process) -> None:
        self._all.remove(each)
        each.process.kill()
        each.process.join(SECONDS_TO_END)
        each.pipe.close()
