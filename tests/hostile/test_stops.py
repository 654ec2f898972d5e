"""Runs that are stopped at random moments: by signals, by a disk that is full, by whoever reads going away.

Nothing is half there, no process is left, and the same command afterwards gives the bytes of one run.
``EVERYLINE_STOPS=50`` makes fifty rounds of each.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import psutil
import pytest

from tests.hostile.files import NAMES, sound
from tests.sweeps import sweep

if os.name != "posix":
    pytest.skip("signals and limits of Unix", allow_module_level=True)

import resource

ROUNDS = int(os.environ.get("EVERYLINE_STOPS", "0")) or 1
"""Rounds of stops for each command line and each way to stop it."""
STOPPED: dict[str, str] = {
    "drilled": "drill --rules first-enclosure --lines 100 --kinds complete slip --output drilled",
    "drill.html": "drill --rules first-enclosure --lines 3 --output drill.html",
    "x.parquet": "export first-enclosure --numbers 1-1200 --part-lines 100 --to x.parquet",
    "x.musicxml": "export first-enclosure --numbers 1-40 --to x.musicxml",
    "x.jsonl": "list first-enclosure --most 500 --format jsonl --output x.jsonl",
    "sheet.pdf": "sheet first-enclosure --numbers 1-6 --to sheet.pdf",
    "sheet.html": "sheet first-enclosure --numbers 1-6 --to sheet.html",
    "chorus.mid": "chorus plan.toml --most 8 --to chorus.mid",
    "mine.toml": "learn --changes Cmaj7|G7|Cmaj7 --name mine --output mine.toml Ab4 G4 | E4",
    "kept.toml": "lesson kept.toml --keep first-enclosure --number 3",
    "lesson.html": "lesson lesson.toml --to lesson.html",
    "folder.json": "student Ada export folder.json --file students.db",
    "students.db": "student Ada give rules.toml --numbers 2 3 4 --on 2026-11-27 --file students.db",
    "week.ics": "plan student.json --begin 2026-12-07 --to week.ics",
}
"""Command lines that write, by what they write."""
SOME = list(STOPPED)[:: sweep(4, 1)]
GONE_ON_WITH = ("drilled", "x.parquet")
ADDED_TO = ("mine.toml", "kept.toml", "students.db")
"""What a second run adds to, or refuses to add to, and does not make anew."""
OF_THE_DAY = ("week.ics", "folder.json", "sheet.pdf")
"""What may hold the moment at which it was made."""
DONE = {False: (0, 2), True: (0, 1)}
"""Exit codes of what is done, or was done already: a line that a student has is an answer, and no mistake."""
ENDING = tuple(signal.Signals[name] for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGKILL"))


def contents(place: Path) -> dict[str, bytes]:
    """The bytes of a file, or of all files of a folder, by name."""
    if place.is_file():
        return {"": place.read_bytes()}
    return {str(each.relative_to(place)): each.read_bytes() for each in place.rglob("*") if each.is_file()}


def lay_out(folder: Path) -> Path:
    """A folder with the files that commands read."""
    for name in NAMES:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(sound(name, random.Random(1)))
    return folder


def words(written: str) -> list[str]:
    """The command line that writes a file."""
    return [sys.executable, "-m", "everyline", *STOPPED[written].split()]


@cache
def whole(written: str) -> tuple[dict[str, bytes], dict[str, bytes], float]:
    """What is there before, what one run that nobody stops makes of it, and the seconds it takes."""
    with TemporaryDirectory() as folder:
        place = lay_out(Path(folder)) / written
        before = contents(place)
        begun = time.monotonic()
        done = subprocess.run(words(written), cwd=folder, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        return before, contents(place), time.monotonic() - begun


def check_state(written: str, folder: Path, swept: bool) -> None:
    """Nothing half there: what is written is as it was before or as one run makes it."""
    if swept:
        left = [path for path in folder.rglob("*") if path.name.startswith(".") and path.suffix == ".part"]
        assert not left
    if written in GONE_ON_WITH or written in OF_THE_DAY:
        return
    before, after, _ = whole(written)
    now = contents(folder / written)
    if written == "students.db":
        return  # its bytes tell the moment; the runs afterwards read it
    if written in ADDED_TO and now:
        assert now[""].startswith(after[""])
        return
    assert now in (before, after)


def check_going_on(written: str, folder: Path) -> None:
    """The same command once more ends well, and gives what one run gives."""
    done = subprocess.run(words(written), cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode in DONE[written == "students.db"], done.stderr
    if written not in OF_THE_DAY and written not in ADDED_TO:
        assert contents(folder / written) == whole(written)[1]
    if written == "students.db":
        shown = [sys.executable, "-m", "everyline", "student", "Ada", "show", "--file", "students.db"]
        assert subprocess.run(shown, cwd=folder, capture_output=True, check=False).returncode == 0


@pytest.mark.slow
@pytest.mark.parametrize("written", SOME)
def test_signals_at_any_moment(written: str, tmp_path: Path) -> None:
    """All rounds happen in one folder, so that each finds what the stops before it left."""
    lay_out(tmp_path)
    killed = False
    for turn in range(ROUNDS):
        chance = random.Random(f"{written} {turn}")
        for number in chance.sample(ENDING, len(ENDING) if ROUNDS > 1 else 1):
            with subprocess.Popen(words(written), cwd=tmp_path, stderr=subprocess.PIPE, text=True) as run:
                time.sleep(chance.uniform(0.1, 1.1 * whole(written)[2]))
                family = psutil.Process(run.pid).children(recursive=True) if run.poll() is None else []
                run.send_signal(number)
                _, said = run.communicate(timeout=120)
            # 2: it was done already. The signal itself: it came before there was a program. SIGINT is what
            # Python makes of 130 where it was interrupted in code that it was given as text; shells call both
            # 130.
            ends = (*DONE[written == "students.db"], 130, -number, -signal.SIGINT)
            assert run.returncode in ends, said
            assert run.returncode != 130 or said.endswith("everyline: stopped.\n")
            assert not psutil.wait_procs(family, 20)[1]
            killed = killed or number == signal.SIGKILL  # whom nobody asks cannot clean up
            check_state(written, tmp_path, swept=not killed)
    check_going_on(written, tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("written", SOME)
def test_a_full_disk_at_any_byte(written: str, tmp_path: Path) -> None:
    """No file may grow beyond so many bytes; what is written then fails as on a full disk."""
    lay_out(tmp_path)
    sizes = [len(data) for data in whole(written)[1].values()]
    for turn in range(ROUNDS):
        chance = random.Random(f"full {written} {turn}")
        most = chance.randrange(max(sizes))

        def bounded(most: int = most) -> None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))

        done = subprocess.run(
            words(written), cwd=tmp_path, capture_output=True, text=True, check=False, preexec_fn=bounded
        )
        assert done.returncode in (0, 1, 2, 3) and "Traceback" not in done.stderr, done.stderr
        assert "bug in Everyline" not in done.stderr, done.stderr
        assert done.returncode == 0 or done.stderr.splitlines()[-1].startswith("everyline: "), done.stderr
        check_state(written, tmp_path, swept=True)
    check_going_on(written, tmp_path)


READ = (
    "list first-enclosure --most 20000",
    "list first-enclosure --most 3000 --format jsonl",
    "chorus plan.toml --most 100",
    "lesson lesson.toml",
    "student Ada show --file students.db",
    "plan student.json --begin 2026-12-07",
    "learn --changes G7|Cmaj7 Ab4 G4 | E4",
    "corpus figures",
)
"""Command lines that print."""


@pytest.mark.slow
@pytest.mark.parametrize("line", READ[:: sweep(4, 1)])
def test_a_pipe_that_is_closed(line: str, tmp_path: Path) -> None:
    lay_out(tmp_path)
    for turn in range(ROUNDS):
        chance = random.Random(f"pipe {line} {turn}")
        command = [sys.executable, "-m", "everyline", *line.split()]
        with subprocess.Popen(command, cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as run:
            assert run.stdout is not None and run.stderr is not None
            run.stdout.read(chance.choice((0, 1, 200, 5000)))
            run.stdout.close()
            said = run.stderr.read().decode()
            run.wait(120)
        assert run.returncode in (0, 2) and "Traceback" not in said, said
        assert "bug in Everyline" not in said and "Exception ignored" not in said, said
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            command, cwd=tmp_path, stdout=full, stderr=subprocess.PIPE, text=True, check=False
        )
    assert done.returncode == 3 and done.stderr.startswith("everyline: stopped: "), done.stderr
    assert done.stderr.count("\n") == 1
