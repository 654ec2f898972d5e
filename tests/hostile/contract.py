"""What holds for every command line: a code of the rule book, one sentence where it is refused, and nothing
half there."""

from __future__ import annotations

import _thread
import io
import os
import sys
import threading
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from everyline.cli.main import main
from everyline.cli.messages import plain
from tests.hostile.commands import Case

CODES = (0, 1, 2, 3)
LONGEST = 20.0
"""Seconds of one core after which work that has said nothing counts as hanging."""
WAITED = 240.0
"""Seconds after which whatever still goes on counts as hanging, working or not."""


def broken(case: Case, folder: Path) -> str:
    """Run a command line in a folder; answers what of the contract did not hold, or nothing."""
    case.lay_out(folder)
    home = Path.cwd()
    os.chdir(folder)
    try:
        before = _contents(folder)
        with _watched() as late, warnings.catch_warnings():
            warnings.simplefilter("ignore")
            code, out, err = _run(case.words)
        if late:
            return f"worked longer than {LONGEST:g} seconds without a word"
        return _fault(code, out, err) or _left(before, folder, code)
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
    """Interrupts what works too long without a word, as Ctrl-C would. Time is that of this process: a busy
    machine makes no work longer."""
    late: list[bool] = []
    over = threading.Event()

    def watch() -> None:
        begun, spent, told = time.monotonic(), time.process_time(), 0
        while not over.wait(0.2):
            said = sys.stderr.buffer.tell() if isinstance(sys.stderr, io.TextIOWrapper) else 0
            if said != told:
                spent, told = time.process_time(), said
            if time.process_time() - spent > LONGEST or time.monotonic() - begun > WAITED:
                late.append(True)
                _thread.interrupt_main()
                return

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    try:
        yield late
    finally:
        over.set()
        watcher.join()


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


def _contents(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and not path.is_symlink()
    }


def _left(before: dict[str, bytes], folder: Path, code: int) -> str:
    """Whatever is half there; where the input was refused, anything at all that is not as it was."""
    there = _contents(folder)
    hidden = [
        name
        for name in there
        if name.endswith(("-journal", "-wal")) or (name.endswith(".part") and Path(name).name.startswith("."))
    ]
    if hidden:
        return f"left {hidden}"
    new = there.keys() - before.keys()
    if code == 2 and new:
        return f"refused, and left {sorted(new)[:5]}"
    changed = [name for name, data in before.items() if there.get(name) != data]
    if code == 2 and changed:
        return f"refused, and changed {changed[:5]}"
    return ""
