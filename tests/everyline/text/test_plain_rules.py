"""Rules in plain words: a sentence for every part of a rule file, and nothing that the file does not ask."""

import pytest

from everyline import Space, parse
from everyline.corpora import load
from everyline.rules.rulefile import load_rules
from everyline.text.plain_rules import plain_rules

CORPUS = load()


def said(text: str) -> str:
    return " ".join(plain_rules(parse(f'changes = "Dm7 | G7 | Cmaj7"\n{text}').rules))


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("", "two notes to a beat"),
        ("subdivision = 3", "three notes to a beat"),
        ('[entry]\nbeats = ["1", "2&"]', "begins on beat 1 or beat 2&"),
        ("[entry]\npickup = [1]", "of the bar before"),
        ('[arpeggio]\ndirection = "up"', "runs only up"),
        ("[arpeggio]\nturns = 2", "at most 2 turns"),
        ('[approach]\ncount = ["0"]', "no approach notes"),
        ('[approach]\ncount = ["1"]\nfigures = ["above-below"]', "1 of its tones on a beat"),
        ('[passing]\nkinds = ["scale"]', "passing notes (scale, off the beat)"),
        ('[handoff]\nrule = "guide"', "nearest third or seventh"),
        ('[ending]\nuse = ["plain"]', "ends with a chord tone of the last chord, held."),
        ('[rhythm]\ncells = ["8 8", "4"]', "The rhythm is made of: 8 8, 4."),
    ],
)
def test_each_part_of_a_rule_file_is_said(text: str, wanted: str) -> None:
    assert wanted in said(text)


@pytest.mark.parametrize("name", CORPUS.rulefiles)
def test_every_rule_file_and_all_its_limits(name: str) -> None:
    rules = Space(load_rules(CORPUS.rulefiles[name].path, CORPUS)).rules
    found = plain_rules(rules)
    assert all(each[0].isupper() and each.endswith(".") for each in found)
    assert len(found) >= 5 + len(rules.limits) + len(rules.must_targets)
