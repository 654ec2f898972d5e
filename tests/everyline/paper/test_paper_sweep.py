"""Paper over random rule files: in any meter and subdivision each kind of staff is drawn whole."""

import re

import pytest
from lxml import etree

from everyline import Space
from everyline.corpora import DEFAULT_OVER, load
from everyline.corpora.errors import InputError
from everyline.paper.musicxml import write
from everyline.paper.picture import svg
from everyline.paper.score_options import ScoreOptions
from everyline.rules.rulefile import parse_rules
from tests.reference.random_rules import random_rules
from tests.schema import musicxml_schema
from tests.sweeps import sweep

CORPUS = load()
LAST = ("Cmaj7", "Cm(maj7)", "Cm7", "C7", "C6")
FEW = {"approach": {"figures": ["above-below"]}, "arpeggio": {"turns": 9}}


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


@pytest.mark.slow
def test_endings_of_the_corpus_are_written_in_whole_values() -> None:
    """Every ending has note values: over changes that it fits, it is laid out and its bars are full."""
    for ending in list(CORPUS.endings.values())[:: sweep(8, 1)]:
        qualities = ending.over or DEFAULT_OVER
        changes = [f"Dm7 | G{quality} | % | {last} | %" for quality in qualities for last in LAST]
        places = ((each, subdivision) for subdivision in (2, 3, 4) for each in changes)
        assert any(_writes(ending.name, *place) for place in places), ending.name


def _writes(name: str, changes: str, subdivision: int) -> bool:
    table = {"changes": changes, "subdivision": subdivision, "ending": {"use": [name]}, **FEW}
    try:
        space = Space(parse_rules(table, CORPUS))
    except InputError:
        return False  # the ending does not fit these changes
    if not space.count:
        return False
    musicxml_schema().assertValid(etree.fromstring(write([space[space.count // 2]])))
    return True
