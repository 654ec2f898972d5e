"""Paper over random rule files: in any meter and subdivision each kind of staff is drawn whole."""

import re

import pytest
from lxml import etree

from corpora import load
from corpora.errors import InputError
from everyline import Space
from everyline.paper.musicxml import write
from everyline.paper.options import ScoreOptions
from everyline.paper.picture import svg
from rules.rulefile import parse_rules
from tests.reference.random_rules import random_rules
from tests.schema import musicxml_schema
from tests.sweeps import sweep

CORPUS = load()


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(sweep(6, 120)))
def test_random_rule_files(seed: int) -> None:
    space = Space(parse_rules(random_rules(seed), CORPUS))
    if not space.count:
        return
    line = space.sample(1, seed=seed)[0]
    low = min(note.pitch for note in line.notes)
    for staves in ("staff", "both", "tab") if low >= 40 else ("staff",):
        score = ScoreOptions(staves=staves, tempo=132, swing="by-tempo", beams=("half-bar", "beat")[seed % 2])
        musicxml_schema().assertValid(etree.fromstring(write([line], score)))
        picture = svg([line], score)
        letters = {"staff": "n", "both": "nt", "tab": "t"}[staves]
        found = re.findall(r'id="([nt]1-\d+)"', picture)
        assert sorted(found) == sorted(f"{x}1-{i}" for x in letters for i in range(len(line.notes)))
        assert picture.count('class="role ') >= len(line.notes)


def test_endings_of_the_corpus_are_written_in_whole_values() -> None:
    """Every ending has note values: over each changes it fits, it is laid out and its bars are full."""
    written = 0
    for name in CORPUS.endings:
        for changes in ("Dm7 | G7 | Cmaj7 | %", "Dm7b5 | G7b9 | Cm6 | %", "Dm7b5 | G7alt | Cm(maj7) | %"):
            try:
                rules = parse_rules({"changes": changes, "ending": {"use": [name]}}, CORPUS)
            except InputError:
                continue  # the ending does not fit these changes
            space = Space(rules)
            if space.count:
                musicxml_schema().assertValid(etree.fromstring(write([space[space.count // 2]])))
                written += 1
    assert written >= len(CORPUS.endings)
