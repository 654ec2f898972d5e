"""Drill sets and whole-line rules on several processes: the same as in one, and when one is lost."""

from __future__ import annotations

import hashlib
import os
import signal
from array import array
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from everyline.corpora import load
from everyline.corpora.errors import InputError
from everyline.drill.choose import choose
from everyline.drill.sources import sources_of
from everyline.drill.spec import spec_of
from everyline.drill.write import DrillSet
from everyline.parallel import drills, filtering
from everyline.parallel.cluster import Cluster, in_order, on_cluster, pack
from everyline.parallel.parquet import export
from everyline.rules.own import RuleFailed, WholeLineRule, loader
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from everyline.solver.compiler import compile_rules
from everyline.solver.filtered import looking_with
from tests.everyline.parallel.folders import files

RULES = """
def wide(line):
    \"\"\"it spans a minor seventh\"\"\"
    return max(line.pitches) - min(line.pitches) >= 10


def broken(line):
    return 1 / (len(line.pitches) - 17)


class Quiet:
    \"\"\"it never leaps more than a fifth\"\"\"

    def start(self):
        return -1

    def step(self, state, note):
        return None if state >= 0 and abs(note.pitch - state) > 7 else note.pitch

    def content(self, state):
        return True
"""


@pytest.fixture(scope="module")
def cluster() -> Iterator[Cluster]:
    with Cluster(workers=2) as made:
        yield made


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "own.py").write_text(RULES)
    return tmp_path


def ruled(folder: Path, kind: str) -> Rules:
    tables = {
        "changes": "Dm7 | G7 | Cmaj7",
        "entry": {"start": ["D4"]},
        "range": {"lowest": "C4", "highest": "B4"},
        "ending": {"use": ["plain"]},
        "own_rules": [f"own.py:{kind}"],
    }
    return parse_rules(tables, load(), base=folder, own_rules=loader())


def bytes_of(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_a_drill_set_is_the_same_to_the_byte_on_two_processes(cluster: Cluster, tmp_path: Path) -> None:
    told = {
        "rules": ["first-enclosure"],
        "keys": ["home", "Eb"],
        "lines": 120,
        "order": "easiest",
        "kinds": ["play", "complete", "slip", "continue"],
        "formats": ["text", "musicxml"],
        "seed": 5,
    }
    spec = spec_of(told, "the test")
    for name, mapper in (("one", {}), ("two", {"mapper": drills.on_cluster(cluster)})):
        sources = sources_of(spec, load())
        DrillSet(spec, sources, choose(spec, sources, **mapper)).write(tmp_path / name, **mapper)
    assert bytes_of(tmp_path / "two") == bytes_of(tmp_path / "one")
    assert len(bytes_of(tmp_path / "one")) > 3


def test_a_whole_line_rule_keeps_the_same_lines_on_two_processes(cluster: Cluster, folder: Path) -> None:
    rules = ruled(folder, "wide")
    alone = compile_rules(rules)
    with looking_with(filtering.on_cluster(cluster)):
        together = compile_rules(replace(rules))
    assert 0 < alone.count < alone.looked_at
    assert list(together.walk()) == list(alone.walk())
    assert together.looked_at == alone.looked_at


def test_a_rule_that_fails_in_another_process_says_the_same(cluster: Cluster, folder: Path) -> None:
    rules = ruled(folder, "broken")
    with pytest.raises(RuleFailed) as alone:
        compile_rules(rules)
    with looking_with(filtering.on_cluster(cluster)), pytest.raises(RuleFailed) as together:
        compile_rules(replace(rules))
    assert str(together.value) == str(alone.value)


@pytest.mark.parametrize("kind", ["Quiet", "wide"])
def test_rules_in_python_go_along_with_an_export(cluster: Cluster, folder: Path, kind: str) -> None:
    rules = ruled(folder, kind)
    export(rules, folder / "one", last=3000, part_lines=1000)
    export(replace(rules), folder / "two", last=3000, part_lines=1000, runner=on_cluster(cluster))
    assert files(folder / "two") == files(folder / "one")


def test_a_rule_that_is_in_no_file_stays_in_its_process(folder: Path) -> None:
    made = WholeLineRule("made", "made:0", "it is made here", lambda line: True)
    with pytest.raises(InputError, match="cannot be sent to other processes"):
        pack(replace(ruled(folder, "wide"), filters=(made,)))


def test_a_process_lost_in_the_middle_is_replaced(tmp_path: Path) -> None:
    mark = tmp_path / "lost"
    with Cluster(workers=2) as made:
        answers = list(in_order(made, [(doubled, number, str(mark)) for number in range(12)], ahead=4))
    assert mark.exists()
    assert answers == [2 * number for number in range(12)]


def doubled(number: int, mark: str) -> int:
    """Twice the number; the first process to meet 5 ends itself."""
    if number == 5 and not Path(mark).exists():
        Path(mark).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return 2 * number


@pytest.mark.parametrize("numbers", [[], [7], [1, 2, 5, 9], list(range(1, 3001)), list(range(3, 2000, 2))])
def test_lines_are_the_same_whether_asked_for_or_walked_to(numbers: list[int]) -> None:
    diagram = compile_rules(parse_rules({"changes": "Dm7 | G7 | Cmaj7"}, load()))
    first = 40_000
    found = list(filtering.lines_of(diagram, first, array("q", [first + each for each in numbers])))
    assert found == [diagram.line(first + each) for each in numbers]
