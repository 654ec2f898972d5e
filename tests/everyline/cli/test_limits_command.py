"""The commands that show limits and run rules of one's own."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from everyline.cli.main import main
from everyline.rules.limits import LIMITS


def test_every_kind_is_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["limits"]) == 0
    out = capsys.readouterr().out
    assert all(f"{kind} " in out for kind in LIMITS)


@pytest.mark.parametrize("kind", LIMITS)
def test_each_kind_shows_keys_example_and_why(kind: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["limits", kind]) == 0
    out = capsys.readouterr().out
    row = LIMITS[kind]
    assert row.summary in out and row.example.meets in out and row.example.breaks in out
    assert all(f"  {key.name}" in out and key.help in out for key in row.keys)
    assert main(["limits", kind, "--format", "jsonl"]) == 0
    (data,) = (json.loads(text) for text in capsys.readouterr().out.splitlines())
    assert data["kind"] == kind and data["why"] and all(data["why"])


def test_unknown_kind_names_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["limits", "largest-leep"]) == 2
    assert 'Did you mean "largest-leap"?' in capsys.readouterr().err


def test_own_rules_on_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "mine.py"
    file.write_text("def low(line):\n    return line.pitches[-1] < 62\ndef bad(line):\n    return 1 / 0\n")
    short = ["--changes", "Dm7 G7 | Cmaj7", "--lowest", "A3", "--highest", "C5"]
    assert main(["count", *short]) == 0
    free = int(capsys.readouterr().out)
    assert main(["count", *short, "--own-rule", f"{file}:low"]) == 2
    assert "--allow-python" in capsys.readouterr().err
    assert main(["count", *short, "--own-rule", f"{file}:low", "--allow-python"]) == 0
    captured = capsys.readouterr()
    assert 0 < int(captured.out) < free and f"looked at {free} lines" in captured.err
    assert main(["count", *short, "--own-rule", f"{file}:low", "--allow-python", "--look-at", "5"]) == 2
    assert f"--look-at {free}" in capsys.readouterr().err
    assert main(["list", *short, "--own-rule", f"{file}:bad", "--allow-python"]) == 2
    err = capsys.readouterr().err
    assert '"bad" failed while reading the line' in err and "Traceback" not in err


PRINTING = """
print("the file is read")

def low(line):
    print("a whole line")
    return line.pitches[-1] < 62

class Step:
    def __init__(self):
        print("it is made")
    def start(self):
        print("its start")
        return 0
    def step(self, state, note):
        print("a step")
        return 0
    def content(self, state):
        print("the end")
        return True
    def describe(self):
        print("its words")
        return "anything"
    def explain(self, notes):
        print("its reason")
        return ()
"""


@pytest.mark.parametrize("kind", ["low", "Step"])
@pytest.mark.parametrize("command", ["count", "list", "why", "facets"])
def test_what_a_rule_prints_is_no_data(tmp_path: Path, capsys, kind: str, command: str) -> None:
    file = tmp_path / "mine.py"
    own = ["--own-rule", f"{file}:{kind}", "--allow-python"]
    words = [command, "--changes", "Dm7 G7 | Cmaj7", "--lowest", "A3", "--highest", "G4", *own]
    file.write_text("def print(*words): pass\n" + PRINTING)
    assert main(words) == 0
    silent = capsys.readouterr()
    assert "the file is read" not in silent.err
    file.write_text(PRINTING)
    assert main(words) == 0
    heard = capsys.readouterr()
    assert heard.out == silent.out
    assert "the file is read" in heard.err
    assert ("a whole line" if kind == "low" else "a step") in heard.err
