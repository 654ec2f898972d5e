"""Runs a constraint solver so that Ctrl-C and limits of time and memory are felt while it searches."""

from __future__ import annotations

from threading import Event, Thread
from typing import Any

LOOK = 0.05
"""Seconds from one request to stop to the next; one that comes before the search has begun is not heard."""


def run(solver: Any, model: Any, found: Any = None) -> Any:
    """The status of ``solver.solve``. ``found`` is called at each solution, in another thread.

    Python handles signals in its main thread alone, and only between two steps of its own. So the search has
    a thread to itself. The solver's own handler of Ctrl-C is switched off: afterwards it leaves the signal
    as the system has it, which ends the process without a word.
    """
    solver.parameters.catch_sigint_signal = False
    status: list[Any] = []
    failure: list[BaseException] = []
    # Events of our own: a join that was interrupted takes the thread for ended (Python 3.11).
    begun, given_up, ended = Event(), Event(), Event()

    def search() -> None:
        begun.set()
        try:
            if not given_up.is_set():
                status.append(solver.solve(model, found))
        except BaseException as error:
            failure.append(error)
        finally:
            ended.set()

    try:
        Thread(target=search, name="constraint solver", daemon=True).start()
        ended.wait()
    except BaseException:
        given_up.set()
        while begun.is_set() and not ended.wait(LOOK):
            solver.stop_search()
        raise
    if failure:
        raise failure[0]
    return status[0]
