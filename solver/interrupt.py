"""Runs what is not Python so that Ctrl-C and limits of time and memory are felt meanwhile, and not lost.

Python handles signals in its main thread alone, and only between two steps of its own. So the work of a
library has a thread to itself: there no signal waits for a long search to end, and none falls into a function
that the library calls back, from which an exception comes to nobody.
"""

from __future__ import annotations

from collections.abc import Callable
from threading import Event, Thread
from typing import Any, TypeVar

T = TypeVar("T")

LOOK = 0.05
"""Seconds from one request to stop to the next; one that comes before the work has begun is not heard."""


def apart(work: Callable[[], T], stop: Callable[[], object]) -> T:
    """What the work answers, done in a thread of its own; ``stop`` makes it end early."""
    answers: list[T] = []
    failure: list[BaseException] = []
    # Events of our own: a join that was interrupted takes the thread for ended (Python 3.11).
    begun, given_up, ended = Event(), Event(), Event()

    def do() -> None:
        begun.set()
        try:
            if not given_up.is_set():
                answers.append(work())
        except BaseException as error:
            failure.append(error)
        finally:
            ended.set()

    try:
        Thread(target=do, daemon=True).start()
        ended.wait()
    except BaseException:
        given_up.set()
        while begun.is_set() and not ended.wait(LOOK):
            stop()
        raise
    if failure:
        raise failure[0]
    return answers[0]


def run(solver: Any, model: Any, found: Any = None) -> Any:
    """The status of ``solver.solve``. ``found`` is called at each solution, in another thread.

    The solver's own handler of Ctrl-C is switched off: afterwards it leaves the signal as the system has it,
    which ends the process without a word.
    """
    solver.parameters.catch_sigint_signal = False
    return apart(lambda: solver.solve(model, found), solver.stop_search)
