"""Lesson files: written and read back, and what a wrong one is told."""

from __future__ import annotations

import re
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import converter
from music21.note import Note

from everyline.cli.main import main
from everyline.corpora.errors import InputError
from everyline.corpora.loader import parse_toml
from everyline.files.lessons import (
    Lesson,
    LessonLine,
    keep,
    lesson_lines,
    lesson_text,
    parse_lesson,
    read_lesson,
    rule_tables,
    with_notes,
    write_lesson,
)
from everyline.rules.annotate import AnnotatedLine
from everyline.spaces.space import parse
from tests.spaces import CORPUS

words = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
line = st.builds(LessonLine, rules=words, number=st.integers(1, 10**30), title=words, remark=words)
WHOLE = """# Mine: a \\ and \"\"\"
changes = "Dm7 | G7 | Cmaj7"
title = "A \\"small\\" one"
[approach]
figures = ["enclosure-2"]
"""
"""A rule file's own text, with what TOML would have escaped."""


@given(st.builds(Lesson, title=words, remark=words, lines=st.lists(line, max_size=3).map(tuple)))
def test_any_lesson_is_valid_toml_with_the_same_words(lesson: Lesson) -> None:
    small = Lesson(lesson.title, lesson.remark, tuple(each for each in lesson.lines if each.number < 2**63))
    data = parse_toml(lesson_text(small).encode(), "lesson")
    assert data.get("title", "") == small.title
    for table, each in zip(data.get("line", []), small.lines, strict=True):
        assert table.get("remark", "") == each.remark and table["number"] == each.number


rows = st.text(
    st.characters(exclude_categories=["Cs"]) | st.sampled_from('\n"\\\r\t\x7f'), min_size=1, max_size=30
)


@given(rows)
def test_any_text_of_rules_is_read_back(text: str) -> None:
    lesson = Lesson(lines=tuple(LessonLine(each, 1) for each in (text, f"{text}\n", f"\n{text}")))
    assert parse_lesson(lesson_text(lesson)) == lesson


def test_rules_as_the_text_of_a_rule_file(tmp_path: Path) -> None:
    lesson = Lesson(lines=(LessonLine(WHOLE, 5), LessonLine(WHOLE, 5, key="F")))
    text = lesson_text(lesson)
    assert 'changes = "Dm7 | G7 | Cmaj7"\n' in text, "a teacher edits it there"
    again = parse_lesson(text)
    assert again == lesson
    (_, here), (_, there) = lesson_lines(again, CORPUS, tmp_path)
    assert here.notes == parse(WHOLE).line(5).notes
    assert [n.pitch + 5 for n in here.notes] == [n.pitch for n in there.notes]
    one_row = LessonLine('changes = "Dm7 | G7 | Cmaj7"', 5)
    ((_, line),) = lesson_lines(Lesson(lines=(one_row,)), CORPUS, tmp_path)
    assert line.notes == parse(one_row.rules).line(5).notes


def test_where_no_files_are_read_only_the_corpora_and_text_are(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(WHOLE)
    assert rule_tables(LessonLine(str(path), 1), CORPUS, Path()) == parse_toml(WHOLE.encode(), "")
    with pytest.raises(InputError, match="the page cannot read files from disk"):
        rule_tables(LessonLine(str(path), 1), CORPUS, None)
    assert rule_tables(LessonLine(WHOLE, 1), CORPUS, None) == parse_toml(WHOLE.encode(), "")
    assert rule_tables(LessonLine("first-enclosure", 1), CORPUS, None)["changes"]


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
        ("[[line]]\nnumber = 1", "the key rules is missing"),
        ('[[line]]\nrules = "first-enclosure"', "number or by its notes"),
        ('[[line]]\nrules = "first-enclosure"\nnumber = "1"', "whole number"),
        ('[[line]]\nrule = "first-enclosure"', 'Did you mean "rules"'),
        ('[[line]]\nrules = ""\nnumber = 1', "it is empty"),
        ('titel = "x"', 'Did you mean "title"'),
        ('[[line]]\nrules = "x"\nnumber = 0', "of at least 1"),
    ],
)
def test_what_is_wrong_in_a_lesson_file(tmp_path: Path, text: str, says: str) -> None:
    (tmp_path / "lesson.toml").write_text(text)
    with pytest.raises(InputError, match=says):
        read_lesson(tmp_path / "lesson.toml")


def test_lines_that_do_not_exist() -> None:
    for kept, says in (
        (LessonLine("first-enclosure", 10**9), "there is no line 1000000000"),
        (LessonLine("first-enclosure", notes="D4 H4"), '"H4" is not a note'),
        (LessonLine("first-enclosur", 1), 'Did you mean "first-enclosure"'),
        (LessonLine("x" * 5000, 1), 'no rule file "xxx'),
        (LessonLine(WHOLE, 10**9), "there is no line 1000000000 under its rules"),
        (LessonLine(WHOLE + "[", 1), "its rules: not valid TOML"),
        (LessonLine('changes = "Dm7 | G7"\nsubdivision = "two"\n', 1, key="F"), "subdivision"),
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
    assert main(["lesson", path, "--keep", "first-enclosure", "--notes", "D4 F4"]) == 2
    assert "not valid under first-enclosure" in capsys.readouterr().err
    assert main(["lesson", path, "--keep", "first-enclosure", "--notes", "D4 F4", "--number", "1"]) == 2
    assert "do not go together" in capsys.readouterr().err
    assert len(read_lesson(Path(path)).lines) == 2


def test_the_command_keeps_and_shows_the_text_of_a_rule_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = str(tmp_path / "lesson.toml")
    assert main(["lesson", path, "--keep", WHOLE, "--number", "5"]) == 0
    assert main(["lesson", path]) == 0
    shown = capsys.readouterr().out
    assert shown.startswith("1. No. 5\n") and "Dm7" in shown


@pytest.fixture
def moving(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> tuple[Path, Path, AnnotatedLine]:
    """A lesson file with one line that was kept, the rule file that it was kept from, and the line."""
    rules, path = tmp_path / "mine.toml", tmp_path / "lesson.toml"
    rules.write_text('changes = "Dm7 | G7 | Cmaj7"\nentry.start = ["D4"]\n')
    number = parse(rules.read_text()).count
    assert main(["lesson", str(path), "--keep", str(rules), "--number", str(number)]) == 0
    capsys.readouterr()
    return path, rules, parse(rules.read_text()).line(number)


def test_a_kept_line_keeps_its_notes_whatever_its_rules_become(
    moving: tuple[Path, Path, AnnotatedLine], capsys: pytest.CaptureFixture[str]
) -> None:
    path, rules, line = moving
    (kept,) = read_lesson(path).lines
    assert kept.number == line.number and kept.notes is not None and kept.notes.startswith("@1 D4 ")
    for changed, says in (
        ('changes = "Dm7 | G7 | Cmaj7"\nentry.start = ["D4"]\n', ""),
        ('changes = "Dm7 | G7 | Cmaj7"\nentry.start = ["A3", "D4"]\n', f"was line {line.number} then and is"),
        ('changes = "Dm7 | G7 | Cmaj7"\nentry.start = ["F4"]\n', "now none of its lines: "),
    ):
        rules.write_text(changed)
        said: list[str] = []
        ((_, found),) = lesson_lines(read_lesson(path), CORPUS, path.parent, said.append)
        assert found.events == line.events
        assert says in " ".join(said) and len(said) == bool(says)
        assert main(["lesson", str(path)]) == 0
        shown = capsys.readouterr()
        assert f"{line.notes[1].name} " in shown.out and ("has moved on" in shown.err) == bool(says)
    assert read_lesson(path).lines == (kept,), "what was kept is not written anew"


def test_a_kept_line_that_is_no_more_valid_goes_onto_paper_and_into_sound(
    moving: tuple[Path, Path, AnnotatedLine], capsys: pytest.CaptureFixture[str]
) -> None:
    path, rules, line = moving
    rules.write_text('changes = "Dm7 | G7 | Cmaj7"\nentry.start = ["F4"]\n')
    made = path.with_suffix(".musicxml")
    assert main(["export", str(path), "--to", str(made)]) == 0
    assert "none of its lines" in capsys.readouterr().err
    score = converter.parse(made)
    assert [note.pitch.midi for note in score.flatten().notes if isinstance(note, Note)] == [
        event.pitch for event in line.events
    ]


def test_an_older_file_with_numbers_alone_is_read(tmp_path: Path) -> None:
    old = parse_lesson('[[line]]\nrules = "first-enclosure"\nnumber = 17\n')
    said: list[str] = []
    ((kept, found),) = lesson_lines(old, CORPUS, tmp_path, said.append)
    assert found.number == 17 and kept.notes is None and not said
    noted = with_notes(kept, found)
    ((_, again),) = lesson_lines(Lesson(lines=(noted,)), CORPUS, tmp_path, said.append)
    assert again.events == found.events and not said


def test_notes_are_added_to_an_older_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "lesson.toml"
    path.write_text(
        'title = "Old"\n[[line]]\nrules = "first-enclosure"\nnumber = 17\ntitle = "One"\n'
        '[[line]]\nrules = "first-enclosure"\nnotes = "D4 F4"\n'
    )
    before = read_lesson(path)
    assert main(["lesson", str(path), "--add-notes"]) == 0
    assert "notes were added to 1 line." in capsys.readouterr().err
    after = read_lesson(path)
    ((_, line), _) = lesson_lines(before, CORPUS)
    assert after.lines == (with_notes(before.lines[0], line), before.lines[1]) and after.title == "Old"
    assert main(["lesson", str(path), "--add-notes"]) == 0
    assert read_lesson(path) == after and "added to 0 lines." in capsys.readouterr().err


def test_of_several_starts_the_number_says_which() -> None:
    text = 'changes = "Dm7 | G7 | Cmaj7"\nentry.beats = ["1", "2"]\napproach.count = ["0"]\n'
    space = parse(text)
    lines = [space.line(number) for number in range(1, space.count + 1, 397)]
    assert len({line.events[0].onset for line in lines}) == 2
    lesson = Lesson(lines=tuple(with_notes(LessonLine(text, line.number), line) for line in lines))
    found = [each for _, each in lesson_lines(lesson, CORPUS)]
    assert [(each.number, each.events) for each in found] == [(each.number, each.events) for each in lines]


def test_of_lines_that_are_kept_at_the_same_time_none_is_lost(tmp_path: Path) -> None:
    path = tmp_path / "lesson.toml"
    begin = threading.Barrier(6)

    def add(number: int) -> int:
        begin.wait()
        return keep(LessonLine("first-enclosure", number), path)

    with ThreadPoolExecutor(6) as several:
        counts = list(several.map(add, range(1, 7)))
    assert sorted(counts) == [1, 2, 3, 4, 5, 6]
    assert sorted(line.number or 0 for line in read_lesson(path).lines) == [1, 2, 3, 4, 5, 6]
    assert [each.name for each in tmp_path.iterdir()] == ["lesson.toml"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('line = "x"', 'line = "x": it must be a list of tables'),
        ("line = [1, 2]", "it must be a list of tables"),
        ('title = ["x"]', "title = .*: it must be text"),
        ("[line]\nnumber = 1", "it must be a list of tables"),
        ("[[line]]\nrules = 7\nnumber = 1", r"\[\[line\]\] 1, rules = 7: it must be a rule file"),
        ('[[line]]\nrules = "a\\u0000b"\nnumber = 1', "there is no rule file"),
        (f'[[line]]\nrules = "x"\nnumber = {"9" * 100_000}', "a number of more than 1000 digits"),
    ],
)
def test_lesson_files_of_other_shapes_are_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, says: str
) -> None:
    (tmp_path / "lesson.toml").write_text(text)
    assert main(["lesson", str(tmp_path / "lesson.toml")]) == 2
    said = capsys.readouterr().err
    assert re.search(says, said) and said.count("\n") == 1
