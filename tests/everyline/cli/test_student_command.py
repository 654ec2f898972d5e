"""The commands ``student`` and ``students`` from end to end."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from everyline.cli.main import main
from everyline.files.lessons import read_lesson
from everyline.practice.store import Store

ROOT = Path(__file__).parents[3]
RULES = (
    'changes = "Dm7 G7 | Cmaj7"\nentry.start = ["D", "F"]\napproach.count = ["0"]\nending.use = ["plain"]\n'
    '[range]\nlowest = "D3"\nhighest = "C6"\n'
)


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    """Runs a command line in a folder of its own; answers (code, standard output, standard error)."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.delenv("EVERYLINE_STUDENTS", raising=False)
    (tmp_path / "mine.toml").write_text(RULES)

    def ran(*words: str) -> tuple[int, str, str]:
        code = main(words)
        shown = capsys.readouterr()
        return code, shown.out, shown.err

    return ran


def test_from_the_first_line_to_the_proposal(run, tmp_path: Path) -> None:
    code, _, said = run("students")
    assert code == 2 and "there is no students' file" in said
    assert run("student", "Ada", "begin", "--instrument", "alto-saxophone")[0] == 0
    assert (tmp_path / "data" / "everyline" / "students.db").is_file()
    code, out, said = run("student", "Ada", "give", "first-enclosure", "--on", "2026-11-20")
    assert code == 0 and said == "" and re.findall(r"^(\d)\. The first enclosure", out, re.M) == list("1234")
    code, out, _ = run("student", "Ada", "propose")
    assert code == 1 and out.startswith("0 of 4 lines of first-enclosure are in the hands")
    for day in ("2026-11-21", "2026-11-23"):
        for line in "1234":
            words = ("record", line, "--went", "clean", "--tempo", "96", "--key", "Eb", "--on", day)
            assert run("student", "Ada", *words)[0] == 0
    assert "in Eb: clean" in run("student", "Ada", "record", "1", "--went", "clean", "--key", "E♭")[2]
    run("student", "Ada", "take-back")
    code, out, _ = run("student", "Ada", "show")
    assert code == 0 and "2 rounds, in the hands; last 2026-11-23, play in Eb at 96: clean" in out
    code, out, _ = run("student", "Ada", "propose")
    assert code == 0 and out.splitlines()[1:] == [
        "Next: first-passing-notes, level 2 (The first passing notes).",
        "  everyline student Ada give first-passing-notes --instrument alto-saxophone",
    ]
    assert run("student", "Ada", "show")[1].count("\n1. ") == 1, "a proposal changes nothing"
    code, out, _ = run("students")
    assert out == "Ada (alto-saxophone): 4 lines, 8 rounds, last on 2026-11-23\n"


def test_what_was_had_does_not_come_again_until_there_is_no_more(run) -> None:
    run("student", "Ada", "begin")
    tunes: list[str] = []
    for _ in range(3):
        code, out, said = run("student", "Ada", "give", "mine.toml", "--most", "60", "--seed", "5")
        tunes += re.findall(r"^   (@1 .*)$", out, re.M)
        if "only" in said:
            break
    assert "there are only 24 lines under these rules that Ada had not had" in said
    assert len(tunes) == len(set(tunes)) == 144
    code, out, said = run("student", "Ada", "give", "mine.toml", "--most", "1")
    assert (code, out) == (1, "") and "Ada has had every line under these rules" in said
    code, out, said = run("student", "Ada", "give", "mine.toml", "--highest", "A5", "--most", "1")
    assert (code, out) == (1, ""), "nor does it under narrower rules"


def test_lines_of_the_teachers_choice(run, tmp_path: Path) -> None:
    run("student", "Ada", "begin")
    assert run("student", "Ada", "give", "mine.toml", "--numbers", "7", "9", "--title", "Two")[0] == 0
    code, out, said = run("student", "Ada", "give", "mine.toml", "--numbers", "9")
    assert (code, out) == (1, "") and "it is line 2" in said
    _, out, _ = run("show", "mine.toml", "7", "--format", "jsonl")
    notes = " ".join(
        f"{note['name'][:-1]}{int(note['name'][-1]) + 1}" + (":4" if note["length"] == 480 else "")
        for note in json.loads(out)["notes"]
    )
    code, out, said = run("student", "Ada", "give", "mine.toml", "--notes", notes)
    assert code == 0 and "line 3 is a copy of line 1 by octave or key" in said
    code, out, said = run("student", "Ada", "give", "mine.toml", "--notes", "D4 F4 G4", "--title", "Odd")
    assert code == 0 and "is kept as it is: " in said and out == "4. Odd\n   @1 D4 F4 G4\n"
    run("lesson", "monday.toml", "--keep", "first-enclosure", "--number", "17", "--key", "F")
    run("lesson", "monday.toml", "--keep", "mine.toml", "--number", "3")
    run("lesson", "monday.toml", "--keep", RULES, "--number", "4")
    code, out, said = run("student", "Ada", "give", "--lesson", "monday.toml")
    assert code == 0 and re.findall(r"^(\d)\. .*line (\d+)$", out, re.M) == [
        ("5", "17"),
        ("6", "3"),
        ("7", "4"),
    ]
    with Store() as store:
        lines = store.student("Ada").lines
    assert [line.key for line in lines[4:]] == ["F", "C", "C"]
    assert [line.rules_name for line in lines[4:]] == [
        "first-enclosure",
        str(tmp_path / "mine.toml"),
        "a rule file's own text",
    ]
    assert [line.level for line in lines[4:]] == [2, None, None]


def test_a_rule_file_that_moves_on_is_told_and_changes_nothing(run, tmp_path: Path) -> None:
    run("student", "Ada", "begin")
    run("student", "Ada", "give", "mine.toml", "--numbers", "100")
    _, before, said = run("student", "Ada", "show", "1")
    assert said == "" and "line 100," in before
    (tmp_path / "mine.toml").write_text(RULES.replace('"D", "F"', '"D"'))
    code, after, said = run("student", "Ada", "show", "1")
    assert code == 0 and after == before and "mine.toml has moved on since this line was given" in said
    assert "has moved on" in run("student", "Ada")[2]


def test_lines_go_out_as_a_lesson_and_onto_paper(run, tmp_path: Path) -> None:
    run("student", "Ada", "begin")
    run("student", "Ada", "give", "mine.toml", "--numbers", "1", "2", "3")
    run("student", "Ada", "give", "mine.toml", "--notes", "D4 F4 G4")
    code, _, said = run("student", "Ada", "export", "week.toml", "--lines", "3", "1", "4")
    assert code == 0 and "week.toml has 3 lines" in said
    assert [line.number for line in read_lesson(tmp_path / "week.toml").lines] == [3, 1, None]
    code, _, said = run("export", "week.toml", "--to", "week.mid")
    assert code == 0 and (tmp_path / "week.mid").is_file() and "not valid under its rules" in said


def test_copies_go_out_and_come_in(run, tmp_path: Path) -> None:
    run("student", "Ada", "begin", "--instrument", "guitar")
    run("student", "Ada", "give", "mine.toml", "--most", "3")
    run("student", "Ada", "record", "2", "--went", "with-slips", "--kind", "hear")
    assert run("student", "Ada", "export", "ada.json")[0] == 0
    first = (tmp_path / "ada.json").read_bytes()
    code, _, said = run("student", "Ada", "import", "ada.json", "--file", "other.db")
    assert code == 0 and "Ada: 3 new lines, 1 new round" in said
    run("student", "Ada", "export", "again.json", "--file", "other.db")
    assert (tmp_path / "again.json").read_bytes() == first
    run("student", "Ada", "take-back")
    run("student", "Ada", "take-back", "1")
    code, _, said = run("student", "Ada", "import", "ada.json")
    assert "0 new lines, 0 new rounds" in said, "what was taken back stays so"
    assert run("student", "Ada")[1].startswith("Ada, guitar: 2 lines, 0 rounds\n")
    code, _, said = run("student", "Ben", "import", "ada.json")
    assert code == 2 and "is the folder of Ada" in said


def test_forgetting(run) -> None:
    run("student", "Ada", "begin")
    code, _, said = run("student", "Ada", "forget")
    assert code == 2 and "say --for-ever" in said
    assert run("student", "Ada", "forget", "--for-ever")[0] == 0
    assert run("students") == (
        0,
        "",
        "everyline: there is no student yet; everyline student NAME begin makes the first.\n",
    )


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("show", "9"), "Ada has no line 9"),
        (("begin", "--instrument", "guitr"), 'Did you mean "guitar"'),
        (("give",), "no rules are given"),
        (("give", "mine.toml", "--most", "0"), "--most 0: it must be 1 to 500"),
        (("give", "mine.toml", "--most", "2", "--numbers", "1"), "do not go together"),
        (("give", "mine.toml", "--numbers", "1", "--seed", "2"), "--seed goes with --most"),
        (("give", "mine.toml", "--numbers", "9999"), "there is no line 9999"),
        (("give", "mine.toml", "--notes", "D4 H4"), '"H4" is not a note'),
        (("give", "mine.toml", "--lesson", "x.toml"), "have their own rules"),
        (("give", "--lesson", "x.toml", "--lowest", "C4"), "rules of their own"),
        (("give", "mine.toml", "--on", "tomorrow"), "write a day as year, month, day"),
        (("give", "mine.toml", "--own-rule", "x.py:no"), "--own-rule: a line cannot be kept"),
        (("give", "mine.toml", "--allow-python"), "--allow-python: a line cannot be kept"),
        (("give", "mine.toml", "--look-at", "5"), "--look-at: a line cannot be kept"),
        (("give", "mine.toml", "--workers", "2"), "--workers shares out"),
        (("give", "--changes", "Dm7 | G7", "--count", "4", "--targets", "b3"), "no line satisfies"),
        (("record", "1"), "--went"),
        (("record", "1", "--went", "fine"), "not-yet, with-slips or clean"),
        (("record", "1", "--went", "clean", "--tempo", "500"), "write 20 to 400"),
        (("record", "1", "--went", "clean", "--key", "H"), "H"),
        (("record", "1", "--went", "clean", "--key", "Am"), "give major keys"),
        (("record", "7", "--went", "clean"), "has no line 7"),
        (("export", "ada.txt"), "name a .json file"),
        (("export", "ada.json", "--lines", "1"), "--lines goes with a .toml file"),
        (("import", "none.json"), "cannot be read"),
        (("import", "mine.toml"), "is no JSON"),
        (("take-back",), "no round that could be taken back"),
        (("grade",), "grade"),
    ],
)
def test_what_is_wrong_is_one_sentence(run, words: tuple[str, ...], says: str) -> None:
    run("student", "Ada", "begin")
    run("student", "Ada", "give", "mine.toml", "--numbers", "1")
    code, out, said = run("student", "Ada", *words)
    assert code == 2 and out == "" and says in said and said.count("\n") == 1


def test_a_students_file_that_is_none_is_one_sentence(run, tmp_path: Path) -> None:
    (tmp_path / "bad.db").write_bytes(b"SQLite format 3\0" + bytes(range(256)) * 40)
    for file in ("bad.db", "mine.toml", ".", "/dev/null"):
        for words in (("student", "Ada"), ("students",), ("student", "Ada", "begin")):
            code, out, said = (
                run(*words, "--file", file) if len(words) != 2 else run(*words, "show", "--file", file)
            )
            assert code == 2 and out == "" and said.count("\n") == 1, (file, words, said)


def test_two_commands_that_give_at_once_give_different_lines(run, tmp_path: Path) -> None:
    run("student", "Ada", "begin", "--file", "students.db")
    words = [sys.executable, "-m", "everyline", "student", "Ada", "give", str(tmp_path / "mine.toml")]
    words += ["--most", "20", "--file", str(tmp_path / "students.db")]
    both = [subprocess.Popen(words, cwd=ROOT, stdout=subprocess.DEVNULL) for _ in range(2)]
    assert [each.wait() for each in both] == [0, 0]
    with Store(tmp_path / "students.db") as store:
        lines = store.student("Ada").lines
    assert len(lines) == 40 == len({line.tune for line in lines})
