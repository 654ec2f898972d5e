"""The command ``why``: words, rows, exit codes."""

from __future__ import annotations

import json

import pytest

from everyline.cli.main import main

SHORT = ["--changes", "Dm7 G7 | Cmaj7", "--lowest", "A3", "--highest", "C5", "--endings", "plain"]


def test_nothing_left_is_exit_code_1_and_explained(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = [*SHORT, "--figures", "chromatic-below", "--start", "E4"]
    assert main(["count", *arguments]) == 1
    capsys.readouterr()
    assert main(["why", *arguments]) == 1
    out = capsys.readouterr().out
    assert out.startswith("There is no line.")
    assert "entry.start" in out and "brings lines back" in out
    assert main(["why", *arguments, "--format", "jsonl"]) == 1
    rows = [json.loads(row) for row in capsys.readouterr().out.splitlines()]
    assert rows[0]["row"] == "lines" and rows[0]["count"] == 0
    assert {row["row"] for row in rows} == {"lines", "exclusion", "remedy"}
    assert all(row["count"] > 0 for row in rows if row["row"] == "remedy")


def test_costs_of_a_set_with_lines(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["count", *SHORT]) == 0
    count = int(capsys.readouterr().out)
    assert main(["why", *SHORT, "--format", "jsonl"]) == 0
    rows = [json.loads(row) for row in capsys.readouterr().out.splitlines()]
    assert rows[0]["count"] == count
    assert all(row["without"] >= count for row in rows[1:])
    assert main(["why", *SHORT]) == 0
    assert "by default" in capsys.readouterr().out


def test_most_must_be_a_number_above_0(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["why", *SHORT, "--most", "0"]) == 2
    assert "--most 0" in capsys.readouterr().err
