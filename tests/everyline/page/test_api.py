"""The interface against the library: what it answers is what Python says."""

from __future__ import annotations

import io
import json
import tomllib
import wave
from pathlib import Path
from typing import Any

import pytest

from everyline.cli.main import main
from everyline.corpora import load
from everyline.page.operations import Workspace
from everyline.rules.changes import changed
from everyline.rules.rule_text import to_toml
from everyline.rules.rulefile import parse_rules
from everyline.spaces.space import Space, parse
from tests.everyline.page.served import II_V_I, Served, streamed

TABLES: list[dict[str, Any]] = [
    II_V_I,
    {"changes": "Dm7 | G7 | Cmaj7"},
    {"changes": "ii7 V7 | Imaj7", "key": "Eb", "limit": [{"kind": "largest-leap", "semitones": 5}]},
]


@pytest.mark.parametrize("tables", TABLES)
def test_the_count_is_the_librarys(served: Served, tables: dict[str, Any]) -> None:
    found = served.rules(tables)
    assert int(found["count"]) == parse(to_toml(tables)).count


def test_a_rule_file_goes_out_and_comes_back(served: Served) -> None:
    sent = served.rules(II_V_I)
    text = served.client.get(f"/api/rules/{sent['id']}/rules.toml").text
    assert tomllib.loads(text) == II_V_I
    again = served.client.post("/api/rules", json={"text": text}).json()
    assert again["fingerprint"] == sent["fingerprint"]
    assert again["id"] == sent["id"]


@pytest.mark.parametrize("entry", load().rulefiles.values(), ids=lambda entry: entry.name)
def test_every_rule_file_of_the_corpora_can_be_begun_with(served: Served, entry: Any) -> None:
    found = served.client.get(f"/api/corpus/rules/{entry.name}").json()
    assert found["tables"] == tomllib.loads(entry.text())
    assert tomllib.loads(to_toml(found["tables"])) == found["tables"]


def test_lines_by_number_smoothness_and_variety(served: Served) -> None:
    rules = served.rules(II_V_I)
    space = Space(parse_rules(II_V_I, load()))
    for order, wanted in (
        ("number", list(space[4:9])),
        ("smooth", list(space.smoothest(9))[4:]),
        ("varied", list(space.varied(9))[4:]),
    ):
        answer = served.client.get(
            f"/api/rules/{rules['id']}/lines", params={"from": "5", "most": "5", "order": order}
        ).json()
        assert [line["number"] for line in answer["lines"]] == [str(line.number) for line in wanted]
        assert [line["roughness"] for line in answer["lines"]] == [line.roughness for line in wanted]


def test_varied_lines_are_different_lines_in_any_octave_to_the_last(served: Served) -> None:
    tables = {"changes": "Dm7 | G7 | Cmaj7", "range": {"instrument": "guitar"}}
    path = f"/api/rules/{served.rules(tables)['id']}/lines"
    first = served.client.get(path, params={"from": "1", "most": "12", "order": "varied"}).json()
    space = Space(parse_rules(tables, load()))
    found = [space.line(int(line["number"])) for line in first["lines"]]
    assert len({tuple((note.onset, note.pitch % 12) for note in line.notes) for line in found}) == 12
    last = served.client.get(path, params={"from": first["length"], "most": "12", "order": "varied"}).json()
    assert len(last["lines"]) == 1


def test_one_line_says_everything_about_each_note(served: Served) -> None:
    rules = served.rules(II_V_I)
    line = Space(parse_rules(II_V_I, load())).line(17)
    found = served.client.get(f"/api/rules/{rules['id']}/lines/17").json()
    assert [note["name"] for note in found["notes"]] == [note.name for note in line.notes]
    assert [note["role"] for note in found["notes"]] == [note.role for note in line.notes]
    assert all(note["words"] and note["rule"] for note in found["notes"])
    assert served.client.get(f"/api/rules/{rules['id']}/number", params={"notes": found["text"]}).json() == {
        "number": "17"
    }


def test_each_choice_is_counted_as_if_it_were_made(served: Served) -> None:
    rules = served.rules(II_V_I)
    changes: list[dict[str, Any]] = [
        {"handoff.rule": "step"},
        {"approach.count": ["0"]},
        {"approach.count": None, "approach.figures": ["above-below"]},
        {"limit": [{"kind": "largest-leap", "semitones": 2}]},
        {"approach.figures": ["no-such-figure"]},
    ]
    answer = served.client.post(f"/api/rules/{rules['id']}/choices", json={"changes": changes}).json()
    for change, found in zip(changes[:-1], answer["choices"], strict=False):
        assert found["count"] == served.rules(changed(II_V_I, change))["count"]
    assert answer["choices"][-1]["count"] is None
    assert "no-such-figure" in answer["choices"][-1]["why"]


@pytest.mark.parametrize("tables", [II_V_I, {**II_V_I, "entry": {"beats": ["1", "1&", "2"]}}])
def test_a_value_of_the_statistics_is_a_rule_that_leaves_as_many_lines(tables: dict[str, Any]) -> None:
    workspace = Workspace()
    counted = set()
    for facet in workspace.do("facets", {"tables": tables}):
        for value in facet["values"]:
            if value["change"] is not None:
                there = workspace.space(changed(tables, value["change"])).count
                assert str(there) == value["count"], (facet["kind"], value)
                counted.add(facet["kind"])
    assert counted >= {"start-note", "start-degree", "entry-beat", "ending", "outside-notes"}


def test_every_remedy_brings_back_what_it_says(served: Served) -> None:
    tables = {**II_V_I, "limit": [{"kind": "largest-leap", "semitones": 2}, {"kind": "single-peak"}]}
    rules = served.rules(tables)
    assert rules["count"] == "0"
    found = served.client.get(f"/api/rules/{rules['id']}/conflicts").json()
    assert found["exclusions"]
    assert found["remedies"]
    for remedy in found["remedies"]:
        assert int(remedy["count"]) > 0
        assert served.rules(changed(tables, remedy["change"]))["count"] == remedy["count"]


def test_timing_is_that_of_the_performance(served: Served) -> None:
    from everyline.sound.performance import perform
    from everyline.sound.sound_options import SoundOptions

    rules = served.rules(II_V_I)
    line = Space(parse_rules(II_V_I, load())).line(3)
    wanted = perform(line, SoundOptions(tempi=(90,), swing="2:1", count_in=2, count_in_each=False))
    path = f"/api/rules/{rules['id']}/lines/3/timing"
    found = served.client.get(path, params={"tempo": "90", "swing": "2:1", "count_in": "2"}).json()
    assert [(n["note"], n["start"], n["end"]) for n in found["notes"]] == [
        (n.note, n.start, n.end) for n in wanted.timed_notes()
    ]
    assert found["seconds"] == wanted.seconds


def test_a_loop_is_as_long_as_its_timing_says(served: Served) -> None:
    rules = served.rules(II_V_I)
    path = f"/api/rules/{rules['id']}/lines/3"
    query = {"tempo": "300", "loop": "true"}
    told = served.client.get(f"{path}/timing", params={"tempo": "300"}).json()["loop"]
    assert told["begin"] == 0
    with wave.open(io.BytesIO(served.client.get(f"{path}/sound.wav", params=query).content)) as sound:
        assert sound.getnframes() == round(told["seconds"] * sound.getframerate())


def test_a_feel_is_played_where_it_goes_with_the_meter(served: Served) -> None:
    rules = served.rules(II_V_I)
    path = f"/api/rules/{rules['id']}/lines/3/timing"
    feels = [served.client.get(path, params={"feel": feel}).json()["feel"] for feel in ("bossa", "waltz")]
    assert feels == ["bossa", "swing"]
    assert served.client.get(path, params={"feel": "march"}).status_code == 400
    assert served.client.get(path, params={"loop": "perhaps"}).status_code == 400


def test_sound_comes_in_pieces(served: Served) -> None:
    """RFC 9110, section 14: a player that seeks asks for a range and is answered 206 with just that."""
    rules = served.rules(II_V_I)
    path = f"/api/rules/{rules['id']}/lines/3/sound.wav"
    whole = served.client.get(path)
    assert whole.content[:4] == b"RIFF"
    piece = served.client.get(path, headers={"range": "bytes=1000-1999"})
    assert piece.status_code == 206
    assert piece.content == whole.content[1000:2000]


def test_checking_gives_breaches_and_the_nearest_lines(served: Served) -> None:
    rules = served.rules(II_V_I)
    line = served.client.get(f"/api/rules/{rules['id']}/lines/40").json()
    good = served.client.post(f"/api/rules/{rules['id']}/check", json={"notes": line["text"]}).json()
    assert good["valid"] and good["number"] == "40"
    names = line["text"].split()
    names[3] = "Gb5" if names[3] != "Gb5" else "F5"
    bad = served.client.post(f"/api/rules/{rules['id']}/check", json={"notes": " ".join(names)}).json()
    assert not bad["valid"]
    assert any(breach["note"] == 4 for breach in bad["breaches"])
    assert "40" in [near["number"] for near in bad["by_onset"]]
    assert bad["by_onset"][0]["marked"] == [3]


def test_rules_in_python_are_never_taken(served: Served) -> None:
    for body in (
        {"tables": {**II_V_I, "own_rules": ["/etc/passwd:rule"]}},
        {"text": 'changes = "Dm7 | G7 | Cmaj7"\nown_rules = ["file.py:rule"]\n'},
    ):
        answer = served.client.post("/api/rules", json=body)
        assert answer.status_code == 400
        assert "own_rules" in answer.json()["error"]


def test_the_same_mistake_reads_the_same_as_on_the_command_line(served: Served) -> None:
    tables = {"changes": "Dm7 | G7 | Cmaj7", "approach": {"figures": ["enclosur-2"]}}
    answer = served.client.post("/api/rules", json={"tables": tables})
    assert answer.status_code == 400
    assert 'Did you mean "enclosure-2"?' in answer.json()["error"]


def test_the_vocabulary_is_the_tables(served: Served) -> None:
    from everyline.rules.keys import SCHEMA
    from everyline.rules.limits import LIMITS

    found = served.client.get("/api/vocabulary").json()
    keys = {
        f"{section['name']}.{key['name']}".lstrip(".")
        for section in found["sections"]
        for key in section["keys"]
    }
    assert keys == set(SCHEMA) - {"own_rules"}
    assert [limit["kind"] for limit in found["limits"]] == list(LIMITS)


def test_numbers_of_any_size_stay_exact(served: Served) -> None:
    """Numbers beyond 2**53 would be rounded by a browser, so they travel as text."""
    tables = {"changes": "Dm7 | G7 | Cmaj7 | % | Dm7 | G7 | Cmaj7 | % | Dm7 | G7 | Cmaj7"}
    rules = served.rules(tables)
    count = int(rules["count"])
    assert count > 2**53
    found = served.client.get(f"/api/rules/{rules['id']}/lines", params={"from": str(count), "most": "3"})
    assert [line["number"] for line in found.json()["lines"]] == [str(count)]
    assert json.loads(found.text)["count"] == str(count)


@pytest.mark.parametrize("sampling", ["balanced", "pairs"])
def test_a_trait_named_twice_counts_once_in_a_drill(served: Served, sampling: str) -> None:
    path = f"/api/rules/{served.rules(II_V_I)['id']}/drill"
    wish = {"how_many": 4, "sampling": sampling, "kinds": ["play"]}
    once, twice = (
        streamed(served.client.post(path, json={**wish, "traits": traits}))
        for traits in (["figure", "start-degree"], ["figure", "start-degree", "figure"])
    )
    assert once[0] and once == twice


def test_a_drill_set_is_that_of_the_command_line(served: Served, tmp_path: Path) -> None:
    """The same rules, wish and seed: the same lines in the same order."""
    wish = {"how_many": 5, "keys": "cycle", "order": "interleaved", "kinds": ["play", "slip"], "seed": 5}
    found, _ = streamed(served.client.post(f"/api/rules/{served.rules(II_V_I)['id']}/drill", json=wish))
    rules, folder = tmp_path / "rules.toml", tmp_path / "set"
    rules.write_text(to_toml(II_V_I))
    options = ["--lines", "5", "--keys", "cycle", "--order", "interleaved", "--by", "key", "--seed", "5"]
    options += ["--kinds", "play", "slip", "--formats", "text"]
    assert main(["drill", "--rules", str(rules), *options, "--output", str(folder)]) == 0
    rows = [json.loads(row) for row in (folder / "manifest.jsonl").read_text().splitlines()[1:]]
    told = [(each["key"], int(each["number"]), each["kind"]) for each in found]
    assert told == [(row["key"], row["number"], row["kind"]) for row in rows]
    assert len(told) == 5


def test_a_whole_number_may_be_written_with_a_point(served: Served) -> None:
    """JSON Schema 2020-12, validation, 6.1.1: 1.0 is an integer."""
    path = f"/api/rules/{served.rules(II_V_I)['id']}/drill"
    headers = {"content-type": "application/json"}
    plain, point, beyond = (
        served.client.post(path, content=f'{{"how_many": {number}, "kinds": ["play"]}}', headers=headers)
        for number in ("4", "4.0", "1e999")
    )
    assert plain.status_code == point.status_code == 200
    assert streamed(plain) == streamed(point)
    assert beyond.status_code == 400
