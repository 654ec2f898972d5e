"""Lesson files: written and read back, and what a wrong one is told."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from corpora.errors import InputError
from corpora.loader import parse_toml
from everyline.cli.main import main
from everyline.lesson import Lesson, LessonLine, lesson_lines, lesson_text, read_lesson, write_lesson
from tests.spaces import CORPUS

words = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
line = st.builds(LessonLine, rules=words, number=st.integers(1, 10**30), title=words, remark=words)


@given(st.builds(Lesson, title=words, remark=words, lines=st.lists(line, max_size=3).map(tuple)))
def test_any_lesson_is_valid_toml_with_the_same_words(lesson: Lesson) -> None:
    small = Lesson(lesson.title, lesson.remark, tuple(each for each in lesson.lines if each.number < 2**63))
    data = parse_toml(lesson_text(small).encode(), "lesson")
    assert data.get("title", "") == small.title
    for table, each in zip(data.get("line", []), small.lines, strict=True):
        assert table.get("remark", "") == each.remark and table["number"] == each.number


def test_a_lesson_is_read_back(tmp_path: Path) -> None:
    lesson = Lesson(
        'Week "3"',
        "Slowly.",
        (
            LessonLine("first-enclosure", 17, title="One", remark="Sing it."),
            LessonLine("first-enclosure", 17, key="F"),
        ),
    )
    write_lesson(lesson, tmp_path / "lesson.toml")
    assert read_lesson(tmp_path / "lesson.toml") == lesson
    (_, here), (_, there) = lesson_lines(lesson, CORPUS)
    assert [n.pitch + 5 for n in here.notes] == [n.pitch for n in there.notes]
    by_notes = LessonLine("first-enclosure", notes=" ".join(
        f"{n.name}:4" if n.length == 480 else n.name for n in here.notes
    ))  # fmt: skip
    ((_, again),) = lesson_lines(Lesson(lines=(by_notes,)), CORPUS)
    assert again.number == 17


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[[line]]\nnumber = 1", '"rules" is missing'),
        ('[[line]]\nrules = "first-enclosure"', "number or by its notes"),
        ('[[line]]\nrules = "first-enclosure"\nnumber = 1\nnotes = "D4"', "one of the two"),
        ('[[line]]\nrules = "first-enclosure"\nnumber = "1"', "whole number"),
        ('[[line]]\nrule = "first-enclosure"', 'Did you mean "rules"'),
        ('titel = "x"', 'Did you mean "title"'),
        ('[[line]]\nrules = "x"\nnumber = 0', "numbered from 1"),
    ],
)
def test_what_is_wrong_in_a_lesson_file(tmp_path: Path, text: str, says: str) -> None:
    (tmp_path / "lesson.toml").write_text(text)
    with pytest.raises(InputError, match=says):
        read_lesson(tmp_path / "lesson.toml")


def test_lines_that_do_not_exist() -> None:
    for kept, says in (
        (LessonLine("first-enclosure", 10**9), "there is no line 1000000000"),
        (LessonLine("first-enclosure", notes="D4 F4"), "not valid"),
        (LessonLine("first-enclosur", 1), 'Did you mean "first-enclosure"'),
    ):
        with pytest.raises(InputError, match=says):
            list(lesson_lines(Lesson(lines=(kept,)), CORPUS))


def test_the_command_keeps_and_shows(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = str(tmp_path / "lesson.toml")
    assert main(["lesson", path, "--keep", "first-enclosure", "--number", "17", "--title", "One"]) == 0
    assert main(["lesson", path, "--keep", "first-enclosure", "--number", "18", "--key", "F"]) == 0
    assert "has 2 lines" in capsys.readouterr().err
    assert main(["lesson", path]) == 0
    shown = capsys.readouterr().out
    assert "1. One" in shown and "line 18" in shown and "Gm7" in shown
    assert main(["lesson", path, "--number", "3"]) == 2
    assert main(["lesson", path, "--keep", "first-enclosure", "--number", "999999999"]) == 2
    assert len(read_lesson(Path(path)).lines) == 2
