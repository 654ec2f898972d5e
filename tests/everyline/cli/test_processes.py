"""--workers and --scheduler as a user meets them: what is refused, told while waiting, and lost."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from distributed import Client, LocalCluster

from everyline.parallel import failures, scheduler
from tests.everyline.cli.conftest import Answer


@pytest.mark.parametrize("address", ["foo", "", "http://127.0.0.1:9"])
def test_a_bad_address_is_one_sentence_and_nothing_after_it(
    address: str, program: Callable[..., Answer], rule_file: Path, tmp_path: Path
) -> None:
    answer = program("export", rule_file, "--to", tmp_path / "out.parquet", "--scheduler", address)
    assert answer.code == 2
    assert f'"{address}" is no address of a scheduler' in answer.err
    assert answer.err.count("\n") == 1
    assert not (tmp_path / "out.parquet").exists()


@pytest.mark.parametrize("command", ["export", "drill"])
def test_nothing_is_written_where_no_scheduler_answers(
    command: str,
    refused: Callable[..., str],
    rule_file: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(scheduler, "SECONDS_TO_CONNECT", 1)
    folder = tmp_path / "out.parquet"
    words = {"export": [rule_file, "--to"], "drill": ["--rules", rule_file, "--lines", 3, "--output"]}
    said = refused(command, *words[command], folder, "--scheduler", "tcp://127.0.0.1:9")
    assert 'no scheduler answers at "tcp://127.0.0.1:9"' in said
    assert not folder.exists()


def test_processes_of_this_machine_and_a_cluster_do_not_go_together(
    refused: Callable[..., str], rule_file: Path, tmp_path: Path
) -> None:
    words = ("export", rule_file, "--to", tmp_path / "out.parquet", "--workers")
    assert "leave out --workers or --scheduler" in refused(*words, 2, "--scheduler", "tcp://127.0.0.1:9")
    assert "100000 processes are too many" in refused(*words, 100000)
    assert not (tmp_path / "out.parquet").exists()


OWN = """
import os

def ends(line):
    os._exit(9)

def holds(line):
    return True

class Here:
    def start(self):
        return 0
    def step(self, state, note):
        return os._exit(9) if os.getpid() != {} else 0
    def content(self, state):
        return True
"""


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """A file of rules in Python; two of them end the process, one only where it is not this one."""
    path = tmp_path / "own.py"
    path.write_text(OWN.replace("{}", str(os.getpid())))
    return path


def test_a_rule_that_ends_its_process_is_named(
    run: Callable[..., Answer], rule_file: Path, own: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(failures, "MOST_LOST", 2)
    words = ("count", rule_file, "--own-rule", f"{own}:ends", "--allow-python", "--time-limit", 60)
    answer = run(*words, "--workers", 2)
    assert (answer.code, answer.out) == (3, "")
    assert "stopped: 2 processes were lost" in answer.err
    assert 'the rule in Python "ends"' in answer.err and "memory" in answer.err
    assert "--part-lines" not in answer.err and "written" not in answer.err


@pytest.mark.parametrize("begun", [False, True])
def test_an_export_says_what_is_written_only_where_something_is(
    begun: bool,
    run: Callable[..., Answer],
    rule_file: Path,
    own: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(failures, "MOST_LOST", 2)
    folder = tmp_path / "out.parquet"
    words = ["export", rule_file, "--to", folder, "--part-lines", 900]
    words += ["--own-rule", f"{own}:Here", "--allow-python"]
    if begun:
        assert run(*words).code == 0
        (folder / "part-000002.parquet").unlink()
    answer = run(*words, "--workers", 1)
    assert answer.code == 3
    assert 'the rule in Python "Here"' in answer.err and "--part-lines" in answer.err
    assert ("What is written stays" in answer.err) == begun


def test_a_full_disk_in_another_process_is_a_stop(
    program: Callable[..., Answer], rule_file: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "out.parquet"

    def bounded() -> None:
        # No file may grow beyond 20 000 bytes. The processes inherit it; they write as on a full disk.
        resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))

    answer = program("export", rule_file, "--to", folder, "--workers", 1, preexec_fn=bounded)
    assert answer.code == 3
    assert (
        answer.err
        == f"everyline: stopped: {folder}/part-000001.parquet: File too large; mend that, and ask again.\n"
    )


@pytest.fixture
def empty() -> Iterator[LocalCluster]:
    """A scheduler without workers."""
    with LocalCluster(n_workers=0, dashboard_address="127.0.0.1:0", silence_logs="CRITICAL") as cluster:
        yield cluster


def test_a_cluster_without_workers_is_told_once_and_waited_for(
    empty: LocalCluster,
    run: Callable[..., Answer],
    rule_file: Path,
    own: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(scheduler, "SECONDS_TO_TELL", 0.2)
    told = threading.Event()
    watched = scheduler._watched

    def watching(client: Client, address: str, report: Callable[[str], None]) -> object:
        def tell(text: str) -> None:
            report(text)
            told.set()

        return watched(client, address, tell)

    monkeypatch.setattr(scheduler, "_watched", watching)
    starter = threading.Thread(target=lambda: (told.wait(60), empty.scale(1)))
    starter.start()
    address = empty.scheduler_address
    answer = run("count", rule_file, "--own-rule", f"{own}:holds", "--allow-python", "--scheduler", address)
    starter.join()
    assert (answer.code, answer.out) == (0, "1758\n")
    assert answer.err.count(f"the cluster at {address} has no workers") == 1
    assert f"dask worker {address}" in answer.err and "Ctrl-C" in answer.err


def test_a_scheduler_that_is_lost_is_one_sentence(
    program: Callable[..., Answer], rule_file: Path, own: Path
) -> None:
    # Without workers the work waits until the scheduler goes.
    code = (
        "from distributed import LocalCluster\n"
        "with LocalCluster(n_workers=0, processes=True, dashboard_address='127.0.0.1:0') as cluster:\n"
        "    print(cluster.scheduler_address, flush=True)\n"
        "    while not cluster.scheduler.tasks: __import__('time').sleep(0.05)\n"
        "    __import__('os')._exit(0)\n"
    )
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as scheduler:
        assert scheduler.stdout is not None
        address = scheduler.stdout.readline().strip()
        words = ("count", rule_file, "--own-rule", f"{own}:holds", "--allow-python", "--scheduler", address)
        answer = program(*words)
    assert (answer.code, answer.out) == (3, "")
    assert "stopped: the scheduler of the processes was lost" in answer.err
    assert answer.err.count("\n") == 2  # that Python runs, and that
