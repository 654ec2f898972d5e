"""How far long work has come: in one line on a terminal, in few sentences elsewhere."""

from __future__ import annotations

import os
import pty
import sys
from pathlib import Path

import pytest

from everyline.cli.progress import progress


def test_a_log_gets_a_sentence_now_and_then(capsys: pytest.CaptureFixture[str]) -> None:
    tell = progress("lines written", quiet=0)
    for done in (1000, 2000, 3000):
        tell(done, 3000)
    told = capsys.readouterr().err.splitlines()
    assert told == [f"everyline: {n} 000 of 3 000 lines written." for n in (1, 2, 3)]


def test_short_work_is_done_without_a_word(capsys: pytest.CaptureFixture[str]) -> None:
    few, quick = progress("days in order", quiet=0), progress("lines written")
    for done in range(1, 11):
        few(done, 10)
        quick(1000 * done, 10_000)
    assert capsys.readouterr().err == ""


def test_a_sheet_tells_a_terminal_how_far_it_is(tmp_path: Path) -> None:
    """The real command, with a terminal as its standard error."""
    words = [sys.executable, "-m", "everyline", "sheet", "--changes", "Dm7 | G7 | Cmaj7", "--to",
             str(tmp_path / "sheet.pdf"), "--numbers", "1-30"]  # fmt: skip
    child, terminal = pty.fork()
    if child == 0:
        os.execv(words[0], words)
    shown = bytearray()
    while True:
        try:
            found = os.read(terminal, 4096)
        except OSError:  # the other end is closed
            break
        if not found:
            break
        shown += found
    os.close(terminal)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
    assert b"\reveryline: 30 of 30 exercises set\r\n" in shown
