"""Taste files: the corpora's own read and written back, and what is wrong with a bad one in one sentence."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from everyline.corpora import load
from everyline.corpora.errors import InputError
from everyline.corpora.taste_text import taste_text
from everyline.corpora.tastes import FAMILIES, read_taste

CORPUS = load()


def test_the_corpora_have_tastes() -> None:
    assert {"solos", "plain"} <= set(CORPUS.tastes)


@pytest.mark.parametrize("name", CORPUS.tastes)
def test_written_back_it_is_the_same_file(name: str) -> None:
    path = CORPUS.tastes[name]
    entry = read_taste(path)
    assert taste_text(entry) == path.read_text(encoding="utf-8")
    assert entry.title and entry.source and entry.licence


def test_solos_name_their_source_and_both_licences() -> None:
    entry = read_taste(CORPUS.tastes["solos"])
    for words in ("Weimar Jazz Database", "Pfleiderer, Frieler, Abeßer, Zaddach, Burkhart", "jazzodata"):
        assert words in entry.source
    assert "Open Database License 1.0" in entry.licence and "MIT" in entry.licence
    assert entry.statistics is not None and entry.rhythm is not None
    # Counts of the source as it describes itself: 46,563 moves.
    assert sum(entry.statistics.degrees.values()) == 46563
    assert sum(entry.statistics.intervals.values()) == 46563


def good() -> dict[str, Any]:
    return {
        "title": "Mine",
        "source": "My own lines",
        "licence": "CC0",
        "units": "sixteenths of a bit",
        "melody": {"off": [16] * 25, "on": [16] * 25, "none on": [8] * 25, "-2 on dominant 7": [4] * 25},
        "harmony": {f"{on} {family}": [0] * 12 for on in ("on", "off") for family in FAMILIES},
        "rhythm": {"any": {"0 24": 8, "other": 90}, "start": {"": 3, "0 16 32": 7}},
        "statistics": {"pairs": {"+2": {"-1": 3}}, "first": {"0": 1}, "beats": {"start": {"24": 2}}},
    }


def test_a_small_one_is_read(tmp_path: Path) -> None:
    path = tmp_path / "mine.json"
    path.write_text(json.dumps(good()), encoding="utf-8")
    entry = read_taste(path)
    assert entry.name == "mine"
    assert entry.plain_melody[True] == (16,) * 25
    assert entry.melody[None, True, None, None][0] == 8
    assert entry.melody[-2, True, "dominant", 7][0] == 4
    assert entry.rhythm is not None
    assert entry.rhythm.cost(None, (0, 16, 32)) == 7
    assert entry.rhythm.cost(None, (0, 24)) == 8
    assert entry.rhythm.cost((0,), (12,)) == 90
    assert entry.statistics is not None and entry.statistics.pairs == {(2, -1): 3}


def put(*keys: str, value: Any = None) -> Callable[[dict[str, Any]], None]:
    """Put a value, or take the key out."""

    def change(table: dict[str, Any]) -> None:
        *above, last = keys
        for key in above:
            table = table[key]
        if value is None:
            del table[last]
        else:
            table[last] = value

    return change


BAD = {
    "no melody": (put("melody"), '"melody" is missing'),
    "no plain row": (put("melody", "off"), 'melody: the context "off" is missing'),
    "no family": (
        put("harmony", "on half-diminished"),
        'harmony: the context "on half-diminished" is missing',
    ),
    "no other": (put("rhythm", "any", "other"), 'rhythm, "any": the context "other" is missing'),
    "no plainest": (put("rhythm", "any"), 'rhythm: the context "any" is missing'),
    "negative": (put("melody", "on", value=[16] * 24 + [-1]), 'melody, "on": the cost -1 does not fit'),
    "huge": (put("harmony", "on minor", value=[10**9] * 12), '"on minor": the cost 1000000000 does not fit'),
    "not whole": (
        put("harmony", "on minor", value=[0.5] * 12),
        "the cost 0.5 does not fit; a cost is a whole",
    ),
    "true": (put("harmony", "on minor", value=[True] * 12), "the cost true does not fit"),
    "NaN": (put("harmony", "on minor", value=[float("nan")] * 12), "the cost nan does not fit"),
    "rhythm cost": (put("rhythm", "start", "", value=-4), 'rhythm, "start", "": the cost -4 does not fit'),
    "offset": (put("offset", value=-3), "offset: the cost -3 does not fit"),
    "units": (put("units", value="bits"), 'units = "bits"; allowed are sixteenths of a bit'),
    "short row": (put("melody", "on", value=[1] * 24), '"on": 24 values where a list of 25 costs is needed'),
    "row of words": (put("melody", "on", value="low"), '"on": "low" where a list of 25 costs is needed'),
    "interval": (put("melody", "13 on", value=[1] * 25), '"13" is not an interval'),
    "beat": (put("melody", "+1 upbeat", value=[1] * 25), '"upbeat" is neither on nor off the beat'),
    "context": (put("melody", "+1 on minor", value=[1] * 25), '"+1 on minor" is not a context'),
    "degree": (put("melody", "+1 on minor 12", value=[1] * 25), '"12" is not a degree'),
    "chord": (put("harmony", "on domnant", value=[1] * 12), 'Did you mean "dominant"?'),
    "places": (put("rhythm", "24 0", value={}), '"24 0" are not places in a beat'),
    "late": (put("rhythm", "0 48", value={}), '"0 48" are not places in a beat'),
    "row of beats": (put("rhythm", "0", value=[1]), "[1] does not fit; it holds an object"),
    "count": (put("statistics", "first", "0", value=-1), "the count -1 does not fit"),
    "unknown": (put("costs", value={}), 'unknown key "costs"'),
    "unknown count": (put("statistics", "pear", value={}), 'Did you mean "pairs"?'),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_ones_are_refused_in_one_sentence(case: str, tmp_path: Path) -> None:
    change, words = BAD[case]
    table = good()
    change(table)
    path = tmp_path / "mine.json"
    path.write_text(json.dumps(table), encoding="utf-8")
    with pytest.raises(InputError) as found:
        read_taste(path)
    assert words in str(found.value)
    assert str(found.value).startswith(str(path)) and "\n" not in str(found.value)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "not valid JSON"),
        (b"{", "not valid JSON"),
        (b"[" * 100_000, "nests too deeply"),
        (b"[]", "holds one object"),
        (b"\xff{}", "byte 1 is not UTF-8"),
    ],
)
def test_what_is_no_taste_file_at_all(data: bytes, words: str, tmp_path: Path) -> None:
    path = tmp_path / "mine.json"
    path.write_bytes(data)
    with pytest.raises(InputError, match=words):
        read_taste(path)


def test_a_hundred_megabytes_are_refused_without_being_read(tmp_path: Path) -> None:
    path = tmp_path / "huge.json"
    with path.open("wb") as file:
        file.truncate(100_000_000)
    with pytest.raises(InputError, match="larger than 1,000,000 bytes"):
        read_taste(path)


def test_a_folder_of_ones_own_adds_to_them(tmp_path: Path) -> None:
    (tmp_path / "tastes").mkdir()
    (tmp_path / "tastes" / "mine.json").write_text(json.dumps(good()), encoding="utf-8")
    assert list(load(tmp_path).tastes) == [*CORPUS.tastes, "mine"]
    (tmp_path / "tastes" / "solos.json").write_text(json.dumps(good()), encoding="utf-8")
    with pytest.raises(InputError, match=r'the taste "solos" is in .* and again in'):
        _ = load(tmp_path).tastes
