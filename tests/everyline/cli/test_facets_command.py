"""The command ``facets``: its table, its rows, its exit codes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from everyline.cli.facets import bar, share_of
from everyline.cli.main import main
from everyline.solver.facets import KINDS

FILE = """
changes = "Dm7 | G7 | Cmaj7"
[arpeggio]
turns = 0
[approach]
figures = ["enclosure-2", "enclosure-3"]
count = ["1", "0"]
[ending]
use = ["low", "high"]
[[endings]]
name = "low"
notes = "b9 1 b7 5 | 3 1"
rhythm = "8 8 8 8 | 8 4."
[[endings]]
name = "high"
notes = "#5 b9' 1 b7 | 5"
"""


@pytest.fixture
def file(tmp_path: Path) -> str:
    path = tmp_path / "rules.toml"
    path.write_text(FILE)
    return str(path)


def test_rows_hold_every_kind_and_the_right_counts(file: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["facets", file, "--format", "jsonl"]) == 0
    rows = [json.loads(row) for row in capsys.readouterr().out.splitlines()]
    assert {row["facet"] for row in rows} == set(KINDS)
    assert main(["count", file, "--start", "D4"]) == 0
    count = int(capsys.readouterr().out)
    assert [row["count"] for row in rows if (row["facet"], row["value"]) == ("start-note", "D4")] == [count]


def test_table_of_one_facet(file: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["facets", file, "--only", "ending", "--only", "start-degree"]) == 0
    out = capsys.readouterr().out
    titles = [row.split(":")[0] for row in out.splitlines() if ":" in row and not row.startswith(" ")]
    assert titles == ["start-degree", "ending"]
    rows = [row.split() for row in out.splitlines() if row.startswith("  ")]
    assert ["low", "1758", "100.0", "%", "█" * 30] in rows
    assert "high" in {row[0] for row in rows}, "an ending that no line has is told"


def test_no_line_is_exit_code_1(file: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["facets", file, "--start", "E3", "--figures", "chromatic-below"]) == 1
    captured = capsys.readouterr()
    assert captured.out == "" and "no line" in captured.err


def test_unknown_facet_names_the_nearest(file: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["facets", file, "--only", "endin"]) == 2
    assert 'Did you mean "ending"?' in capsys.readouterr().err


@pytest.mark.parametrize(
    ("part", "whole", "text"),
    [(0, 5, "0.0"), (5, 5, "100.0"), (1, 3, "33.3"), (1, 10**9, "<0.1"), (10**9 - 1, 10**9, ">99.9")],
)
def test_shares_never_round_to_nothing_or_all(part: int, whole: int, text: str) -> None:
    assert share_of(part, whole) == text
    assert bool(bar(part, whole)) == bool(part)
