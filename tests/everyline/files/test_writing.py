"""Files appear whole or not at all; links, devices and pipes stay what they are."""

from __future__ import annotations

import os
import stat
import sys
import threading
from pathlib import Path

import pytest

from everyline.corpora.errors import InputError
from everyline.files.writing import writing

unix = pytest.mark.skipif(sys.platform == "win32", reason="links and pipes of Unix")


def test_nothing_is_left_of_what_failed(tmp_path: Path) -> None:
    path = tmp_path / "lines.txt"
    path.write_text("before")
    with pytest.raises(RuntimeError), writing(path) as out:
        out.write("half")
        raise RuntimeError
    assert path.read_text() == "before"
    assert list(tmp_path.iterdir()) == [path]


@unix
def test_a_link_stays_and_its_file_is_written(tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    file, link, dangling = tmp_path / "there" / "lines.txt", tmp_path / "link.txt", tmp_path / "new.txt"
    file.write_text("before")
    link.symlink_to(file)
    dangling.symlink_to(tmp_path / "there" / "new.txt")
    for each in (link, dangling):
        with writing(each) as out:
            out.write("after")
        assert each.is_symlink()
    assert file.read_text() == (tmp_path / "there" / "new.txt").read_text() == "after"


@unix
def test_a_pipe_stays_a_pipe_and_is_written_to(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    read: list[str] = []
    reader = threading.Thread(target=lambda: read.append(pipe.read_text()))
    reader.start()
    with writing(pipe) as out:
        out.write("D4 F4 A4")
    reader.join()
    assert read == ["D4 F4 A4"]
    assert stat.S_ISFIFO(pipe.stat().st_mode)


@unix
def test_a_device_stays_a_device() -> None:
    with writing(Path("/dev/null"), "wb") as out:
        out.write(b"gone")
    assert stat.S_ISCHR(Path("/dev/null").stat().st_mode)


def test_a_folder_and_a_place_that_is_not_there_are_refused(tmp_path: Path) -> None:
    for path, reason in ((tmp_path, "is a folder"), (tmp_path / "none" / "a.txt", "cannot be written")):
        with pytest.raises(InputError, match=reason), writing(path):
            pass
