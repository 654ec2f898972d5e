"""The command ``taste``: what there is, how far two are apart, and one learned from lines of one's own."""

from __future__ import annotations

from pathlib import Path

import pytest

from everyline import load, parse
from everyline.cli.main import main
from everyline.corpora.tastes import read_taste
from everyline.files.formats import export
from everyline.files.lessons import Lesson, LessonLine, write_lesson

ROWS = """\
# two changes
changes: Dm7 G7 | Cmaj7
D4 F4 A4 C5 B4 D5 G4 F4 | E4:4

changes: Gm7 C7 | Fmaj7
G4 Bb4 D5 F5 E5 D5 C5 Bb4 | A4:4
"""


@pytest.fixture(autouse=True)
def _in_a_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def said(capsys: pytest.CaptureFixture[str]) -> str:
    return capsys.readouterr().err


def test_show_prints_the_file_as_data(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["taste", "show", "plain", "--format", "json"]) == 0
    Path("again.json").write_text(capsys.readouterr().out, encoding="utf-8")
    assert main(["taste", "show", "again.json"]) == 0
    assert "Small steps" in capsys.readouterr().out


def test_compare_prints_three_distances(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["taste", "compare", "solos", "solos"]) == 0
    out = capsys.readouterr().out
    assert out.count("0.000") == 3


def test_learn_from_text_over_several_changes(capsys: pytest.CaptureFixture[str]) -> None:
    Path("mine.txt").write_text(ROWS, encoding="utf-8")
    assert main(["taste", "learn", "mine.txt", "--name", "mine", "--title", "My own"]) == 0
    assert "learned from 2 lines with 16 moves" in said(capsys)
    taste = read_taste(Path("mine.json"))
    assert taste.title == "My own" and taste.statistics is not None
    assert sum(taste.statistics.degrees.values()) == 16
    # The fifths of Dm7 and of Gm7 on the beat, and the thirds of Cmaj7 and of Fmaj7.
    assert taste.statistics.degrees[True, "minor", 7] == 2
    assert taste.statistics.degrees[True, "major", 4] == 2


def test_learn_from_every_kind_of_file(capsys: pytest.CaptureFixture[str]) -> None:
    changes = "Dm7 | G7 | Cmaj7"
    space = parse(f'changes = "{changes}"\n[ending]\nuse = ["plain"]')
    line = space.line(1000)
    export([line], Path("line.musicxml"))
    export([line], Path("line.mid"))
    rules = Path("rules.toml")
    rules.write_text(f'changes = "{changes}"\n[ending]\nuse = ["plain"]\n', encoding="utf-8")
    assert load(rules).count == space.count
    write_lesson(Lesson(lines=(LessonLine("rules.toml", number=1000),)), Path("lesson.toml"))
    taught = []
    for name in ("line.musicxml", "line.mid", "lesson.toml"):
        words = ["taste", "learn", name, "--name", "mine"]
        assert main([*words, *([] if name == "lesson.toml" else ["--changes", changes])]) == 0
        capsys.readouterr()
        found = read_taste(Path("mine.json")).statistics
        assert found is not None
        taught.append((found.pairs, found.first, found.degrees))
    assert taught[0] == taught[1] == taught[2]


BAD = {
    "no chords": (["line.txt"], "over which chords?"),
    "no file": (["nowhere.mid", "--changes", "Dm7 | G7"], "nowhere.mid"),
    "bad row": (["bad.txt"], "bad.txt, row 2"),
    "nothing in it": (["empty.txt"], "there is nothing to learn from"),
    "a kind that is not read": (
        ["line.pdf", "--changes", "Dm7 | G7"],
        "a line is read from files",
    ),
    "key alone": (["line.txt", "--key", "C"], "go with --changes"),
    "name taken": (["mine.txt", "--name", "solos"], 'there is a taste "solos"'),
    "another name": (["mine.txt", "--to", "yours.json"], "a taste is called what its file is"),
    "lean on what there is not": (["mine.txt", "--toward", "sols"], 'Did you mean "solos"?'),
}


@pytest.mark.parametrize("case", BAD)
def test_what_cannot_be_learned_from_is_told_in_one_sentence(
    case: str, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("line.txt").write_text("D4 F4 A4\n", encoding="utf-8")
    Path("bad.txt").write_text("changes: Dm7 | G7\nD4 H4\n", encoding="utf-8")
    Path("empty.txt").write_text("# nothing\n", encoding="utf-8")
    Path("mine.txt").write_text(ROWS, encoding="utf-8")
    Path("line.pdf").write_bytes(b"%PDF")
    words, complaint = BAD[case]
    assert main(["taste", "learn", "--name", "mine", *words]) == 2
    told = said(capsys)
    assert complaint in told and told.count("\n") == 1
    assert not Path("mine.json").exists()


def test_a_taste_in_a_folder_of_ones_own_is_listed(capsys: pytest.CaptureFixture[str]) -> None:
    Path("mine.txt").write_text(ROWS, encoding="utf-8")
    Path("own/tastes").mkdir(parents=True)
    assert main(["taste", "learn", "mine.txt", "--name", "mine", "--to", "own/tastes/mine.json"]) == 0
    capsys.readouterr()
    assert main(["taste", "list", "--corpora", "own"]) == 0
    assert "mine   Learned from 2 lines" in capsys.readouterr().out
