"""One worker process: reads requests from its pipe, answers each from the table of operations."""

from __future__ import annotations

import signal
import sys
import traceback
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from corpora.errors import EverylineError, InputError
from everyline.page.workers import BUG, OK, STOPPED, WRONG


def serve(pipe: Connection, folder: Path | None, memory: int | None) -> None:
    """Answer requests until the pipe closes. ``memory`` bounds the process, in megabytes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if memory is not None:
        _bound(memory)
    from everyline.page.operations import Desk

    desk = Desk(folder)
    desk.warm()
    pipe.send(OK)
    while True:
        try:
            operation, arguments = pipe.recv()
        except (EOFError, OSError):
            return
        answer = _answer(desk, operation, arguments)
        try:
            pipe.send(answer)
        except OSError:
            return


def _answer(desk: Any, operation: str, arguments: dict[str, Any]) -> tuple[str, Any]:
    try:
        return OK, desk.do(operation, arguments)
    except InputError as error:
        return WRONG, str(error)
    except EverylineError as error:
        return STOPPED, str(error)
    except MemoryError:
        return STOPPED, "stopped: this needs more memory than the page allows; narrow the rules."
    except RecursionError:
        return WRONG, "the input is nested too deeply to be read."
    except Exception:
        traceback.print_exc(file=sys.stderr)
        return BUG, "something went wrong inside the program; its own window tells the details."


def _bound(megabytes: int) -> None:
    try:
        import resource
    except ImportError:  # no such limits on Windows
        return
    resource.setrlimit(resource.RLIMIT_AS, (megabytes << 20, megabytes << 20))
