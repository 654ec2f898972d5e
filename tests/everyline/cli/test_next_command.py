"""The command ``next``, against the listed lines themselves."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from everyline import load


def test_next_notes_and_counts_are_those_of_the_listed_lines(
    rule_file: Path, run: Callable[..., Any]
) -> None:
    lines = list(load(rule_file).diagram.walk())
    for line in (lines[0], lines[700]):
        for size in (0, 5, len(line) - 1):
            begun = [each for each in lines if each[:size] == line[:size]]
            answer = run("next", rule_file, *_text(line)[:size], "--format", "jsonl")
            rows = [json.loads(row) for row in answer.out.splitlines()]
            found = {tuple(row["event"]): int(row["count"]) for row in rows}
            assert found == Counter(tuple(each[size]) for each in begun if len(each) > size)


def _text(line: Any) -> list[str]:
    names = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
    values = {240: "8", 480: "4", 720: "4."}
    return [f"{names[pitch % 12]}{pitch // 12 - 1}:{values[length]}" for _, pitch, length in line]


def test_the_chord_ahead_and_the_end_are_shown(rule_file: Path, run: Callable[..., Any]) -> None:
    """Over G7 the tones nearest to A4 are G4 and B4, a whole step either way (common practice)."""
    answer = run("next", rule_file, "D4 F4 A4")
    assert answer.code == 0
    assert "G7 begins on bar 2, beat 1; from A4: G4 or B4" in answer.out
    assert "arpeggio up" in answer.out and "may end" not in answer.out
    whole = run("list", rule_file, "--most", 1, "--format", "jsonl").out
    notes = json.loads(whole)["notes"]
    answer = run("next", rule_file, *_text([(n["tick"], n["pitch"], n["length"]) for n in notes]))
    assert "The line may end here." in answer.out and "1 line\n" in answer.out


def test_what_no_line_begins_with_is_named(rule_file: Path, refused: Callable[..., str]) -> None:
    assert "as far as D4, and none goes on" in refused("next", rule_file, "D4", "D4")


def test_no_line_at_all_is_exit_code_1(rule_file: Path, run: Callable[..., Any]) -> None:
    answer = run("next", rule_file, "--start", "E3", "--figures", "chromatic-below")
    assert answer.code == 1 and answer.out == "" and "no line" in answer.err
