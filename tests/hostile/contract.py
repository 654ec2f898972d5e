"""What holds for every command line: a code of the rule book, one sentence where it is refused, and nothing
half there."""

from __future__ import annotations

import _thread
import io
import os
import sys
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from everyline.cli.main import main
from everyline.cli.messages import plain
from tests.hostile.commands import Case

CODES = (0, 1, 2, 3)
LONGEST = 20.0
"""Seconds after which work counts as hanging."""


def broken(case: Case, folder: Path) -> str:
    """Run a command line in a folder; answers what of the contract did not hold, or nothing."""
    case.lay_out(folder)
    home = Path.cwd()
    os.chdir(folder)
    try:
        with _watched() as late, warnings.catch_warnings():
            warnings.simplefilter("ignore")
            code, out, err = _run(case.words)
        if late:
            return f"worked longer than {LONGEST:g} seconds"
        return _fault(code, out, err) or _left(case, folder, code)
    finally:
        os.chdir(home)


def answer(case: Case, folder: Path) -> tuple[int, str, str]:
    """(exit code, standard output, standard error) of a command line in a folder."""
    case.lay_out(folder)
    home = Path.cwd()
    os.chdir(folder)
    try:
        return _run(case.words)
    finally:
        os.chdir(home)


def _run(words: tuple[str, ...]) -> tuple[int, str, str]:
    out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8", errors=how) for how in ("strict", "backslashreplace"))
    before = sys.stdout, sys.stderr
    os.environ["EVERYLINE_STUDENTS"] = "students.db"  # in the case's own folder, and not the user's
    sys.stdout, sys.stderr = out, err
    try:
        code = main(words)
    except SystemExit as end:  # --help
        code = int(end.code or 0)
    except BaseException as error:
        return -1, "", f"{type(error).__name__}: {error}"
    finally:
        sys.stdout, sys.stderr = before
    out.flush()
    err.flush()
    texts = []
    for stream in (out, err):
        stream.seek(0)
        texts.append(stream.read())
    return code, texts[0], texts[1]


@contextmanager
def _watched() -> Iterator[list[bool]]:
    """Interrupts what works too long, as Ctrl-C would."""
    late: list[bool] = []

    def ring() -> None:
        late.append(True)
        _thread.interrupt_main()

    timer = threading.Timer(LONGEST, ring)
    timer.start()
    try:
        yield late
    finally:
        timer.cancel()


def _fault(code: int, out: str, err: str) -> str:
    if code not in CODES:
        return f"exit code {code}: {err[-500:]}"
    if "a fault of the program" in err or "Traceback" in err:
        return err[-500:]
    sentences = err.splitlines()
    if code in (2, 3) and not (sentences and sentences[-1].startswith("everyline: ")):
        return f"exit code {code} without a sentence: {err[-500:]!r}"
    if any(plain(line) != line for line in sentences):
        return f"control characters reach the terminal: {err[-500:]!r}"
    return ""


def _left(case: Case, folder: Path, code: int) -> str:
    """Whatever is half there; where the input was refused, anything at all that was not there before."""
    there = {str(path.relative_to(folder)) for path in folder.rglob("*") if not path.is_dir()}
    hidden = [name for name in there if name.endswith(".part") and Path(name).name.startswith(".")]
    if hidden:
        return f"left {hidden}"
    new = there - set(case.files)
    if code == 2 and new:
        return f"refused, and left {sorted(new)[:5]}"
    return ""
