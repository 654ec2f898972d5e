"""The students' file: nothing is lost, nothing is there twice; what is no such file is told in a sentence."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import stat
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from everyline.corpora.errors import InputError
from everyline.practice import database
from everyline.practice.portable import folder_text
from everyline.practice.store import Store
from tests.practice_made_up import DAY, made_up_line, made_up_round
from tests.sweeps import sweep

ROOT = Path(__file__).parents[3]
KILLS, MANY = sweep(3, 50), sweep(500, 10_000)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A students' file with one student."""
    found = tmp_path / "students.db"
    with Store(found, create=True) as store:
        assert store.begin("Ada", "guitar")
    return found


def _writer(path: Path, first: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "tests.practice_made_up", str(path), str(first)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
    )


def _kill(writer: subprocess.Popen[str]) -> list[str]:
    writer.kill()
    out, _ = writer.communicate()
    # What was cut in the middle was not told.
    return out[: out.rfind("\n") + 1].splitlines()


def _holds(path: Path, told: list[str]) -> None:
    """Everything that was told is there, each once, every round on a line; the file is sound."""
    with Store(path) as store:
        student = store.student("Ada")
    lines, rounds = [line.id for line in student.lines], [each.id for each in student.rounds]
    assert {row.split()[1] for row in told} <= {*lines, *rounds}
    assert len(set(lines)) == len(lines) and len(set(rounds)) == len(rounds)
    assert [line.place for line in student.lines] == list(range(1, len(lines) + 1))
    assert {each.line for each in student.rounds} <= set(lines)
    with sqlite3.connect(path) as plain:
        assert plain.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert plain.execute("PRAGMA foreign_key_check").fetchall() == []
    plain.close()


@pytest.mark.slow
def test_killed_at_any_moment_nothing_that_was_told_is_lost(path: Path) -> None:
    """Two programs write at once; one is killed at a random moment, another begins in its place."""
    chance, told = random.Random(16), list[str]()
    steady = _writer(path, 10**6)
    try:
        for round_ in range(KILLS):
            writer = _writer(path, 1000 * round_)
            assert writer.stdout is not None
            writer.stdout.readline()  # it has begun
            threading.Event().wait(chance.random() * 0.1)
            told += _kill(writer)
            with Store(path) as store:  # whoever comes next takes half a change back
                assert store.student("Ada").lines
    finally:
        told += _kill(steady)
    assert len(told) > KILLS
    _holds(path, told)


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGKILL], ids=lambda how: how.name)
def test_a_program_that_is_ended_in_the_middle_of_a_change_leaves_the_file_as_it_was(
    path: Path, how: signal.Signals
) -> None:
    """The change is large, so that its pages are in the file before it counts."""
    with Store(path) as store:
        store.give("Ada", [made_up_line(1)])
    before = path.read_bytes()
    code = (
        "import sqlite3, sys, time\n"
        f"plain = sqlite3.connect({str(path)!r}, isolation_level=None)\n"
        "plain.execute('PRAGMA cache_size = 1')\n"
        "plain.execute('BEGIN IMMEDIATE')\n"
        "plain.execute('UPDATE line SET title = ?', ('x' * 200_000,))\n"
        "plain.execute('CREATE TABLE more (text)')\n"
        "plain.executemany('INSERT INTO more VALUES (?)', [('y' * 5000,) for _ in range(200)])\n"
        "print('half', flush=True)\n"
        "time.sleep(60)\n"
    )
    half = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
    assert half.stdout is not None and half.stdout.readline() == "half\n"
    os.kill(half.pid, how)
    half.communicate()
    assert path.read_bytes() != before, "half of the change is in the file"
    with Store(path) as store:
        assert [line.title for line in store.student("Ada").lines] == ["Line 1"]
    assert path.read_bytes() == before


def test_two_programs_that_give_lines_at_once_lose_and_double_none(path: Path) -> None:
    code = (
        "import sys\nfrom pathlib import Path\nfrom everyline.practice.store import Store\n"
        "from tests.practice_made_up import made_up_line, made_up_round\n"
        f"with Store(Path({str(path)!r})) as store:\n"
        "    for number in range(int(sys.argv[1]), int(sys.argv[1]) + 30):\n"
        "        line = made_up_line(number)\n"
        "        store.give('Ada', [line])\n"
        "        store.record('Ada', made_up_round(number, line))\n"
    )
    writers = [
        subprocess.Popen([sys.executable, "-c", code, first], cwd=ROOT) for first in ("0", "15")
    ]  # fifteen of the lines are given by both
    assert [writer.wait() for writer in writers] == [0, 0]
    _holds(path, [f"line {made_up_line(number).id}" for number in range(45)])
    with Store(path) as store:
        assert len(store.student("Ada").lines) == len(store.student("Ada").rounds) == 45


@pytest.mark.slow
def test_many_lines(path: Path, tmp_path: Path) -> None:
    lines = [made_up_line(number) for number in range(MANY)]
    with Store(path) as store:
        for first in range(0, MANY, 250):
            giving = store.give("Ada", lines[max(0, first - 50) : first + 250])
            assert giving is not None and len(giving.given) == 250
        for number in range(0, MANY, 100):
            store.record("Ada", made_up_round(number, lines[number]))
        folder = store.folder("Ada")
        assert [line.number for line in folder.student.lines] == [line.number for line in lines]
    with Store(tmp_path / "other.db", create=True) as other:
        assert other.merge(folder) == (MANY, MANY // 100)
        assert folder_text(other.folder("Ada")) == folder_text(folder)
        assert other.merge(folder) == (0, 0)


def test_what_is_given_twice_is_there_once(path: Path) -> None:
    one, two = made_up_line(1), made_up_line(2)
    with Store(path) as store:
        assert store.give("Ada", [one, one, two]) is not None
        giving = store.give("Ada", [two])
        assert giving is not None and not giving.given and giving.already[0].place == 2
        store.record("Ada", made_up_round(1, one))
        store.record("Ada", made_up_round(1, one))
        student = store.student("Ada")
        assert [line.place for line in student.lines] == [1, 2] and len(student.rounds) == 1
        with pytest.raises(InputError, match="was given no line"):
            store.record("Ada", made_up_round(2, made_up_line(3)))


def test_lines_that_were_drawn_for_another_state_of_the_folder_are_refused(path: Path) -> None:
    with Store(path) as store:
        assert store.give("Ada", [made_up_line(1)], had=[]) is not None
        assert store.give("Ada", [made_up_line(2)], had=[]) is None
        assert store.give("Ada", [made_up_line(2)], had=[made_up_line(1).tune]) is not None
        assert len(store.student("Ada").lines) == 2


def test_taking_back(path: Path) -> None:
    one, two = made_up_line(1), made_up_line(2)
    with Store(path) as store:
        with pytest.raises(InputError, match="no round"):
            store.take_back_round("Ada")
        store.give("Ada", [one, two])
        late, early = made_up_round(8, one), made_up_round(0, one)
        store.record("Ada", late)
        store.record("Ada", early)
        assert store.take_back_round("Ada") == early, "the one that was recorded last, whatever its day"
        store.take_back_line("Ada", 1)
        assert [line.place for line in store.student("Ada").lines] == [2]
        assert store.student("Ada").rounds == ()
        with pytest.raises(InputError, match="has no line 1"):
            store.take_back_line("Ada", 1)
        again = store.give("Ada", [one, made_up_line(3)])
        assert again is not None and [line.place for line in again.given] == [1, 3]
        assert store.student("Ada").rounds == (late,), "its rounds come back with it"


def test_several_students_and_names(path: Path) -> None:
    with Store(path) as store:
        assert store.begin("  Zoe\u0308  of the  hill ")
        assert not store.begin("Zo\u00eb of the hill", "flute")
        store.give("Ada", [made_up_line(1)])
        store.record("Ada", made_up_round(1, made_up_line(1)))
        assert [(each.name, each.instrument, each.lines, each.rounds) for each in store.students()] == [
            ("Ada", "guitar", 1, 1),
            ("Zo\u00eb of the hill", "flute", 0, 0),
        ]
        with pytest.raises(InputError, match=r'no student "Ado".*Did you mean "Ada"'):
            store.student("Ado")
        for wrong in ("", "  ", "a\nb\0", "x" * 81, "a\udce9"):
            with pytest.raises(InputError, match="no name for a student"):
                store.begin(wrong)


def test_a_forgotten_student_leaves_nothing_behind(path: Path) -> None:
    with Store(path) as store:
        store.begin("Zoe")
        store.give("Zoe", [made_up_line(1, "changes = 'Secret | G7'")])
        assert b"Secret" in path.read_bytes()
        store.forget("Zoe")
        assert [each.name for each in store.students()] == ["Ada"]
    assert b"Secret" not in path.read_bytes() and b"Zoe" not in path.read_bytes()


def test_only_its_owner_reads_the_file(path: Path) -> None:
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert [each.name for each in path.parent.iterdir()] == ["students.db"], (
        "one file, and no other beside it"
    )


# -- files that are not as we write them ---------------------------------------------------------------------


def test_a_file_of_a_newer_version_is_read_and_not_changed(path: Path) -> None:
    with Store(path) as store:
        store.give("Ada", [made_up_line(1)])
    with sqlite3.connect(path) as plain:
        plain.execute("ALTER TABLE line ADD COLUMN mood TEXT")
        plain.execute("PRAGMA user_version = 2")
    plain.close()
    before = path.read_bytes()
    with Store(path) as store:
        assert "newer Everyline (format 2; this one knows 1)" in store.remark
        assert len(store.student("Ada").lines) == 1
        with pytest.raises(InputError, match="read and not changed"):
            store.give("Ada", [made_up_line(2)])
    assert path.read_bytes() == before


def test_a_file_that_is_still_empty_is_a_file_without_students(tmp_path: Path) -> None:
    path = tmp_path / "new.db"
    path.touch()
    with Store(path) as store:
        assert store.students() == ()
        with pytest.raises(InputError, match='no student "Ada"'):
            store.student("Ada")
    assert path.read_bytes() == b""  # whoever only asks writes nothing


def test_nothing_is_written_into_a_damaged_file(tmp_path: Path) -> None:
    path = tmp_path / "students.db"
    with Store(path, create=True) as store:
        store.begin("Ada")
    whole = path.read_bytes()
    size = 4096
    for page in range(1, len(whole) // size):
        spoiled = whole[: page * size] + b"\xa7" * 8 + whole[page * size + 8 :]
        path.write_bytes(spoiled)
        with pytest.raises(InputError, match="is damaged"), Store(path, create=True) as store:
            store.begin("Ben")
        assert path.read_bytes() == spoiled


def test_a_file_that_is_begun_by_several_at_once_is_begun_once(tmp_path: Path) -> None:
    path, begin = tmp_path / "new.db", threading.Barrier(4)

    def make(name: str) -> None:
        begin.wait()
        with Store(path, create=True) as store:
            store.begin(name)

    with ThreadPoolExecutor(4) as several:
        list(several.map(make, ["Ada", "Ben", "Cleo", "Dov"]))
    with Store(path) as store:
        assert [each.name for each in store.students()] == ["Ada", "Ben", "Cleo", "Dov"]


def test_other_files_are_refused_in_a_sentence(tmp_path: Path) -> None:
    text, other = tmp_path / "text.db", tmp_path / "other.db"
    text.write_text("Ada has had three lines.\n" * 99)
    with sqlite3.connect(other) as plain:
        plain.execute("CREATE TABLE cake (flavour)")
    plain.close()
    for path, says in (
        (text, "is damaged or no students' file"),
        (other, "is a database, but no students' file"),
        (tmp_path / "none.db", "there is no students' file"),
        (tmp_path, "is no file"),
    ):
        with pytest.raises(InputError, match=says):
            Store(path)


def test_a_damaged_file_is_one_sentence_and_not_half_read(path: Path) -> None:
    """Bytes of a whole file are spoiled, one stretch at a time: what is read is right, or refused."""
    with Store(path) as store:
        store.give("Ada", [made_up_line(number) for number in range(60)])
        whole = store.folder("Ada")
    data, chance = path.read_bytes(), random.Random(7)
    refused = 0
    for _ in range(60):
        spoiled = bytearray(data)
        at = chance.randrange(len(data))
        spoiled[at : at + 40] = os.urandom(40)
        path.write_bytes(spoiled[: len(data)])
        try:
            with Store(path) as store:
                found = store.folder("Ada")
        except InputError as error:
            assert str(path) in str(error) and "\n" not in str(error)
            refused += 1
        else:
            assert found.name == whole.name
    assert refused
    path.write_bytes(data[: len(data) // 2])
    with pytest.raises(InputError, match="damaged"), Store(path) as store:
        store.folder("Ada")


def test_who_waits_too_long_is_told(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(database, "SECONDS_TO_WAIT", 0.2)
    plain = sqlite3.connect(path, isolation_level=None)
    plain.execute("BEGIN IMMEDIATE")
    with Store(path) as store:
        assert store.student("Ada").name == "Ada", "reading goes on"
        with pytest.raises(InputError, match="being changed by another program; nothing was changed here"):
            store.give("Ada", [made_up_line(1)])
        plain.execute("ROLLBACK")
        assert store.give("Ada", [made_up_line(1)]) is not None
    plain.close()


def test_who_waits_gets_a_turn(path: Path) -> None:
    plain = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    plain.execute("BEGIN IMMEDIATE")
    done = threading.Timer(0.3, lambda: plain.execute("ROLLBACK"))
    done.start()
    with Store(path) as store:
        assert store.give("Ada", [made_up_line(1)]) is not None
    done.join()
    plain.close()


def test_a_full_disk_stops_in_a_sentence_and_changes_nothing(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Store(path) as store:
        store._data.connection.execute("PRAGMA max_page_count = 20")
        with pytest.raises(OSError, match="No space left"):
            store.give("Ada", [made_up_line(number, "x" * 5000 + str(number)) for number in range(50)])
        assert store.student("Ada").lines == ()


def test_dates_are_days(path: Path) -> None:
    with Store(path) as store:
        store.give("Ada", [made_up_line(0)])
        assert store.student("Ada").lines[0].given == DAY
