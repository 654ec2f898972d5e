"""Parts written by several processes: the same bytes for any number of them, and when one is lost."""

from __future__ import annotations

import os
import signal
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest
from distributed import Client, LocalCluster

from corpora.errors import InputError
from everyline.big import cluster as cluster_module
from everyline.big.cluster import Cluster, on_cluster, pack
from everyline.big.export import export
from tests.everyline.big.folders import files
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
    monkeypatch.setattr(cluster_module, "SECONDS_TO_CONNECT", 1)
    with Cluster("tcp://127.0.0.1:1") as nowhere, pytest.raises(InputError, match="no scheduler answers"):
        _ = nowhere.client
    with pytest.raises(InputError, match="0 processes cannot work"):
        Cluster(workers=0)


def test_a_task_carries_the_rules_and_not_the_diagram() -> None:
    RULES.note((0, 60, 240))
    assert len(pack(replace(RULES))) < 40_000
    assert pack(replace(RULES)) == pack(rules(PICKUPS))
