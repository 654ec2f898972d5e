"""The folder of a drill set: one run at a time, verified when it is gone on with, and nothing outside it."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from everyline.cli.main import main
from everyline.corpora import load
from everyline.corpora.errors import InputError
from everyline.drill import write
from everyline.drill.choose import choose
from everyline.drill.set_folder import PROGRESS
from everyline.drill.sources import sources_of
from everyline.drill.spec import Spec
from everyline.drill.write import DrillSet
from tests.spaces import CORPUS

LINES, BATCH, DONE = 12, 3, 6
"""Lines of the set, in batches of so many; what the stopped set has of them."""
unix = pytest.mark.skipif(sys.platform == "win32", reason="links and pipes of Unix")


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


@pytest.fixture
def drill(monkeypatch: pytest.MonkeyPatch) -> DrillSet:
    monkeypatch.setattr(write, "BATCH", BATCH)
    spec = Spec(("first-enclosure",), LINES, kinds=("play", "complete"))
    sources = sources_of(spec, CORPUS)
    return DrillSet(spec, sources, choose(spec, sources))


@pytest.fixture
def whole(drill: DrillSet, tmp_path: Path) -> dict[str, bytes]:
    """The set as one run writes it."""
    drill.write(tmp_path / "whole")
    return contents(tmp_path / "whole")


@pytest.fixture
def stopped(drill: DrillSet, tmp_path: Path) -> Path:
    """A folder in which the set was stopped after some batches."""

    def stop(done: int, of: int) -> None:
        if done == DONE:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        drill.write(tmp_path / "stopped", stop)
    return tmp_path / "stopped"


def test_a_second_run_is_refused_and_the_first_one_is_whole(
    drill: DrillSet, whole: dict[str, bytes], tmp_path: Path
) -> None:
    refused: list[str] = []

    def second(done: int, of: int) -> None:
        with pytest.raises(InputError) as error:
            drill.write(tmp_path / "both")
        refused.append(str(error.value))

    drill.write(tmp_path / "both", second)
    assert len(refused) == LINES // BATCH
    assert all("another run is writing a drill set to" in sentence for sentence in refused)
    assert contents(tmp_path / "both") == whole


def flipped(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[len(data) // 3] ^= 1
    path.write_bytes(data)


def shortened(path: Path) -> None:
    os.truncate(path, path.stat().st_size // 2)


def longer(path: Path) -> None:
    path.write_bytes(path.read_bytes() + b"half an exer")


def rows(folder: Path, change: Callable[[list[str]], list[str]]) -> None:
    path = folder / PROGRESS
    path.write_text("".join(change(path.read_text().splitlines(keepends=True))))


def linked(folder: Path, name: str) -> None:
    """A file of the folder moved outside, with a link in its place."""
    outside = folder.parent / "outside"
    (folder / name).rename(outside)
    (folder / name).symlink_to(outside)


def piped(folder: Path, name: str) -> None:
    (folder / name).unlink()
    os.mkfifo(folder / name)


def far(row: str) -> str:
    data = json.loads(row)
    return json.dumps(data | {"done": 999_999}) + "\n"


DAMAGE: dict[str, Callable[[Path], object]] = {
    "a short part": lambda folder: shortened(folder / "manifest.jsonl.part"),
    "a part that is gone": lambda folder: (folder / "key.txt.part").unlink(),
    "another byte": lambda folder: flipped(folder / "exercises.txt.part"),
    "a part that is too long": lambda folder: longer(folder / "key.txt.part"),
    "a score that is gone": lambda folder: (folder / "scores" / "000004-key.musicxml").unlink(),
    "a score that is short": lambda folder: shortened(folder / "scores" / "000001-key.musicxml"),
    "more than is there": lambda folder: rows(folder, lambda found: [*found[:-1], far(found[-1])]),
    "half a row": lambda folder: rows(folder, lambda found: [*found[:-1], found[-1][:20]]),
    "a row of nothing": lambda folder: rows(folder, lambda found: [*found[:-1], "null\n"]),
    "a row with a long number": lambda folder: rows(
        folder, lambda found: [*found[:-1], f'{{"done": {"9" * 100_000}}}\n']
    ),
    "a name that leads outside": lambda folder: rows(
        folder, lambda found: [found[0], *(row.replace('"key.txt"', '"../key.txt"') for row in found[1:])]
    ),
    "one file in place already": lambda folder: (folder / "key.txt.part").rename(folder / "key.txt"),
}


@pytest.mark.parametrize("damage", DAMAGE)
def test_what_is_not_as_it_was_written_is_written_anew(
    damage: str, drill: DrillSet, whole: dict[str, bytes], stopped: Path
) -> None:
    DAMAGE[damage](stopped)
    (stopped.parent / "key.txt").write_text("outside")
    assert drill.write(stopped) <= DONE
    assert contents(stopped) == whole
    assert (stopped.parent / "key.txt").read_text() == "outside"


@unix
@pytest.mark.parametrize("spoil", [linked, piped])
@pytest.mark.parametrize("name", ["manifest.jsonl.part", "scores/000004-key.musicxml"])
def test_links_and_pipes_are_neither_followed_nor_waited_for(
    spoil: Callable[[Path, str], None], name: str, drill: DrillSet, whole: dict[str, bytes], stopped: Path
) -> None:
    before = (stopped / name).read_bytes()
    spoil(stopped, name)
    drill.write(stopped)
    assert contents(stopped) == whole
    assert not any(path.is_symlink() for path in stopped.rglob("*"))
    if spoil is linked:
        assert (stopped.parent / "outside").read_bytes() == before


@pytest.mark.parametrize("text", ["[]\n", "{\n", "null\n", "", "\0" * 500, "9" * 100_000, "[" * 100_000])
def test_a_journal_that_is_none_is_one_sentence(text: str, drill: DrillSet, stopped: Path) -> None:
    (stopped / PROGRESS).write_text(text)
    with pytest.raises(InputError, match="is not the journal of a drill set; name a new folder"):
        drill.write(stopped)


def test_what_is_told_of_damage_names_the_first_exercise_written_anew(drill: DrillSet, stopped: Path) -> None:
    told: list[str] = []
    flipped(stopped / "scores" / "000004-key.musicxml")
    assert drill.write(stopped, remark=told.append) == BATCH
    assert told == [f"{stopped} is not as it was written; it is written anew from exercise {BATCH + 1} on."]


def test_names_from_files_stay_inside_the_folder(tmp_path: Path) -> None:
    own = tmp_path / "own"
    own.mkdir()
    names = ("up/../../../../up", "UP-UP", "..", "a b")
    rest = 'title = "X"\nfamily = "voice"\nlowest = "E3"\nhighest = "E5"\nprogram = 1\n'
    entries = (f'[[instrument]]\nname = "{name}"\n{rest}' for name in names)
    own.joinpath("instruments.toml").write_text("".join(entries))
    words = ["drill", "--rules", "first-enclosure", "--lines", "8", "--corpora", str(own)]
    words += ["--instruments", *names]
    assert main([*words, "--output", str(tmp_path / "sets" / "one")]) == 2  # no such folder
    (tmp_path / "sets").mkdir()
    assert main([*words, "--output", str(tmp_path / "sets" / "one")]) == 0
    scores = sorted(path.name for path in (tmp_path / "sets" / "one" / "scores").iterdir())
    assert len(scores) == 8
    assert {path.name for path in tmp_path.iterdir()} == {"own", "sets"}
    assert load(own).instruments.keys() >= set(names)


def test_bytes_that_are_no_text_are_refused_before_anything_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["drill", "--rules", "first-enclosure", "--lines", "2", "--output", str(tmp_path / "set")]
    assert main([*words, "--title", "caf\udce9"]) == 2
    assert "title" in capsys.readouterr().err
    assert not (tmp_path / "set").exists()
    assert main([*words, "--title", "café"]) == 0
