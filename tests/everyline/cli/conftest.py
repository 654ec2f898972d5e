"""Running the real command line, as a process of its own or inside the test's."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from everyline.cli.main import main

RULES = """
changes = "Dm7 | G7 | Cmaj7"
[range]
lowest = "E3"
highest = "E5"
[arpeggio]
turns = 0
[approach]
figures = ["enclosure-2", "enclosure-3"]
count = ["1", "0"]
[ending]
use = ["plain", "rise", "fall"]
[[endings]]
name = "rise"
notes = "#5 b9' 1 b7 | 5"
[[endings]]
name = "fall"
notes = "b9 1 b7 5 | 3 1"
rhythm = "8 8 8 8 | 8 4."
"""


class Answer(NamedTuple):
    """What a run gave."""

    code: int
    out: str
    err: str


@pytest.fixture
def rule_file(tmp_path: Path) -> Path:
    """A rule file of 1758 lines."""
    path = tmp_path / "two-five-one.toml"
    path.write_text(RULES)
    return path


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Callable[..., Answer]:
    """Run a command inside this process: fast, everything but the interpreter's start and end."""

    def call(*words: object) -> Answer:
        code = main([str(word) for word in words])
        captured = capsys.readouterr()
        return Answer(code, captured.out, captured.err)

    return call


@pytest.fixture
def program() -> Callable[..., Answer]:
    """Run a command as a user does, in a process of its own."""

    def call(*words: object, **more: object) -> Answer:
        command = [sys.executable, "-m", "everyline.cli.main", *map(str, words)]
        done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False, **more)  # type: ignore[call-overload]
        return Answer(done.returncode, done.stdout, done.stderr)

    return call


@pytest.fixture
def refused(run: Callable[..., Answer]) -> Callable[..., str]:
    """Run a command that must be refused: exit 2, one sentence on standard error, nothing else."""

    def call(*words: object) -> str:
        answer = run(*words)
        assert answer.code == 2, answer
        assert answer.out == ""
        assert answer.err.startswith("everyline: ")
        assert answer.err.count("\n") == 1
        assert "Traceback" not in answer.err
        return answer.err

    return call
