"""Whole drill sets: chosen, ordered, written, stopped, gone on with, and made again."""

from __future__ import annotations

import itertools
import json
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from everyline.cli.main import main
from everyline.corpora.errors import InputError
from everyline.drill.choose import choose, label_of, spread
from everyline.drill.difficulty import difficulty
from everyline.drill.sources import Source, sources_of
from everyline.drill.spec import ORDERS, SAMPLINGS, Spec, read_spec, spec_of
from everyline.drill.write import DrillSet, from_manifest
from tests.spaces import CORPUS

KINDS = ("play", "complete", "slip", "continue")


def drill(**keys: Any) -> tuple[Spec, list[Source], DrillSet]:
    spec = Spec(**{"rules": ("first-enclosure",), "lines": 12, "formats": ("text",)} | keys)
    sources = sources_of(spec, CORPUS)
    return spec, sources, DrillSet(spec, sources, choose(spec, sources))


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def rows(folder: Path) -> list[dict[str, Any]]:
    return [json.loads(row) for row in (folder / "manifest.jsonl").read_text().splitlines()]


@pytest.mark.parametrize("sampling", SAMPLINGS)
def test_every_sampling_gives_distinct_lines_and_the_same_for_a_seed(sampling: str) -> None:
    traits = ("start-degree", "target-degree") if sampling in ("balanced", "pairs") else ()
    one, again = (drill(sampling=sampling, traits=traits)[2].chosen for _ in range(2))
    assert one == again
    assert len(set(one.items)) == len(one.items) == 12


@pytest.mark.parametrize("sampling", ["balanced", "pairs"])
def test_a_trait_named_twice_counts_once(sampling: str) -> None:
    once, twice = (
        drill(sampling=sampling, traits=traits, keys=("C", "F"))[2].chosen
        for traits in (("key", "start-degree"), ("key", "start-degree", "key", "start-degree"))
    )
    assert once == twice


@pytest.mark.parametrize("order", ORDERS)
def test_every_order_has_the_same_lines(order: str) -> None:
    spec, sources, found = drill(order=order, by="target-degree", lines=30)
    drawn = drill(lines=30)[2].chosen.items
    assert sorted(found.chosen.items) == sorted(drawn)
    lines = [sources[s].line(n) for s, n in found.chosen.items]
    labels = [label_of(sources[0], line, spec.by) for line in lines]
    if order == "easiest":
        ranks = [(difficulty(line), line.roughness) for line in lines]
        assert ranks == sorted(ranks)
    elif order == "one-thing":
        changes = sum(a != b for a, b in itertools.pairwise(labels))
        assert changes == len(set(labels)) - 1
    elif order == "interleaved":
        kinds = len(set(labels))
        assert len(set(labels[:kinds])) == kinds > 1


def test_keys_share_the_lines_evenly() -> None:
    _, sources, found = drill(keys=("cycle",), lines=40)
    per_source = Counter(source for source, _ in found.chosen.items)
    assert [source.key for source in sources] == "C F Bb Eb Ab Db Gb B E A D G".split()
    assert set(per_source.values()) == {3, 4} and len(per_source) == 12


def test_shares_are_even_as_far_as_they_last() -> None:
    assert spread(10, [100, 100, 100]) == [4, 3, 3]
    assert spread(10, [1, 100, 2]) == [1, 7, 2]
    assert spread(10, [1, 2, 0]) == [1, 2, 0]


def test_balanced_over_keys_without_being_asked() -> None:
    _, sources, found = drill(keys=("C", "F", "Bb"), sampling="balanced", traits=("start-degree",), lines=24)
    keys = Counter(sources[source].key for source, _ in found.chosen.items)
    assert set(keys.values()) == {8}


def test_more_than_there_are_says_so(tmp_path: Path) -> None:
    small = tmp_path / "small.toml"
    small.write_text(
        'changes = "Dm7 | %"\n[approach]\ncount = ["0"]\n[range]\nlowest = "D4"\nhighest = "D5"\n'
    )
    _, _, found = drill(rules=(str(small),), lines=500)
    assert found.chosen.remarks[0].startswith("500 lines were asked for; there are only")


def test_a_set_that_is_stopped_goes_on_with_the_same_result(tmp_path: Path) -> None:
    _, _, found = drill(lines=120, kinds=KINDS, formats=("text", "musicxml"))
    found.write(tmp_path / "whole")

    class Stop(Exception):
        pass

    def stop(done: int, of: int) -> None:
        raise Stop

    with pytest.raises(Stop):
        found.write(tmp_path / "parts", stop)
    # What was being written when it stopped is cut off.
    with open(tmp_path / "parts" / "exercises.txt.part", "a") as file:
        file.write("half an exer")
    with pytest.raises(InputError, match="another drill set"):
        drill(lines=120, kinds=KINDS, seed=2)[2].write(tmp_path / "parts")
    assert found.write(tmp_path / "parts") == 50
    assert contents(tmp_path / "parts") == contents(tmp_path / "whole")
    assert set(contents(tmp_path / "whole")) >= {"manifest.jsonl", "exercises.txt", "key.txt"}
    with pytest.raises(InputError, match="not empty"):
        found.write(tmp_path / "whole")


def test_a_set_is_made_again_from_its_manifest_alone(tmp_path: Path) -> None:
    _, _, found = drill(rules=("first-enclosure", "triplets"), keys=("level-2",), kinds=KINDS, lines=20)
    found.write(tmp_path / "one")
    from_manifest(tmp_path / "one" / "manifest.jsonl", CORPUS).write(tmp_path / "two")
    assert contents(tmp_path / "one") == contents(tmp_path / "two")
    for row in rows(tmp_path / "one")[1:]:
        assert row["rules"] in rows(tmp_path / "one")[0]["rules"]


def test_the_seed_changes_the_set(tmp_path: Path) -> None:
    for name, seed in (("a", 1), ("b", 1), ("c", 2)):
        drill(seed=seed, kinds=KINDS)[2].write(tmp_path / name)
    assert contents(tmp_path / "a") == contents(tmp_path / "b") != contents(tmp_path / "c")


def test_the_command_with_a_file_and_options(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "week.toml"
    file.write_text('rules = ["first-enclosure"]\nlines = 5\nkeys = ["G"]\nkinds = ["play", "complete"]\n')
    assert main(["drill", str(file), "--lines", "3", "--output", str(tmp_path / "out")]) == 0
    assert "3 exercises" in capsys.readouterr().err
    found = rows(tmp_path / "out")
    assert [row["key"] for row in found[1:]] == ["G"] * 3
    assert found[0]["description"]["lines"] == 3
    assert (tmp_path / "out" / "scores" / "000001-exercises.musicxml").exists()
    assert (
        main(
            ["drill", "--rebuild", str(tmp_path / "out" / "manifest.jsonl"), "--output", str(tmp_path / "b")]
        )
        == 0
    )
    assert contents(tmp_path / "b") == contents(tmp_path / "out")


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ({"lines": 0}, "from 1 to 1000000"),
        ({"lines": None}, "lines = null: it must be a whole number"),
        ({"sampling": "unifrom"}, 'Did you mean "uniform"'),
        ({"sampling": "balanced"}, "needs traits"),
        ({"traits": ["start-degre"]}, 'Did you mean "start-degree"'),
        ({"kinds": ["plya"]}, 'Did you mean "play"'),
        ({"positions": [5]}, "need one instrument"),
        ({"lines": "many"}, "whole number"),
        ({"line": 4}, 'Did you mean "lines"'),
        ({"rules": []}, "it is empty; it takes a list of rule files"),
        ({"blanks": 0}, "of at least 1"),
    ],
)
def test_what_is_wrong_in_a_drill_file(keys: dict[str, Any], says: str) -> None:
    with pytest.raises(InputError, match=says):
        spec_of({"rules": ["first-enclosure"], "lines": 4} | keys, "week.toml")


def test_a_rule_file_beside_the_drill_file_is_found(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text('changes = "Dm7 | G7 | Cmaj7"\n')
    (tmp_path / "week.toml").write_text('rules = ["mine.toml"]\nlines = 2\n')
    assert read_spec(tmp_path / "week.toml").rules == (str(tmp_path / "mine.toml"),)
    with pytest.raises(InputError, match="no rule file"):
        sources_of(Spec(("first-enclosur",), 2), CORPUS)
