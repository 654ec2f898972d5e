"""``list --order smooth`` and ``list --order varied``, as a teacher calls them."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from everyline import load

Run = Callable[..., Any]


def numbers(text: str) -> list[int]:
    return [json.loads(row)["number"] for row in text.splitlines()]


def test_the_smoothest_lines(run: Run, rule_file: Path) -> None:
    answer = run("list", rule_file, "--order", "smooth", "--most", 12, "--format", "jsonl")
    assert answer.code == 0
    assert numbers(answer.out) == [211, 230, 485, 99, 102, 212, 213, 215, 219, 220, 226, 228]
    assert [json.loads(row)["roughness"] for row in answer.out.splitlines()] == [5] * 3 + [6] * 9


def test_from_counts_places_in_the_order(run: Run, rule_file: Path) -> None:
    answer = run("list", rule_file, "--order", "smooth", "--from", 4, "--most", 2, "--format", "jsonl")
    assert numbers(answer.out) == [99, 102]


def test_own_weights_change_the_order(run: Run, rule_file: Path, tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(rule_file.read_text() + "\n[roughness]\nstep = 5\n")
    answer = run("list", own, "--order", "smooth", "--most", 3, "--format", "jsonl")
    expected = sorted((line.roughness, line.number) for line in load(own))[:3]
    assert numbers(answer.out) == [number for _, number in expected] != [211, 230, 485]


def test_a_part_of_a_space_is_ranked_alone(rule_file: Path) -> None:
    part = load(rule_file)[300:600]
    assert [line.number for line in part.smoothest(1)] == [485]
    assert all(301 <= (line.number or 0) <= 600 for line in part.varied(5))


def test_varied_lines_and_what_they_were_chosen_from(run: Run, rule_file: Path) -> None:
    answer = run("list", rule_file, "--order", "varied", "--most", 5, "--format", "jsonl")
    assert answer.code == 0
    assert "chosen from 400 lines drawn by solos, fitted to these rules, out of 1758." in answer.err
    chosen = numbers(answer.out)
    assert len(set(chosen)) == 5
    assert run("list", rule_file, "--order", "varied", "--most", 5, "--format", "jsonl").out == answer.out
    more = run("list", rule_file, "--order", "varied", "--from", 3, "--most", 3, "--format", "jsonl")
    assert numbers(more.out) == chosen[2:5]


def test_the_least_strange_lines(run: Run, rule_file: Path) -> None:
    answer = run("list", rule_file, "--order", "idiomatic", "--most", 12, "--format", "jsonl")
    expected = sorted((line.strangeness, line.number) for line in load(rule_file))[:12]
    rows = [json.loads(row) for row in answer.out.splitlines()]
    assert [(row["strangeness"], row["number"]) for row in rows] == expected
    own = run("list", rule_file, "--order", "idiomatic", "--taste", "plain", "--most", 3, "--format", "jsonl")
    assert [json.loads(row)["strangeness"] for row in own.out.splitlines()] == [80, 80, 80]
    later = run("list", rule_file, "--order", "idiomatic", "--from", 4, "--most", 2, "--format", "jsonl")
    assert numbers(later.out) == [number for _, number in expected[3:5]]


def test_an_exact_choice_says_what_is_proven(run: Run, rule_file: Path) -> None:
    words = ("list", rule_file, "--order", "varied", "--exact", "--pool", 40, "--most", 4)
    answer = run(*words, "--format", "jsonl")
    assert answer.code == 0
    assert "proven the greatest" in answer.err
    assert len(set(numbers(answer.out))) == 4
    assert run(*words, "--budget", 3).code == 2


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--exact", "--most", 3), "goes with --order varied"),
        (("--order", "varied", "--exact"), "--most K"),
        (("--order", "varied", "--budget", 9), "goes with --exact"),
        (("--order", "varied", "--pool", 3, "--most", 5), "--pool 3"),
        (("--order", "smooth", "--exact", "--most", 2), "goes with --order varied"),
    ],
)
def test_options_that_do_not_fit(run: Run, rule_file: Path, words: tuple[object, ...], says: str) -> None:
    answer = run("list", rule_file, *words)
    assert (answer.code, answer.out) == (2, "")
    assert says in answer.err


def test_more_than_there_are_gives_all(run: Run, rule_file: Path) -> None:
    answer = run("list", rule_file, "--start", "E5", "--order", "varied", "--most", 5000, "--format", "jsonl")
    assert "there are only" in answer.err
    assert len(numbers(answer.out)) == int(run("count", rule_file, "--start", "E5").out)
