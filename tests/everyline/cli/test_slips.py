"""Slips on the command line and in files: one sentence, with what was probably meant."""

from __future__ import annotations

from pathlib import Path

import pytest

CHANGES = ("--changes", "Dm7 | G7 | Cmaj7")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("count", *CHANGES, "--strat", "D4"), 'there is no option --strat; "everyline count --help" lists'),
        (("count", *CHANGES, "--strat=D4"), 'Did you mean "--start"?'),
        (("count", *CHANGES, "--lead_in", "3"), 'Did you mean "--lead-in"?'),
        (("list", *CHANGES, "--mots", "3"), 'Did you mean "--most"?'),
        (
            ("list", *CHANGES, "--order", "smoth"),
            '--order "smoth": choose number, smooth, idiomatic or varied.',
        ),
        (("list", *CHANGES, "--format", "json"), 'Did you mean "jsonl"?'),
        (("count", *CHANGES, "--engine", "cpsat"), 'Did you mean "cp-sat"?'),
        (("limits", "largest", "leap"), '"leap" is one word too many'),
        (("count", "--changes", "CM8 | G7"), 'Did you mean "Cmaj7" or "Cmaj9"?'),
        (("count", "--changes", "C-7-5x | G7"), 'Did you mean "Cm7b5"?'),
        (("count", "--changes", "Cmi7z | G7"), 'Did you mean "Cm7"?'),
        (("count", "--changes", "dm7 | G7"), 'Did you mean "Dm7"?'),
        (("count", *CHANGES, "--figures", "d"), "there is no figure"),
    ],
)
def test_on_the_command_line(refused, words, said) -> None:
    assert said in refused(*words)


@pytest.mark.parametrize(
    "words",
    [
        ("facets", *CHANGES, "--facet", "ending"),
        ("count", "--changes", "hm7 | G7"),
        ("count", "--changes", "n.c. | G7"),
    ],
)
def test_nothing_silly_is_suggested(refused, words) -> None:
    assert "Did you mean" not in refused(*words)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('start = ["D4"]', "It belongs in [entry]."),
        ('instrument = "guitar"', "It belongs in [range]."),
        ("turns = 1", "It belongs in [arpeggio]."),
        ("[arpeggio]\nlead_in = 1", "It belongs in [ending]."),
        ('[entry]\ntitle = "x"', "It belongs at the top of the file, before the first table."),
        ('[handoff]\nrules = "any"', 'the key is rule. Did you mean "rule"?'),
        ("[approach]\ntarget = 3", 'Did you mean "targets"?'),
    ],
)
def test_keys_of_a_rule_file(refused, tmp_path: Path, text: str, said: str) -> None:
    file = tmp_path / "rules.toml"
    file.write_text(f'changes = "Dm7 | G7 | Cmaj7"\n{text}\n')
    assert said in refused("count", file)


def test_files_are_near_by_what_comes_before_the_suffix(refused, tmp_path: Path) -> None:
    for name in ("thursday.toml", "notes.txt"):
        (tmp_path / name).touch()
    assert 'Did you mean "thursday.toml"?' in refused("count", tmp_path / "thrusday.toml")
    assert 'Did you mean "thursday.toml"?' in refused("count", tmp_path / "thursday.tml")
    assert "Did you mean" not in refused("count", tmp_path / "nope.toml")
    assert "Did you mean" not in refused("count", tmp_path / "notes.toml")
