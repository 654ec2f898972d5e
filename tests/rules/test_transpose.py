"""Rule files in other keys: spelled as players read them, with the same lines."""

from __future__ import annotations

from typing import Any

import pytest

from everyline.corpora.errors import InputError
from everyline.corpora.loader import read_toml
from everyline.rules.canonical import fingerprint
from everyline.rules.rulefile import parse_rules
from everyline.rules.spelling import parse_key
from everyline.rules.transpose import (
    CHROMATIC,
    CYCLE,
    LEVEL_SIGNS,
    KeyChange,
    home_key,
    keys_in_order,
    keys_of_level,
    transpose_tables,
)
from everyline.solver.compiler import compile_rules
from tests.spaces import CORPUS, PICKUPS, TRIPLETS, TWO_FIVE_ONE, VAMP

# guitar-chord.org, table of ii-V-I progressions in twelve keys.
TWO_FIVE_ONES = {
    "C": "Dm7 G7", "F": "Gm7 C7", "Bb": "Cm7 F7", "Eb": "Fm7 Bb7", "Ab": "Bbm7 Eb7", "Db": "Ebm7 Ab7",
    "Gb": "Abm7 Db7", "B": "C#m7 F#7", "E": "F#m7 B7", "A": "Bm7 E7", "D": "Em7 A7", "G": "Am7 D7",
}  # fmt: skip


@pytest.mark.parametrize("key", TWO_FIVE_ONES)
@pytest.mark.parametrize("home", TWO_FIVE_ONES)
def test_two_five_ones_from_any_key_to_any_other(home: str, key: str) -> None:
    moved = KeyChange.between(home, key).changes(f"{TWO_FIVE_ONES[home]} | {home}maj7")
    assert moved == f"{TWO_FIVE_ONES[key]} | {key}maj7"


def test_the_order_of_keys() -> None:
    # learnjazzstandards.com, the cycle in fourths.
    assert " ".join(CYCLE) == "C F Bb Eb Ab Db Gb B E A D G"
    assert sorted(CHROMATIC) == sorted(CYCLE)
    minor = keys_in_order(CYCLE, minor=True)
    assert len(minor) == 12
    assert all(parse_key(key).minor for key in minor)


@pytest.mark.parametrize("minor", [False, True])
def test_the_keys_of_a_level_have_no_more_accidentals_than_it_allows(minor: bool) -> None:
    sizes = []
    for level, most in LEVEL_SIGNS.items():
        keys = keys_of_level(level, minor)
        assert all(abs(parse_key(key).fifths) <= most for key in keys)
        sizes.append(len(keys))
    assert sizes == sorted(sizes) and sizes[-1] == 12
    assert keys_of_level(1, minor) == (("Am",) if minor else ("C",))


@pytest.mark.parametrize("data", [TWO_FIVE_ONE, PICKUPS, TRIPLETS, VAMP])
@pytest.mark.parametrize("fifths", range(0, 12, 5))
def test_another_key_has_the_same_lines_moved(data: dict[str, Any], fifths: int) -> None:
    home = home_key(data)
    minor = parse_key(home).minor
    key = keys_in_order(CYCLE, minor)[fifths]
    moved = transpose_tables(data, key)
    semitones = KeyChange.between(home, key).semitones
    here, there = (compile_rules(parse_rules(each, CORPUS)) for each in (data, moved))
    assert here.count == there.count
    for number in {1, here.count // 3 + 1, here.count}:
        assert there.line(number) == tuple(
            event._replace(pitch=event.pitch + semitones) for event in here.line(number)
        )


def test_there_and_back_is_the_same_set_of_lines() -> None:
    data = {**TWO_FIVE_ONE, "key": "C", "entry": {"start": ["D4", "F"]}, "scales": {"G7": "altered"}}
    data["limit"] = [{"kind": "avoid-degrees", "degrees": ["3"], "chord": "Dm7"}, {"kind": "single-peak"}]
    there = transpose_tables(data, "Ab")
    assert there["changes"] == "Bbm7 | Eb7 | Abmaj7"
    assert there["entry"]["start"] == ["Bb3", "Db"]
    assert there["scales"] == {"Eb7": "altered"}
    assert there["limit"][0]["chord"] == "Bbm7"
    assert there["range"] == {"lowest": "C3", "highest": "C5"}
    back = transpose_tables(there, "C")
    assert fingerprint(parse_rules(back, CORPUS)) == fingerprint(parse_rules(data, CORPUS))
    assert fingerprint(parse_rules(there, CORPUS)) != fingerprint(parse_rules(data, CORPUS))


def test_an_instrument_keeps_its_range_and_numerals_stay() -> None:
    data = {"changes": "ii7 V7 | Imaj7", "key": "C", "range": {"instrument": "guitar", "position": 5}}
    moved = transpose_tables(data, "Eb")
    assert moved["range"] == data["range"] and moved["changes"] == data["changes"] and moved["key"] == "Eb"
    with pytest.raises(InputError, match="its own range"):
        transpose_tables(data, "Eb", keep_range=False)
    kept = transpose_tables(TWO_FIVE_ONE, "Eb", keep_range=True)
    assert kept["range"] == TWO_FIVE_ONE["range"]


def test_spelling_of_single_chords() -> None:
    move = KeyChange.between("C", "Gb")
    assert [move.chord(each) for each in ("Am7/G", "F#m7b5", "B7", "C6/9", "G7/B", "Bb7(#11)")] == [
        "Ebm7/Db", "Cm7b5", "F7", "Gb6/9", "Db7/F", "E7(#11)",
    ]  # fmt: skip
    assert KeyChange.between("C", "F#").chord("B7") == "E#7"
    assert home_key({"changes": "Bm7b5 | E7 | Am7"}) == "Am"
    assert home_key({"changes": "Dm7 | G7 | Cmaj7"}) == "C"


def test_major_rules_do_not_move_to_a_minor_key() -> None:
    with pytest.raises(InputError, match="cannot move to Cm, which is minor; give major keys"):
        transpose_tables(TWO_FIVE_ONE, "Cm")
    with pytest.raises(InputError, match="levels of keys are 1 to 5"):
        keys_of_level(9, minor=False)


@pytest.mark.parametrize("name", sorted(CORPUS.rulefiles))
def test_every_rule_file_of_the_corpora_moves(name: str) -> None:
    data = read_toml(CORPUS.rulefiles[name].path)
    minor = parse_key(home_key(data)).minor
    for key in keys_in_order(CYCLE, minor)[1::5]:
        assert parse_rules(transpose_tables(data, key), CORPUS).progression.key == key
