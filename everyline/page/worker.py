"""One worker process: reads requests from its pipe, answers each from the table of operations."""

from __future__ import annotations

import _thread
import contextlib
import gc
import os
import queue
import signal
import sys
import threading
import traceback
from functools import partial
from multiprocessing.connection import Connection
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any

from everyline.corpora.errors import EverylineError, InputError
from everyline.page.pool import BUG, OK, STOPPED, TOLD, WRONG
from everyline.parallel.processes import settle

if TYPE_CHECKING:
    from everyline.page.operations import Workspace

MANY = 50_000
"""New objects after which Python looks for cycles: counting makes many objects and no cycles."""
IDLE = 1.0
"""Seconds without a request after which a worker loads what it may need later."""


def serve(pipe: Connection, folder: Path | None, memory: int | None, counts: bool = False) -> None:
    """Answer requests until the pipe closes. ``memory`` bounds the process, in megabytes; ``counts`` says
    that it is the one for counts.

    A message is (number, operation, arguments), or a number alone, which says that the answer of that number
    is not waited for any more. Each message of the first kind gets one answer, an abandoned one too; what the
    operation tells on the way comes before it.
    """
    settle()
    sys.set_int_max_str_digits(0)  # counts are exact at any size, in decimal too
    if memory is not None:
        _bound(memory)
    post = _Post(pipe)  # first of all: when the server ends, this ends, whatever it is doing
    from everyline.page.operations import Workspace

    post.workspace = workspace = Workspace(folder)
    workspace.warm_first(counts)
    gc.set_threshold(MANY, 20, 20)
    with contextlib.suppress(OSError):  # nobody is there to be answered any more
        pipe.send(OK)
        whole = False
        while True:
            message = post.take(None if whole else IDLE)
            if message is None:
                workspace.warm()
                # What is loaded by now stays: it need not be looked through again and again.
                gc.collect()
                gc.freeze()
                whole = True
                continue
            number, operation, arguments = message
            workspace.on_word = partial(_tell, pipe, number)
            answer = _answer(workspace, operation, arguments)
            post.done()
            pipe.send((number, *answer))


def _tell(pipe: Connection, number: int, word: Any) -> None:
    pipe.send((number, TOLD, word))


class _Post:
    """Reads the pipe in a thread of its own, so that word of an abandoned request reaches the work."""

    workspace: Workspace | None = None

    def __init__(self, pipe: Connection) -> None:
        self._pipe = pipe
        self._waiting: queue.SimpleQueue[tuple[int, str, dict[str, Any]]] = queue.SimpleQueue()
        self._lock = threading.Lock()
        self._present: int | None = None
        # Ctrl-C in the window of the server comes here too, and is the server's alone to answer.
        signal.signal(signal.SIGINT, self._interrupted)
        threading.Thread(target=self._read, daemon=True).start()

    def take(self, seconds: float | None = None) -> tuple[int, str, dict[str, Any]] | None:
        """The next request, waited for; None where so many seconds have none."""
        try:
            return self._waiting.get(timeout=seconds)
        except queue.Empty:
            return None

    def done(self) -> None:
        """The present request is answered."""
        with self._lock:
            self._present = None
            if self.workspace is not None:
                self.workspace.wanted()

    def _read(self) -> None:
        while True:
            try:
                message = self._pipe.recv()
            except (EOFError, OSError):
                # The server has ended: whatever is being worked out is for nobody.
                os._exit(0)
            with self._lock:
                if not isinstance(message, int):
                    self._present = message[0]
                    self._waiting.put(message)
                elif message == self._present and self.workspace is not None:
                    self.workspace.abandon()
                    _thread.interrupt_main(signal.SIGINT)

    def _interrupted(self, number: int, frame: FrameType | None) -> None:
        if self.workspace is not None:
            self.workspace.interrupt(frame)


def _answer(workspace: Workspace, operation: str, arguments: dict[str, Any]) -> tuple[str, Any]:
    from everyline.page.operations import Abandoned

    try:
        return OK, workspace.do(operation, arguments)
    except Abandoned:
        return STOPPED, "stopped: nobody waited for this any more."
    except InputError as error:
        return WRONG, str(error)
    except EverylineError as error:
        return STOPPED, str(error)
    except MemoryError:
        return STOPPED, "stopped: this needs more memory than the page allows; narrow the rules."
    except Exception:
        traceback.print_exc(file=sys.stderr)
        return BUG, "something went wrong inside the program; see the server's terminal."
    finally:
        # Work that was broken off may have left these as they were then.
        workspace.rest()
        gc.enable()


def _bound(megabytes: int) -> None:
    try:
        import resource
    except ImportError:  # no such limits on Windows
        return
    resource.setrlimit(resource.RLIMIT_AS, (megabytes << 20, megabytes << 20))
