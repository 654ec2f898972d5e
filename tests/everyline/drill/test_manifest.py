"""Manifests that somebody has edited, and files that are none: one sentence each, with the row."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from everyline.cli.main import main
from everyline.corpora.errors import InputError
from everyline.drill.choose import choose
from everyline.drill.sources import sources_of
from everyline.drill.spec import Spec
from everyline.drill.write import DrillSet, from_manifest
from tests.spaces import CORPUS

Rows = list[Any]


@pytest.fixture(scope="module")
def rows(tmp_path_factory: pytest.TempPathFactory) -> Rows:
    """The rows of a sound manifest."""
    folder = tmp_path_factory.mktemp("manifest") / "set"
    spec = Spec(("first-enclosure",), 3, formats=("text",))
    sources = sources_of(spec, CORPUS)
    DrillSet(spec, sources, choose(spec, sources)).write(folder)
    return [json.loads(row) for row in (folder / "manifest.jsonl").read_text().splitlines()]


def with_(place: int, key: str, value: Any) -> Any:
    """Rows of which one has another value under a key; dots lead into tables."""

    def change(rows: Rows) -> Rows:
        table = rows[place]
        *path, last = key.split(".")
        for step in path:
            table = table[next(iter(table)) if step == "*" else step]
        if value is ...:
            del table[last]
        else:
            table[last] = value
        return rows

    return change


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (with_(0, "drill", 2), "row 1, drill = 2"),
        (with_(0, "drill", ...), "row 1: the key drill is missing"),
        (with_(0, "exercises", "3"), 'row 1, exercises = "3": it must be a whole number'),
        (with_(0, "exercises", 2), "row 4: row 1 states 2 exercises, and here is one more"),
        (with_(0, "exercises", 4), "row 1 states 4 exercises, and 3 are there"),
        (with_(0, "exercises", 10**9), "row 1, exercises = 1000000000"),
        (with_(0, "description", []), "row 1: the key description is missing"),
        (with_(0, "description", "week 3"), 'row 1, description = "week 3": it must be a table'),
        (
            with_(0, "description.lines", "many"),
            'description, lines = "many": it must be a whole number',
        ),
        (with_(0, "description.kinds", "play"), "in square brackets"),
        (with_(0, "description.line", 4), 'Did you mean "lines"'),
        (with_(0, "rules", {}), "row 2, rules = .*: row 1 holds no rules of that fingerprint"),
        (with_(0, "rules", 7), "row 1, rules = 7: it must be a table"),
        (with_(0, "rules.*", 7), "7 is not a table of keys"),
        (with_(0, "rules.*.key", 7), "key = 7: it must be a key, such as .*, written in quotation marks"),
        (with_(0, "rules.*.tables", ...), "the key tables is missing"),
        (with_(0, "rules.*.tables", {"changes": 5}), "changes = 5"),
        (with_(0, "remarks", [7]), r"remarks = \[7\]"),
        (with_(0, "colour", "red"), 'there is no key "colour" here'),
        (with_(1, "number", 0), "row 2, number = 0: it takes a whole number of at least 1"),
        (with_(1, "number", -1), "row 2, number = -1"),
        (with_(2, "number", 10**12), r"row 3, number = 1000000000000: its rules have lines 1 to \d+\."),
        (with_(2, "number", 1.5), "row 3, number = 1.5"),
        (with_(3, "number", ...), "row 4: the key number is missing"),
        (with_(3, "rules", "none"), 'row 4, rules = "none"'),
        (lambda rows: [rows[0], *rows[2:], [1]], r"row 4: \[1\] is not a table of keys"),
        (lambda rows: [], "is empty"),
        (lambda rows: [7], "7 is not a table of keys"),
        (lambda rows: [None, *rows], "row 1: null is not a table of keys"),
    ],
)
def test_what_is_wrong_in_a_manifest(rows: Rows, tmp_path: Path, change: Any, says: str) -> None:
    path = tmp_path / "manifest.jsonl"
    changed = change(json.loads(json.dumps(rows)))
    path.write_text("".join(json.dumps(row) + "\n" for row in changed))
    with pytest.raises(InputError, match=says):
        from_manifest(path, CORPUS)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"\xff\xfe", "not text in UTF-8"),
        (b"{\n", "row 1: not JSON"),
        (b"[" * 200_000, "row 1: not JSON"),
        (b'{"drill": ' + b"1" * 100_000 + b"}", "row 1: a number of 100000 digits is too long"),
        (b"\0" * 5_000_000, "row 1: longer than 4000000 characters"),
    ],
)
def test_files_that_are_no_manifest(tmp_path: Path, data: bytes, says: str) -> None:
    (tmp_path / "manifest.jsonl").write_bytes(data)
    with pytest.raises(InputError, match=says):
        from_manifest(tmp_path / "manifest.jsonl", CORPUS)


@pytest.mark.parametrize("command", [("sheet", "--to", "x.pdf"), ("export", "--to", "x.mid"), ("drill",)])
def test_every_command_that_reads_one_gives_one_sentence(
    rows: Rows, tmp_path: Path, capsys: pytest.CaptureFixture[str], command: tuple[str, ...], monkeypatch: Any
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "set").mkdir()
    path = tmp_path / "set" / "manifest.jsonl"
    path.write_text(json.dumps(rows[0]) + '\n{"rules": [], "number": 0}\n')
    words = ["--rebuild", str(path), "--output", "again"] if command == ("drill",) else ["set", *command[1:]]
    assert main([command[0], *words]) == 2
    captured = capsys.readouterr()
    assert "row 2, rules = []" in captured.err and captured.err.count("\n") == 1
    assert sorted(each.name for each in tmp_path.iterdir()) == ["set"]


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="a device of Unix")
def test_a_device_without_an_end_is_not_read_for_ever() -> None:
    with pytest.raises(InputError, match="row 1: longer than 4000000 characters"):
        from_manifest(Path("/dev/zero"), CORPUS)
