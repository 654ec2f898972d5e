"""Processes of this machine: nobody else can speak to them, and they go with whoever started them."""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
import time
from multiprocessing import spawn
from multiprocessing.connection import Connection
from pathlib import Path

import psutil
import pytest

from everyline.parallel import failures
from everyline.parallel.cluster import Cluster, in_order
from everyline.parallel.failures import ClusterFailed, ProcessesLost
from everyline.parallel.processes import undisturbed
from tests.sweeps import sweep

OWN = """
import time

def slow(line):
    time.sleep(0.01)
    return True
"""


def square(number: int) -> int:
    """A number times itself, a little later for even ones."""
    time.sleep(0.01 * (number % 2 == 0))
    return number * number


def ends(number: int) -> int:
    """Ends its process on 3."""
    if number == 3:
        os._exit(9)
    return number


class Odd(Exception):
    """An exception that does not travel."""

    def __init__(self, one: int, two: int) -> None:
        super().__init__("odd")
        self.hook = lambda: (one, two)


def fails(kind: str) -> None:
    """Raises what is asked for."""
    raise {
        "memory": MemoryError(),
        "system": OSError(28, "x", "a.txt"),
        "odd": Odd(1, 2),
        "exit": SystemExit(3),
    }[kind]


def _children() -> list[psutil.Process]:
    return psutil.Process().children(recursive=True)


def _sockets(of: set[int]) -> set[tuple[object, object]]:
    return {
        (each.laddr, each.raddr) for each in psutil.net_connections("all") if each.pid in of and each.laddr
    }


def test_no_socket_is_open_while_they_work() -> None:
    # Other tests may have left a server running, which is none of these processes.
    others, own = {each.pid for each in _children()}, {os.getpid()}
    before = _sockets(own)
    with Cluster(workers=2) as cluster:
        answers = in_order(cluster, [(square, number) for number in range(40)])
        assert next(answers) == 0
        workers = {each.pid for each in _children()} - others
        assert len(workers) >= 2
        assert not _sockets(workers | own) - before
        assert list(answers) == [number * number for number in range(1, 40)]
    left = [each for each in _children() if each.pid not in others]
    assert all("resource_tracker" in " ".join(each.cmdline()) for each in left)


@pytest.mark.parametrize(
    ("kind", "says"),
    [
        ("memory", "the memory of a process was not enough"),
        ("system", "a.txt: No space left on device"),
        ("odd", "a process failed"),
        ("exit", "a process failed"),
    ],
)
def test_what_a_task_raises_is_one_sentence(kind: str, says: str) -> None:
    with Cluster(workers=1) as cluster, pytest.raises(ClusterFailed, match=says):
        list(in_order(cluster, [(fails, kind)]))


def test_a_task_that_ends_its_processes_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(failures, "MOST_LOST", 3)
    with Cluster(workers=2) as cluster, pytest.raises(ProcessesLost, match="3 processes were lost"):
        list(in_order(cluster, [(ends, number) for number in range(6)]))


def test_work_that_is_left_in_the_middle_does_not_answer_later() -> None:
    with Cluster(workers=2) as cluster:
        first = in_order(cluster, [(square, number) for number in range(2, 40)])
        assert next(first) == 4
        first.close()  # type: ignore[attr-defined]
        assert list(in_order(cluster, [(square, number) for number in (7, 8, 9)])) == [49, 64, 81]


SIGNALS = [signal.SIGINT, signal.SIGKILL, signal.SIGTERM, signal.SIGHUP]


@pytest.mark.skipif(os.name != "posix", reason="signals of Unix")
@pytest.mark.parametrize("number", SIGNALS[: sweep(small=2, full=4)])
@pytest.mark.parametrize("started", [1, 3])
def test_they_go_with_whoever_started_them(number: signal.Signals, started: int, tmp_path: Path) -> None:
    """Ended while they start, or at work; SIGINT goes to all, as a terminal sends it."""
    (tmp_path / "own.py").write_text(OWN)
    words = ["count", "--changes", "Dm7 | G7 | Cmaj7", "--start", "D4", "--workers", "2"]
    words += ["--look-at", "10000000", "--own-rule", f"{tmp_path}/own.py:slow", "--allow-python"]
    command = [sys.executable, "-m", "everyline", *words]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True, start_new_session=True) as run:
        family: list[psutil.Process] = []
        while len(family) < started and run.poll() is None:
            family = psutil.Process(run.pid).children(recursive=True)
            time.sleep(0.01)
        os.killpg(run.pid, number) if number == signal.SIGINT else run.send_signal(number)
        _, said = run.communicate(timeout=60)
    _, alive = psutil.wait_procs(family, 30)
    assert not alive
    if number == signal.SIGKILL:
        assert run.returncode == -number
    else:
        assert "Traceback" not in said
        assert run.returncode == 130
        assert said.endswith("everyline: stopped.\n")


def tell_what_waits(pipe: Connection) -> None:
    """The signals that are blocked where a process begins."""
    pipe.send(sorted(signal.pthread_sigmask(signal.SIG_BLOCK, ())))


FIRST = """
from multiprocessing import get_context
from everyline.parallel.processes import undisturbed
from tests.everyline.parallel.test_processes import tell_what_waits

spawn = get_context("spawn")
ours, theirs = spawn.Pipe()
with undisturbed():
    spawn.Process(target=tell_what_waits, args=(theirs,)).start()
print(*ours.recv())
"""


@pytest.mark.skipif(os.name != "posix", reason="signals of Unix")
def test_the_first_process_is_deaf_to_signals_until_it_is_ready() -> None:
    """With the first one, multiprocessing starts a process of its own and lets signals through after that."""
    found = subprocess.run([sys.executable, "-c", FIRST], capture_output=True, text=True, check=True)
    assert set(map(int, found.stdout.split())) >= {signal.SIGINT, signal.SIGTERM, signal.SIGHUP}


@pytest.mark.skipif(os.name != "posix", reason="limits of Unix")
def test_too_few_file_handles_are_one_sentence(tmp_path: Path) -> None:
    import resource

    (tmp_path / "own.py").write_text("def all(line):\n    return True\n")
    words = ["count", "--changes", "Dm7 | G7", "--start", "D4", "--endings", "plain", "--workers", "2"]
    words += ["--own-rule", f"{tmp_path}/own.py:all", "--allow-python"]
    done = subprocess.run(
        [sys.executable, "-m", "everyline", *words],
        capture_output=True,
        text=True,
        check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_NOFILE, (7, 7)),
    )
    assert done.returncode in (2, 3)
    assert done.stderr.count("\n") == 2  # that Python runs, and that
    assert "Too many open files" in done.stderr


@pytest.mark.skipif(os.name != "posix", reason="descriptors are handed on as on Unix")
@pytest.mark.parametrize("told", [b"", pickle.dumps({"sys_path": sys.path})[:-9]], ids=["nothing", "a part"])
def test_a_process_whose_parent_is_killed_before_it_is_told_what_to_do_says_nothing(told: bytes) -> None:
    reading, writing = os.pipe()
    os.write(writing, told)
    os.close(writing)
    with undisturbed():
        command = spawn.get_command_line(tracker_fd=reading, pipe_handle=reading)
    ended = subprocess.run(
        [sys.executable, *command[1:]], pass_fds=[reading], capture_output=True, text=True, timeout=60
    )
    os.close(reading)
    assert (ended.stdout, ended.stderr) == ("", "")
