"""Changes of a rule file written as dotted keys."""

from __future__ import annotations

import pytest

from everyline.corpora.errors import InputError
from everyline.rules.changes import changed


def test_a_key_is_set_and_taken_out() -> None:
    tables = {"changes": "Dm7", "range": {"lowest": "E3"}}
    assert changed(tables, {"range.highest": "E5"})["range"] == {"lowest": "E3", "highest": "E5"}
    assert "range" not in changed(tables, {"range.lowest": None})


@pytest.mark.parametrize("tables", [{"endings": [{"name": "mine"}]}, {"changes": "Dm7"}])
def test_a_key_of_what_has_no_keys_is_refused(tables: dict[str, object]) -> None:
    section = next(iter(tables))
    with pytest.raises(InputError, match="no table of keys"):
        changed(tables, {f"{section}.name": "x"})


def test_a_change_may_be_made_in_a_phrase_of_a_plan() -> None:
    limits = [{"kind": "must-target", "degree": "3"}, {"kind": "ambitus", "semitones": 9}]
    tables = {"join": {"reach": 2}, "phrase": [{"bars": "1-2"}, {"bars": "3-4", "limit": limits}]}
    change = {"phrase 2.limit 2": None, "phrase 2.limit 1.semitones": 12, "phrase 1.join.reach": 3}
    assert changed(tables, change) == {
        "join": {"reach": 2},
        "phrase": [
            {"bars": "1-2", "join": {"reach": 3}},
            {"bars": "3-4", "limit": [{"kind": "ambitus", "semitones": 12}]},
        ],
    }
    assert tables["phrase"][0] == {"bars": "1-2"}
