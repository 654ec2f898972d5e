"""list --notes-only and lists without end, through the real command line."""

import csv
import io
import json
import signal
import subprocess
import sys
import time

import pytest

from tests.everyline.cli.heavy import HEAVY


@pytest.mark.parametrize("form", ["text", "jsonl", "csv"])
def test_notes_only_has_what_the_notes_say(run, rule_file, form) -> None:
    out = run("list", rule_file, "--notes-only", "--from", 211, "--most", 3, "--format", form).out
    full = [
        json.loads(row)
        for row in run("list", rule_file, "--from", 211, "--most", 3, "--format", "jsonl").out.splitlines()
    ]
    if form == "jsonl":
        rows = [json.loads(row) for row in out.splitlines()]
        found = [[(n["tick"], n["length"], n["pitch"]) for n in row["notes"]] for row in rows]
        assert [row["roughness"] for row in rows] == [row["roughness"] for row in full]
    elif form == "csv":
        notes = list(csv.DictReader(io.StringIO(out)))
        found = [
            [
                tuple(int(n[key]) for key in ("tick", "length", "pitch"))
                for n in notes
                if n["number"] == number
            ]
            for number in ("211", "212", "213")
        ]
    else:
        for row in out.splitlines():
            number, line = row.split("\t")
            assert run("number", rule_file, line).out == f"{number}\n"
        return
    assert found == [[(n["tick"], n["length"], n["pitch"]) for n in row["notes"]] for row in full]


@pytest.mark.parametrize(
    "words",
    [
        ("list", "--order", "smooth"),
        ("list", "--order", "varied"),
        ("sample",),
        ("list", "--engine", "backtracking"),
    ],
)
def test_notes_only_is_about_the_same_lines_in_any_order(run, rule_file, words) -> None:
    words = (words[0], rule_file, *words[1:], "--most", 4, "--format", "jsonl")
    full = [json.loads(row)["number"] for row in run(*words).out.splitlines()]
    bare = [json.loads(row)["number"] for row in run(*words, "--notes-only").out.splitlines()]
    assert len(full) == 4
    assert bare == full


def test_a_short_list_of_notes_imports_nothing_heavy(rule_file) -> None:
    code = (
        "import sys; from everyline.cli.main import main; "
        f"main(['list', {str(rule_file)!r}, '--notes-only']); "
        f"print([name for name in {HEAVY!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


LONG = [sys.executable, "-m", "everyline.cli.main", "list", "--changes", "Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7"]


def test_a_list_without_end_stops_when_its_reader_does() -> None:
    words = [*LONG, "--notes-only"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        assert process.stdout.readline().startswith("1\t")
        process.stdout.close()
        assert "the output was closed" in process.stderr.read()
    assert process.returncode == 2


def test_a_list_without_end_is_interrupted_without_a_trace(tmp_path) -> None:
    words = [*LONG, "--notes-only", "--format", "csv", "--output", str(tmp_path / "all.csv")]
    with subprocess.Popen(words, stderr=subprocess.PIPE, text=True) as process:
        while not any(each.stat().st_size for each in tmp_path.iterdir()) and process.poll() is None:
            time.sleep(0.02)
        process.send_signal(signal.SIGINT)
        _, said = process.communicate()
    assert (process.returncode, said) == (130, "everyline: stopped.\n")
    assert list(tmp_path.iterdir()) == []


def test_memory_stays_flat() -> None:
    """A million lines, some 150 MB of text, take no more memory than twenty thousand."""
    code = (
        "import resource, sys; from everyline.cli.main import main; code = main(sys.argv[1:]); "
        "print(code, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, file=sys.stderr)"
    )
    peaks = []
    for most in ("20000", "1000000"):
        words = [sys.executable, "-c", code, *LONG[3:], "--notes-only", "--most", most]
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.PIPE}
        done = subprocess.run(words, text=True, check=True, **quiet)
        code_given, peak = done.stderr.split()
        assert code_given == "0"
        peaks.append(int(peak))
    # The blocks of columns that are kept are at most 64 MiB, whatever the number of lines.
    assert peaks[1] < peaks[0] + (100 << 10)
