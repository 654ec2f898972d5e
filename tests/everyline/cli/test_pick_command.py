"""``pick``, and whatever stands on it: what a teacher gets to hand out, and what is said about it."""

from __future__ import annotations

import itertools
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from everyline import lines, load
from everyline.corpora.tastes import read_taste
from everyline.solver.picking import Look, guide_arrivals, stands_still
from everyline.spaces.choruses import parse_plan
from everyline.spaces.space import Space

Run = Callable[..., Any]

PLAN = """
key = "C"
changes = \"\"\"
Cmaj7 | A7 | Dm7 | G7 | Em7 | A7 | Dm7 G7 | Cmaj7
Cmaj7 | A7 | Dm7 | G7 | Em7 | A7 | Dm7 G7 | Cmaj7
Gm7 | C7 | Fmaj7 | % | Am7 | D7 | Dm7 | G7
Cmaj7 | A7 | Dm7 | G7 | Em7 | A7 | Dm7 G7 | Cmaj7
\"\"\"
[ending]
use = ["plain"]
[[phrase]]
bars = "1-8"
[[phrase]]
bars = "9-16"
[[phrase]]
bars = "17-24"
[[phrase]]
bars = "25-32"
"""

# Generic progressions; common practice.
SPACES: dict[str, Callable[[], Space]] = {
    "ii-V-I, major": lambda: lines("Dm7 | G7 | Cmaj7"),
    "ii-V-I, minor": lambda: lines("Bm7b5 | E7b9 | Am6"),
    "ii-V-I, short": lambda: lines("Dm7 G7 | Cmaj7"),
    "blues": lambda: lines("F7 | Bb7 | F7 | % | Bb7 | % | F7 | D7 | Gm7 | C7 | F7 D7 | Gm7 C7"),
    "bridge of dominants": lambda: lines("D7 | % | G7 | % | C7 | % | F7 | %"),
    "turnaround": lambda: lines("Cmaj7 A7 | Dm7 G7 | Cmaj7"),
    "vamp": lambda: lines("Dm7 | % | % | %"),
    "waltz": lambda: lines("Dm7 | G7 | Cmaj7 | A7", meter="3/4"),
    "tritone substitution": lambda: lines("Dm7 | Db7 | Cmaj7"),
    "32-bar plan": lambda: parse_plan(PLAN),
}


@pytest.fixture(autouse=True)
def _kept_in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


@pytest.mark.parametrize("name", SPACES)
def test_eight_lines_over_ten_progressions(name: str) -> None:
    space = SPACES[name]()
    found = space.picked().lines
    assert len(found) == 8
    looks = [Look(space.rules, line) for line in found]
    for one, other in itertools.combinations(looks, 2):
        # Neither an octave copy, nor the same first bar, whatever the octave.
        assert list(one.notes.items()) != list(other.notes.items())
        assert one.first_bar != other.first_bar
    met, of = map(sum, zip(*(guide_arrivals(space.rules, line.events) for line in found), strict=True))
    assert 2 * met >= of
    assert not any(stands_still(line.events, notes=8, semitones=4) for line in found)


def rows(text: str) -> list[dict[str, Any]]:
    return [json.loads(row) for row in text.splitlines()]


def test_pick_says_what_it_chose_from(run: Run, rule_file: Path) -> None:
    plain = ("pick", "--changes", "Dm7 | G7 | Cmaj7", "--endings", "plain", "--most", 2, "--format", "jsonl")
    drawn = run(*plain)
    assert "drawn by solos, fitted to these rules, out of" in drawn.err
    assert run(*plain, "--seed", 2).out != drawn.out
    answer = run("pick", rule_file, "--format", "jsonl")
    assert answer.code == 0 and len(rows(answer.out)) == 8
    # Its lines are much alike: the pool has grown to all of them.
    assert "chosen from all 1758 lines by solos." in answer.err
    some = run("pick", rule_file, "--pool", 100).err
    assert "chosen from 100 lines drawn by solos, fitted to these rules, out of 1758." in some
    assert run("pick", rule_file, "--format", "jsonl").out == answer.out
    costs = [row["strangeness"] for row in rows(answer.out)]
    assert costs == sorted(costs)
    space = load(rule_file)
    assert [line.number for line in space.pick()] == [row["number"] for row in rows(answer.out)]


def test_the_fitted_taste_is_kept_by_the_fingerprint(run: Run, rule_file: Path, tmp_path: Path) -> None:
    run("pick", rule_file, "--most", 1)
    (kept,) = (tmp_path / "data" / "everyline" / "fitted").iterdir()
    assert kept.name.startswith("solos-")
    before = kept.read_bytes()
    # The kept one is used: another in its place draws other lines.
    assert run("taste", "fit", rule_file).code == 0
    assert kept.read_bytes() == before
    run("pick", rule_file, "--lowest", "F3", "--most", 1)
    assert len(list(kept.parent.iterdir())) == 2


def test_fit_prints_both_distances_and_writes_a_file(run: Run, rule_file: Path, tmp_path: Path) -> None:
    answer = run("taste", "fit", rule_file, "--to", tmp_path / "fitted.json")
    values = [row.split()[-2:] for row in answer.out.splitlines()[3:]]
    assert len(values) == 3
    assert sum(float(after) for _, after in values) < sum(float(before) for before, _ in values)
    assert read_taste(tmp_path / "fitted.json").offset > 0
    own = run("sample", rule_file, "--most", 3, "--taste", tmp_path / "fitted.json", "--format", "jsonl")
    fitted = run("sample", rule_file, "--most", 3, "--taste", "solos", "--fitted", "--format", "jsonl")
    assert own.out == fitted.out
    refused = run("taste", "fit", rule_file, "--taste", "plain")
    assert refused.code == 2 and "no statistics" in refused.err


def test_too_few_that_are_unlike(run: Run) -> None:
    few = ("--changes", "Dm7 G7 | Cmaj7", "--start", "D4", "--turns", 0, "--endings", "plain", "--count", 0)
    answer = run("pick", *few)
    assert answer.code == 0 and "chosen from all" in answer.err
    assert "no copies of each other" in answer.err


def test_a_plan_is_picked_from_too(run: Run, tmp_path: Path) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN, encoding="utf-8")
    answer = run("pick", plan, "--most", 2, "--format", "jsonl")
    assert [len(row["phrases"]) for row in rows(answer.out)] == [4, 4]


def test_list_on_a_terminal_shows_a_few(run: Run, rule_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    picked = run("pick", rule_file).out
    with monkeypatch.context() as terminal:
        terminal.setattr(sys.stdout, "isatty", lambda: True)
        answer = run("list", rule_file)
        assert answer.out == picked
        assert "--order number lists all of them" in answer.err
        assert run("list", rule_file, "--most", 1).out.startswith("line 1 of")
        assert run("list", rule_file, "--format", "jsonl", "--from", 1, "--most", 2).out.count("\n") == 2


def test_sheets_and_files_take_picks_orders_and_samples(run: Run, rule_file: Path, tmp_path: Path) -> None:
    def exported(*words: object) -> list[int]:
        target = tmp_path / "lines.jsonl"
        assert run("export", rule_file, *words, "--to", target).code == 0
        return [row["number"] for row in rows(target.read_text())]

    def told(*words: object) -> list[int]:
        return [row["number"] for row in rows(run(*words, "--format", "jsonl").out)]

    assert exported() == told("pick", rule_file)
    assert exported("--pick", 3, "--seed", 2) == told("pick", rule_file, "--most", 3, "--seed", 2)
    for order in ("number", "smooth", "idiomatic", "varied"):
        assert exported("--order", order, "--most", 4) == told(
            "list", rule_file, "--order", order, "--most", 4
        )
    assert exported("--sample", 5, "--seed", 3) == told("sample", rule_file, "--most", 5, "--seed", 3)
    drawn = ("--taste", "solos", "--temperature", 0.5)
    assert exported("--sample", 5, *drawn) == told("sample", rule_file, "--most", 5, *drawn)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("pick", "--most", 0), "it must be 1 or more"),
        (("pick", "--pool", 3), "it must hold as many lines as are asked for"),
        (("pick", "--taste", "sols"), 'Did you mean "solos"?'),
        (("sample", "--most", 3, "--temperature", 2), "goes with --taste NAME"),
        (("sample", "--most", 3, "--fitted"), "goes with --taste NAME"),
        (("sample", "--most", 3, "--taste", "solos", "--temperature", 0), "from 0.01 to 100"),
        (("export", "--to", "x.mid", "--pick", 3, "--sample", 3), "do not go together"),
        (("export", "--to", "x.mid", "--pick", 2, "--most", 3), "--most goes with --order"),
        (("export", "--to", "x.mid", "--seed", 3, "--order", "smooth"), "--seed goes with"),
        (("export", "--to", "x.parquet", "--pick", 3), "--pick"),
        (("sheet", "--to", "x.pdf", "--pick", 0), "it must be 1 or more"),
    ],
)
def test_options_that_do_not_fit(
    run: Run, rule_file: Path, tmp_path: Path, words: tuple[object, ...], says: str
) -> None:
    command, *more = words
    answer = run(command, rule_file, *more)
    assert (answer.code, answer.out) == (2, "")
    assert says in answer.err and answer.err.count("\n") == 1
