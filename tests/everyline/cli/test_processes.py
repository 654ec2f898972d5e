"""--workers and --scheduler as a user meets them: what is refused, what is told while waiting, what is lost."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from everyline.big import cluster as cluster_module
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
    monkeypatch.setattr(cluster_module, "SECONDS_TO_CONNECT", 1)
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
