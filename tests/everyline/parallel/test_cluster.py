"""Parts written by several processes: the same bytes for any number of them, and when one is lost."""

from __future__ import annotations

import os
import signal
import socket
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest
from distributed import Client, LocalCluster
from distributed.comm.addressing import parse_host_port

from everyline.corpora.errors import InputError
from everyline.parallel import scheduler
from everyline.parallel.cluster import Cluster, cores, on_cluster, pack
from everyline.parallel.parquet import export
from tests.everyline.parallel.folders import files
from tests.spaces import PICKUPS, rules

RULES = rules(PICKUPS)
RANGE = {"first": 2_000_000, "last": 2_399_999, "part_lines": 25_000}


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """What one process writes."""
    folder = tmp_path_factory.mktemp("one") / "whole"
    export(RULES, folder, **RANGE)
    return files(folder)


def test_two_processes_write_what_one_does(whole: dict[str, str], tmp_path: Path) -> None:
    with Cluster(workers=2) as cluster:
        export(RULES, tmp_path / "all", **RANGE, runner=on_cluster(cluster))
    assert files(tmp_path / "all") == whole
    # With nothing left to do no process is started.
    with Cluster("tcp://127.0.0.1:1") as nowhere:
        export(RULES, tmp_path / "all", **RANGE, runner=on_cluster(nowhere))


def test_a_run_that_is_stopped_leaves_no_part_half_written(tmp_path: Path) -> None:
    """Its other process is in the middle of one when the first part is there."""

    def stop(done: int, of: int) -> None:
        if done:
            raise KeyboardInterrupt

    with Cluster(workers=2) as cluster, pytest.raises(KeyboardInterrupt):
        export(RULES, tmp_path / "all", **RANGE, runner=on_cluster(cluster), progress=stop)
    assert not list((tmp_path / "all").glob(".*"))


def test_a_cluster_that_is_there_already_and_a_process_lost_on_the_way(
    whole: dict[str, str], tmp_path: Path
) -> None:
    folder = tmp_path / "all"
    with (
        LocalCluster(
            n_workers=2, threads_per_worker=1, dashboard_address="127.0.0.1:0", silence_logs="CRITICAL"
        ) as cluster,
        Client(cluster, set_as_default=False) as client,
    ):
        processes = list(client.run(os.getpid).values())
        killed: list[int] = []

        def kill() -> None:
            while not list(folder.glob("part-*")):
                time.sleep(0.01)
            os.kill(processes[0], signal.SIGKILL)
            killed.append(processes[0])

        killer = threading.Thread(target=kill)
        killer.start()
        with Cluster(cluster.scheduler_address) as ours:
            export(RULES, folder, **RANGE, runner=on_cluster(ours))
        killer.join()
    assert killed
    assert files(folder) == whole


def test_no_cluster_at_the_address(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(scheduler, "SECONDS_TO_CONNECT", 1)
    with Cluster("tcp://127.0.0.1:1") as nowhere, pytest.raises(InputError, match="no scheduler answers"):
        _ = nowhere.processes


def test_something_else_at_the_address(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(scheduler, "SECONDS_TO_CONNECT", 1)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        address = f"tcp://127.0.0.1:{silent.getsockname()[1]}"
        with Cluster(address) as other, pytest.raises(InputError, match="no scheduler answers"):
            other.connect()


def test_an_encrypted_address_without_keys_is_refused() -> None:
    with Cluster("tls://127.0.0.1:1") as locked, pytest.raises(InputError, match="TLS"):
        locked.connect()


@pytest.mark.parametrize(
    "address",
    (
        *("", "foo", "http://127.0.0.1:9", "tcp://127.0.0.1", "tcp://:8786", "tcp://machine:0"),
        *("tcp://machine:65536", "tcp://machine:port", "tcp://machine:8786/x", "a b:8786", "::1:8786"),
    ),
)
def test_what_is_no_address_is_refused_at_once(address: str) -> None:
    with pytest.raises(InputError, match=r"is no address of a scheduler; write .*tcp://machine:8786"):
        Cluster(address)


@pytest.mark.parametrize("scheme", ["", *(f"{each}://" for each in scheduler.SCHEMES)])
@pytest.mark.parametrize("machine", ["127.0.0.1", "[::1]", "node-7.example"])
def test_addresses_that_the_library_reads_are_taken(scheme: str, machine: str) -> None:
    host, port = parse_host_port(f"{scheme}{machine}:8786")
    assert (host, port) == (machine.strip("[]"), 8786)
    assert Cluster(f"{scheme}{machine}:8786").scheduler == f"{scheme}{machine}:8786"


def test_numbers_of_processes_follow_the_cores() -> None:
    count = cores()
    Cluster(workers=4 * count)
    for number, words in ((0, "give 1 or more"), (4 * count + 1, f"{count} core.* from 1 to {4 * count},")):
        with pytest.raises(InputError, match=f"{number} processes .*{words}"):
            Cluster(workers=number)
    with pytest.raises(InputError, match="leave out --workers or --scheduler"):
        Cluster("tcp://machine:8786", workers=1)


def test_a_task_carries_the_rules_and_not_the_diagram() -> None:
    RULES.note((0, 60, 240))
    assert len(pack(replace(RULES))) < 40_000
    assert pack(replace(RULES)) == pack(rules(PICKUPS))
