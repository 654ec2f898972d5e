"""What is wrong with a rule file is said in one clear sentence: file, key, value, and what is allowed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from everyline.corpora.errors import EverylineError, InputError
from everyline.rules.rulefile import load_rules, parse_rules
from tests.rules.limit_cases import corpus

CHANGES = {"changes": "Dm7 | G7 | Cmaj7"}
MINE = {"name": "mine", "notes": "#5 b9 | 5"}

# (keys of the file, what the message must say)
FAULTS: tuple[tuple[dict[str, Any], tuple[str, ...]], ...] = (
    # the top
    ({"chnages": "Dm7 | G7"}, ('"chnages"', 'Did you mean "changes"?')),
    ({"changes": 3}, ("changes = 3", "quotation marks")),
    ({"changes": ""}, ('changes = ""', "empty")),
    ({"changes": "Dm7 | Gx7 | C"}, ("changes", '"Gx7"')),
    ({"changes": "Dm7"}, ("changes", "two bars")),
    ({"changes": "ii7 | V7 | I"}, ("changes", "key")),
    ({"changes": "Dm7 G7 C7 | F"}, ("changes", '"Dm7 / G7 C7"')),
    ({"key": "H"}, ('key = "H"',)),
    ({"meter": "4/5"}, ('meter = "4/5"', "4/4")),
    ({"meter": 4}, ("meter = 4", "quotation marks")),
    ({"subdivision": 5}, ("subdivision = 5", "from 1 to 4")),
    ({"subdivision": "2"}, ('subdivision = "2"', "without quotation marks")),
    ({"subdivision": True}, ("subdivision = true", "whole number")),
    ({"title": ["x"]}, ('title = ["x"]', "text")),
    ({"entries": {}}, ('"entries"', 'Did you mean "entry"?')),
    ({"approach": 3}, ("[approach]", "3", "table of keys")),
    ({"limit": {"kind": "single-peak"}}, ("limit", "[[limit]]")),
    ({"figures": [3]}, ("figures = [3]", "[[figures]]")),
    # scales
    ({"scales": {"Em7": "dorian"}}, ("[scales]", "Em7", "Dm7, G7 and Cmaj7")),
    ({"scales": {"G7": "alterd"}}, ('"G7"', 'Did you mean "altered"?')),
    ({"scales": {"G7": ["1", "q"]}}, ('"G7"', '"q"')),
    ({"scales": {"G7": ["1", "1", "3"]}}, ('"G7"', "3 different tones")),
    ({"scales": {"G7": 7}}, ('"G7" = 7', "list of its degrees")),
    ({"scales": {"Dm7": "dorian", "D-7": "dorian"}}, ("D-7", "the same chord")),
    ({"scales": "dorian"}, ("[scales]", "table of chords")),
    # entry
    ({"entry": {"beats": ["5"]}}, ('beats = ["5"]', "1 1& 2 2&")),
    ({"entry": {"beats": "1"}}, ('beats = "1"', "square brackets")),
    ({"entry": {"beats": []}}, ("beats = []", "empty")),
    ({"changes": "Dm7 G7 | C", "entry": {"beats": ["3"]}}, ('beats = ["3"]', "Dm7", "belongs to G7")),
    ({"entry": {"pickup": [8]}}, ("pickup = [8]", "shorter than a bar", "1 to 7")),
    ({"entry": {"pickup": [0]}}, ("pickup = [0]", "at least 1")),
    ({"entry": {"pickup": 2}}, ("pickup = 2", "square brackets")),
    ({"entry": {"start": ["D9"]}}, ('start = ["D9"]', "not in the range")),
    ({"entry": {"start": ["X"]}}, ('start = ["X"]', "note name")),
    ({"range": {"lowest": "E3", "highest": "F3"}, "entry": {"start": ["D"]}}, ('"D" is not in the range',)),
    ({"entry": {"degrees": ["8"]}}, ('degrees = ["8"]', "b3")),
    ({"entry": {"begin": ["D4"]}}, ('"begin"', "beats, pickup, start and degrees")),
    # arpeggio
    ({"arpeggio": {"direction": "upp"}}, ('direction = "upp"', "either, up and down", 'Did you mean "up"?')),
    ({"arpeggio": {"turns": -1}}, ("turns = -1", "from 0")),
    # approach
    ({"approach": {"figures": ["enclosure2"]}}, ('"enclosure2"', 'Did you mean "enclosure-2"?')),
    ({"approach": {"figures": []}}, ("figures = []", "empty")),
    ({"approach": {"figures": "enclosure-2"}}, ('figures = "enclosure-2"', "square brackets")),
    ({"approach": {"count": ["2-1"]}}, ('"2-1"', "empty", '"1-2"')),
    ({"approach": {"count": ["one"]}}, ('"one"', '"0-1"')),
    ({"approach": {"count": ["-1"]}}, ('"-1"',)),
    ({"approach": {"count": [-1]}}, ("count = [-1]", "from 0 to 99")),
    ({"approach": {"count": ["500"]}}, ('"500"', "99")),
    ({"approach": {"count": [0.5]}}, ("count = [0.5]", "counts")),
    ({"approach": {"count": 1}}, ("count = 1", "square brackets")),
    ({"approach": {"targets": ["h"]}}, ('targets = ["h"]',)),
    ({"approach": {"reach": -1}}, ("reach = -1", "from 0 to 127")),
    ({"approach": {"after": "1"}}, ('after = "1"', "without quotation marks")),
    # handoff
    ({"handoff": {"rule": "nearst"}}, ('rule = "nearst"', 'Did you mean "nearest"?')),
    ({"handoff": "nearest"}, ("[handoff]", '"nearest"', "table of keys")),
    # endings
    ({"ending": {"use": ["plane"]}}, ('use = ["plane"]', 'Did you mean "plain"?')),
    ({"ending": {"use": []}}, ("use = []", "empty")),
    ({"ending": {"lead_in": 0}}, ("lead_in = 0", "from 1")),
    ({"changes": "Dm7 | Cmaj7", "ending": {"use": ["mine"]}, "endings": [MINE]}, ('"mine"', "Dm7")),
    ({"changes": "Dm7 | %", "ending": {"use": ["mine"]}, "endings": [MINE]}, ('"mine"', "one")),
    ({"changes": "Dm7 | Cmaj7", "endings": [MINE]}, ('"mine"', "Dm7")),
    ({"endings": [{"notes": "#5 | 5"}]}, ("[[endings]] 1", "name is missing")),
    ({"endings": [{"name": "mine", "notes": "#5 5"}]}, ('"mine"', "|")),
    ({"endings": [{**MINE, "rhythm": "8 | 4"}]}, ('"mine"', "rhythm")),
    ({"endings": [{**MINE, "over": []}]}, ("over = []", "empty")),
    ({"endings": [MINE, MINE]}, ('two endings are called "mine"',)),
    ({"endings": [{**MINE, "name": "plain"}]}, ("plain",)),
    # figures
    ({"figures": [{"name": "wide", "steps": "+3"}]}, ('"wide"', '"+3"')),
    ({"figures": [{"name": "above-below", "steps": "+1 -1"}]}, ('"above-below"', "another name")),
    ({"figures": [{"name": "enclosure-2", "steps": "+1 -1"}]}, ('"enclosure-2"', "another name")),
    ({"figures": [{"name": "wide", "step": "+1"}]}, ("[[figures]] 1", 'Did you mean "steps"?')),
    # limits
    ({"limit": [{"kind": "single-peek"}]}, ("[[limit]] 1", 'Did you mean "single-peak"?')),
    ({"limit": [{"kind": "single-peak"}, {}]}, ("[[limit]] 2", "kind is missing")),
    ({"limit": [{"kind": "ambitus", "semitones": 200}]}, ("[[limit]] 1 (ambitus)", "semitones = 200")),
    # roughness
    ({"roughness": {"step": -1}}, ("[roughness]", "step = -1")),
    ({"roughness": {"steps": 1}}, ('"steps"', 'Did you mean "step"?')),
)  # fmt: skip


@pytest.mark.parametrize(("keys", "says"), FAULTS, ids=[str(fault[0])[:70] for fault in FAULTS])
def test_fault_is_explained(keys: dict[str, Any], says: tuple[str, ...]) -> None:
    with pytest.raises(InputError) as caught:
        parse_rules({**CHANGES, **keys}, corpus(), name="lesson.toml")
    message = str(caught.value)
    for words in ("lesson.toml", *says):
        assert words in message
    assert "\n" not in message
    assert message.endswith((".", "?"))


def test_changes_are_needed() -> None:
    with pytest.raises(InputError, match=r"^lesson.toml: the key changes is missing"):
        parse_rules({}, corpus(), name="lesson.toml")


def test_every_fault_is_under_the_one_base_class() -> None:
    assert issubclass(InputError, EverylineError)


def write(path: Path, data: bytes) -> Path:
    path.write_bytes(data)
    return path


def test_missing_file_is_named_with_the_nearest(tmp_path: Path) -> None:
    write(tmp_path / "lesson.toml", b'changes = "Dm7 | G7"')
    with pytest.raises(InputError, match=r'leson\.toml: there is no such file.*"lesson.toml"'):
        load_rules(tmp_path / "leson.toml", corpus())


def test_a_folder_is_no_rule_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="folder"):
        load_rules(tmp_path, corpus())


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"\x00\xff\xfe\x89PNG\r\n", "UTF-8"),
        ("changes = \"Dm7♭\"".encode("utf-16"), "UTF-8"),
        (b'changes = "Dm7 | G7"\nmeter = 4/4\n', "line 2"),
        (b"changes", "TOML"),
        (b"a = " + b"[" * 5000, "TOML"),
        (b'x = "' + b"a" * 10_000_000 + b'"', "larger than"),
    ],
)  # fmt: skip
def test_what_is_no_rule_file_is_said_to_be_none(tmp_path: Path, data: bytes, says: str) -> None:
    with pytest.raises(InputError, match=says) as caught:
        load_rules(write(tmp_path / "lesson.toml", data), corpus())
    assert "lesson.toml" in str(caught.value)
    assert len(str(caught.value)) < 500 + len(str(tmp_path))


def test_an_empty_file_lacks_its_changes(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="the key changes is missing"):
        load_rules(write(tmp_path / "lesson.toml", b""), corpus())


def test_values_are_shown_short_and_printable() -> None:
    with pytest.raises(InputError) as caught:
        parse_rules({**CHANGES, "handoff": {"rule": "\x1b[31m" + "x" * 5000}}, corpus())
    assert "\x1b" not in str(caught.value)
    assert len(str(caught.value)) < 300
