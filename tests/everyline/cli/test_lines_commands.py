"""count, list, sample, show and number, through the real command line."""

import csv
import io
import json
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.everyline.cli.heavy import HEAVY


def test_count_prints_digits_alone(program, rule_file) -> None:
    answer = program("count", rule_file)
    assert answer == (0, "1758\n", "")


def test_count_without_a_file(run) -> None:
    answer = run("count", "--changes", "Dm7 | G7 | Cmaj7", "--endings", "plain", "--start", "D4")
    assert answer.code == 0
    assert int(answer.out) > 0


def test_count_imports_nothing_heavy() -> None:
    code = (
        "import sys; from everyline.cli.main import main; "
        "main(['count', '--changes', 'Dm7 | G7 | Cmaj7']); "
        f"print([name for name in {HEAVY!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_a_space_with_no_line_is_the_answer_no(run, rule_file) -> None:
    text = rule_file.read_text() + '[[limit]]\nkind = "largest-leap"\nsemitones = 2\n'
    rule_file.write_text(text)
    answer = run("count", rule_file)
    assert (answer.code, answer.out) == (1, "0\n")
    assert run("list", rule_file).code == 1


def test_a_start_that_no_line_has_names_those_that_can(run, rule_file) -> None:
    answer = run("list", rule_file, "--start", "G#4")
    assert answer.code == 0, "G#4 opens an enclosure"
    rule_file.write_text(rule_file.read_text().replace('"1", "0"', '"0"'))
    answer = run("list", rule_file, "--start", "G#4")
    assert (answer.code, answer.out) == (1, "")
    assert "lines can start on D5" in answer.err


@pytest.mark.parametrize("form", ["text", "jsonl", "csv"])
def test_every_format_holds_the_same_lines(run, rule_file, form) -> None:
    out = run("list", rule_file, "--from", 211, "--most", 3, "--format", form).out
    if form == "jsonl":
        rows = [json.loads(row) for row in out.splitlines()]
        assert [row["number"] for row in rows] == [211, 212, 213]
        assert [row["roughness"] for row in rows] == [5, 6, 6]
        assert rows[0]["notes"][0] == {
            "tick": 0, "length": 240, "pitch": 57, "name": "A3", "role": "entry", "degree": "5",
            "chord": "Dm7"
        }  # fmt: skip
        assert list(rows[0]) == ["number", "roughness", "strangeness", "notes"]
    elif form == "csv":
        table = list(csv.DictReader(io.StringIO(out)))
        assert [row["name"] for row in table if row["number"] == "211"][:4] == ["A3", "C4", "D4", "C4"]
    else:
        assert "line 211 of 1758, roughness 5" in out
        assert out.count("chord  |") >= 3


def test_more_than_there_could_be_is_all_of_them(run, rule_file) -> None:
    assert len(run("list", rule_file, "--most", "9" * 30, "--format", "jsonl").out.splitlines()) == 1758


def test_list_goes_to_the_last_line(run, rule_file) -> None:
    rows = run("list", rule_file, "--format", "jsonl").out.splitlines()
    assert len(rows) == 1758
    assert [json.loads(row)["number"] for row in rows] == list(range(1, 1759))


def test_a_sample_is_the_same_for_its_seed(run, rule_file) -> None:
    one = run("sample", rule_file, "--most", 5, "--seed", 3, "--format", "jsonl").out
    assert run("sample", rule_file, "--most", 5, "--seed", 3, "--format", "jsonl").out == one
    assert run("sample", rule_file, "--most", 5, "--seed", 4, "--format", "jsonl").out != one
    assert len(set(one.splitlines())) == 5


def test_more_than_there_are_gives_all_and_says_so(run, rule_file) -> None:
    answer = run("sample", rule_file, "--most", 5000, "--format", "jsonl")
    assert len(answer.out.splitlines()) == 1758
    assert "only 1758 lines" in answer.err


def test_show_and_number_are_each_other_s_inverse(run, rule_file) -> None:
    row = json.loads(run("show", rule_file, 1000, "--format", "jsonl").out)
    text = " ".join(note["name"] + {240: "", 480: ":4", 720: ":4."}[note["length"]] for note in row["notes"])
    assert run("number", rule_file, text).out == "1000\n"
    assert run("number", rule_file, *text.split()).out == "1000\n"


def test_show_without_a_file(run) -> None:
    changes = ("--changes", "Dm7 | G7 | Cmaj7", "--endings", "plain")
    head, stranger, *music = run("show", *changes, 17).out.splitlines()
    assert [head, *music] == run("list", *changes, "--from", 17, "--most", 1).out.splitlines()
    assert stranger.endswith("%)")


def test_a_line_that_is_none_of_them_says_why(run, rule_file) -> None:
    answer = run("number", rule_file, "D4 D4 D4 D4 D4 D4 D4 D4 B3 D4 F4 G4 F4 D4 B3 G3 E3:4")
    assert (answer.code, answer.out) == (1, "")
    assert len(answer.err) > 20


def test_options_go_before_the_file(run, rule_file) -> None:
    text = run("list", rule_file, "--start", "D4", "--format", "jsonl", "--most", 1).out
    assert json.loads(text)["notes"][0]["name"] == "D4"


def test_a_corpus_rule_file_by_name(run) -> None:
    assert run("count", "first-enclosure").code == 0


def test_output_goes_to_a_file_at_once(run, rule_file, tmp_path) -> None:
    target = tmp_path / "lines.jsonl"
    assert run("list", rule_file, "--format", "jsonl", "--most", 4, "--output", target) == (0, "", "")
    assert len(target.read_text().splitlines()) == 4
    assert sorted(path.name for path in tmp_path.iterdir()) == ["lines.jsonl", "two-five-one.toml"]


def test_a_time_limit_ends_with_three_and_leaves_nothing(program, tmp_path) -> None:
    target = tmp_path / "lines.txt"
    answer = program("list", "--changes", "Dm7 | G7 | Cmaj7", "--time-limit", 1, "--output", target)
    assert (answer.code, answer.out) == (3, "")
    assert "time limit" in answer.err
    assert list(tmp_path.iterdir()) == []


def test_rules_that_need_too_many_nodes_are_stopped_with_the_rule_named(program):
    changes = "Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7"
    assert program("count", "--changes", changes, "--most-nodes", 10_000).code == 0
    answer = program("count", "--changes", changes, "--most-nodes", 4000)
    assert answer.code == 3
    assert answer.out == ""
    assert re.fullmatch(
        r"everyline: stopped: the figures .* by bar [2-5] of 6; .*--most-nodes.*\n", answer.err
    )


def test_a_memory_limit_ends_with_three(program) -> None:
    answer = program("facets", "--changes", " | ".join(["Dm7 | G7"] * 40), "--memory-limit", 64)
    assert answer.code == 3
    assert "memory" in answer.err


def test_a_closed_pipe_is_one_sentence(rule_file) -> None:
    command = [sys.executable, "-m", "everyline.cli.main", "list", str(rule_file)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stdout and process.stderr
        process.stdout.readline()
        process.stdout.close()
        error = process.stderr.read()
        assert process.wait(60) == 2
    assert error.startswith("everyline: the output was closed")
    assert error.count("\n") == 1


def test_ctrl_c_leaves_neither_traceback_nor_half_a_file(tmp_path) -> None:
    target = tmp_path / "big.txt"
    command = [sys.executable, "-m", "everyline.cli.main", "list", "--changes", "Dm7 | G7 | Cmaj7"]
    with subprocess.Popen([*command, "--output", str(target)], stderr=subprocess.PIPE, text=True) as process:
        while not list(tmp_path.iterdir()) and process.poll() is None:
            time.sleep(0.05)
        process.send_signal(signal.SIGINT)
        assert process.stderr
        error = process.stderr.read()
        assert process.wait(60) == 130
    assert error == "everyline: stopped.\n"
    assert list(tmp_path.iterdir()) == []


BAD = [
    (["count", "--changes", "Dm7 | Hm7 | Cmaj7"], "Hm7"),
    (["count", "--changes", ""], "empty"),
    (["count", "--changes", "Dm7 G7 C7"], "Dm7 / G7 C7"),
    (["count", "--changes", "ii7 | V7 | Imaj7"], "key"),
    (["count", "--changes", "ii7 | V7 | Imaj7", "--key", "H"], "H"),
    (["count", "--changes", "Dm7 | G7 | C", "--lowest", "E5", "--highest", "E3"], "E5"),
    (["count", "--changes", "Dm7 | G7 | C", "--pickup", "8"], "pickup"),
    (["count", "--changes", "Dm7 | G7 | C", "--endings", "no-such-ending"], "no-such-ending"),
    (
        ["count", "--changes", "Dm7 | Am7 | C", "--endings", "flat-nine-falls-to-five"],
        "flat-nine-falls-to-five",
    ),
    (["count", "--changes", "Dm7 | G7 | C", "--endings", "late-leading-note"], "subdivision"),
    (["count", "--changes", "Dm7 | G7 | C", "--figures", "enclosure-9"], "enclosure-2"),
    (["count", "--changes", "Dm7 | G7 | C", "--subdivision", "5"], "5"),
    (["count", "--changes", "Dm7 | G7 | C", "--meter", "4/5"], "4/5"),
    (["count", "--changes", "Dm7 | G7 | C", "--start", "X4"], "X4"),
    (["count", "--changes", "Dm7 | G7 | C", "--instrument", "gitar"], "guitar"),
    (["count"], "--changes"),
    (["cuont", "x"], "count"),
    (["count", "no-such-file.toml"], "no-such-file.toml"),
    (["count", "first-enclosur"], "first-enclosure"),
    (["count", "--changes", "Dm7 | G7 | C", "--wrong"], "--wrong"),
    (["list", "first-enclosure", "--most", "0"], "--most 0"),
    (["list", "first-enclosure", "--from", "99999999"], "--from"),
    (["show", "first-enclosure", "0"], "numbered from 1"),
    (["show", "first-enclosure"], "number"),
    (["number", "first-enclosure", "D4 Q9"], "Q9"),
    (["sample", "first-enclosure"], "--most"),
    (["corpus", "figurs"], "figures"),
    (["show", "--changes", "Dm7 | G7 | C", "9" * 900], "numbered from 1"),
    (["show", "--changes", "Dm7 | G7 | C", "9" * 5000], "a number of 5000 digits is too long"),
    (["count", "x" * 5000], " ... "),
    (["count", "--changes", "Dm7 | G7 | C", "--start", "♭"], "♭"),
    (["list", "first-enclosure", "--order", "smooth", "--from", "9" * 30], "--from"),
    (["count", "first-enclosure", "--time-limit", "nan"], "--time-limit"),
    (["count", "first-enclosure", "--time-limit", "inf"], "--time-limit"),
    (["count", "first-enclosure", "--memory-limit", "99999999999999"], "--memory-limit"),
    (["corpus", "endings", "anticipated-thirdd"], "anticipated-third"),
    (["list", "first-enclosure", "--output", "no-such-folder/x.txt"], "no-such-folder"),
]


@pytest.mark.parametrize(("words", "named"), BAD)
def test_bad_input_is_one_clear_sentence(refused, words, named) -> None:
    assert named in refused(*words)


@pytest.mark.parametrize(
    ("content", "named"),
    [
        (b"\x00\xff\xfe" * 500, "UTF-8"),
        (b"changes = ", "Invalid value"),
        (b'changes = "Dm7 | G7 | C"\nchange = 3\n', "change"),
        (b'changes = 3\n', "changes"),
        (b'changes = "Dm7 | G7 | C"\n[approach]\ncount = ["2-1"]\n', "2-1"),
        (b"# long\n" + b"#" * 10_000_000, "large"),
        (b"", "changes"),
        (b"x = " + b"[" * 100_000, "nest"),
    ],
    ids=["binary", "broken", "unknown key", "type", "count", "10 MB", "empty", "nested"],
)  # fmt: skip
def test_a_bad_file_is_one_clear_sentence(refused, tmp_path: Path, content, named) -> None:
    path = tmp_path / "bad.toml"
    path.write_bytes(content)
    error = refused("count", path)
    assert "bad.toml" in error
    assert named in error


def test_a_folder_is_no_rule_file(refused, tmp_path: Path) -> None:
    assert "folder" in refused("count", tmp_path) or "directory" in refused("count", tmp_path)


def test_help_names_every_command(run) -> None:
    from everyline.cli.main import COMMANDS

    out = run("--help").out
    assert all(f"  {name}" in out for name in COMMANDS)
    assert run().out == out


@pytest.mark.parametrize("engine", ["cp-sat", "backtracking"])
def test_every_engine_lists_the_same(run, engine) -> None:
    words = ("list", "four-notes-a-chord", "--format", "jsonl")
    other = run(*words, "--engine", engine, "--verify", "diagram")
    assert other.out == run(*words).out
    assert f"listed by {engine}" in other.err
    assert "diagram gives the same lines" in other.err
    assert run(*words, "--engine", engine, "--from", 3, "--most", 2).out == "".join(
        other.out.splitlines(keepends=True)[2:4]
    )


def test_count_says_which_engine_ran(run) -> None:
    answer = run("count", "four-notes-a-chord", "--engine", "cp-sat", "--verify", "backtracking")
    assert answer.out == run("count", "four-notes-a-chord").out
    assert "counted by cp-sat" in answer.err
    assert "backtracking gives the same lines" in answer.err


def test_a_count_of_more_digits_than_python_prints_by_itself(program) -> None:
    changes = " | ".join(["Dm7 G7"] * 2000)
    # The default bound of the interpreter is 4300 digits.
    answer = program("count", "--changes", changes, "--start", "D4")
    assert answer.code == 0, answer.err
    assert answer.out.strip().isdigit()
    assert len(answer.out.strip()) > 4300
