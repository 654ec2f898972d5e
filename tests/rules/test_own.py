"""Rules of a teacher's own in Python: loading, both kinds, failures, and that nothing runs unasked."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from everyline import corpora
from everyline.corpora.errors import InputError
from everyline.rules import analysis
from everyline.rules.breaches import breaches
from everyline.rules.canonical import fingerprint
from everyline.rules.own import RuleFailed, loader
from everyline.rules.rulefile import load_rules, parse_rules
from everyline.rules.ruleset import Rules
from everyline.solver.compiler import compile_rules
from everyline.solver.contract import engine
from everyline.solver.filtered import TooManyLines, filtered, of_lines

CORPUS = corpora.load()
DATA: dict[str, Any] = {
    "changes": "Dm7 G7 | Cmaj7",
    "range": {"lowest": "A3", "highest": "C5"},
    "ending": {"use": ["plain"]},
}
SOURCE = '''
class NoTwoLeaps:
    """No two leaps of a major third or more in a row."""

    def start(self):
        return (None, False)

    def step(self, state, note):
        before, leapt = state
        leap = before is not None and abs(note.pitch - before) >= 4
        return None if leap and leapt else (note.pitch, leap)

    def content(self, state):
        return True


class FewLeaps:
    def __init__(self, progression):
        self.most = len(progression.chords) - 1

    def start(self):
        return (None, 0)

    def step(self, state, note):
        leaps = state[1] + (state[0] is not None and abs(note.pitch - state[0]) >= 4)
        return (note.pitch, leaps) if leaps <= self.most else None

    def content(self, state):
        return state[1] <= self.most


class FailsOnA:
    def start(self):
        return 0

    def step(self, state, note):
        return 1 // (note.pitch - 69)

    def content(self, state):
        return True


class FailsAtTheEnd(FailsOnA):
    def step(self, state, note):
        return 0

    def content(self, state):
        return {}["no such key"]


class KeepsLists(FailsOnA):
    def step(self, state, note):
        return [note.pitch]


class StartsNowhere(FailsOnA):
    def start(self):
        return None


class Half:
    def start(self):
        return 0


def arch(line):
    """The highest note is neither first nor last."""
    return max(line.pitches) not in (line.pitches[0], line.pitches[-1])


def enters_plainly(line):
    return line.annotated.notes[0].role == "entry"


def fails(line):
    return line.pitches[999]


def leaves(line):
    raise SystemExit(3)


number = 5
'''


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "mine.py"
    path.write_text(SOURCE)
    return path


def own(file: Path, name: str, look_at: int = 10**6) -> Rules:
    data = {**DATA, "own_rules": [f"{file.name}:{name}"]}
    return parse_rules(data, CORPUS, base=file.parent, own_rules=loader(look_at))


FREE = parse_rules(DATA, CORPUS)


def leaps(pitches: list[int]) -> list[bool]:
    return [abs(b - a) >= 4 for a, b in pairwise(pitches)]


def test_step_rule_is_a_limit(file: Path) -> None:
    rules = own(file, "NoTwoLeaps")
    expected = []
    for events in compile_rules(FREE).walk():
        wide = leaps([event.pitch for event in events])
        if not any(a and b for a, b in pairwise(wide)):
            expected.append(events)
        else:
            assert not analysis.holds(rules, events)
            assert any("NoTwoLeaps" in breach.message for breach in breaches(rules, events))
    assert 0 < len(expected) < compile_rules(FREE).count
    assert list(compile_rules(rules).walk()) == expected
    assert rules.limits[0].describe() == "No two leaps of a major third or more in a row"


def test_a_class_may_ask_for_the_progression(file: Path) -> None:
    most = len(FREE.progression.chords) - 1
    expected = [
        events
        for events in compile_rules(FREE).walk()
        if sum(leaps([event.pitch for event in events])) <= most
    ]
    assert list(compile_rules(own(file, "FewLeaps")).walk()) == expected


def test_whole_line_rule_filters(file: Path) -> None:
    said: list[str] = []
    data = {**DATA, "own_rules": ["mine.py:arch", "mine.py:enters_plainly"]}
    rules = parse_rules(data, CORPUS, base=file.parent, own_rules=loader(report=said.append))
    expected = []
    for events in compile_rules(FREE).walk():
        pitches = [event.pitch for event in events]
        best = analysis.best_analysis(FREE, events)
        assert best is not None
        if max(pitches) not in (pitches[0], pitches[-1]) and best.roles[0] == "entry":
            expected.append(events)
            assert analysis.holds(rules, events) and not breaches(rules, events)
        else:
            assert not analysis.holds(rules, events) and breaches(rules, events)
    found = compile_rules(rules)
    assert 0 < found.count < compile_rules(FREE).count
    assert list(found.walk()) == expected
    assert [found.line(number) for number in range(1, found.count + 1)] == expected
    assert [found.number(line) for line in expected] == list(range(1, found.count + 1))
    assert found.looked_at == compile_rules(FREE).count
    assert str(found.looked_at) in said[-1] and str(found.count) in said[-1]


def test_hopeless_filter_is_refused_with_the_number(file: Path) -> None:
    count = compile_rules(FREE).count
    with pytest.raises(TooManyLines, match=f"there are {count}, more than 10"):
        compile_rules(own(file, "arch", look_at=10))
    assert compile_rules(own(file, "arch", look_at=count)).count > 0


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("FailsOnA", r'"FailsOnA" failed while reading the line .*A4: ZeroDivisionError'),
        ("FailsAtTheEnd", r'"FailsAtTheEnd" failed while reading the line \S+ .*: KeyError'),
        ("KeepsLists", r'"KeepsLists" failed while reading .*cannot be hashed'),
        ("StartsNowhere", r'"StartsNowhere" failed while reading .*no state'),
        ("fails", r'"fails" failed while reading the line \S+ \S+ .*: IndexError'),
        ("leaves", r'"leaves" failed while reading the line .*SystemExit'),
    ],
)
def test_failures_name_the_rule_and_the_line(file: Path, name: str, words: str) -> None:
    with pytest.raises(RuleFailed, match=words):
        compile_rules(own(file, name))


def test_the_line_told_is_the_line_read(file: Path) -> None:
    with pytest.raises(RuleFailed) as caught:
        compile_rules(own(file, "FailsOnA"))
    names = str(caught.value).split("the line ")[1].split(":")[0].split()
    assert names[-1] == "A4" and "A4" not in names[:-1]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("mine.py:Half", "step rule without step and content"),
        ("mine.py:number", "neither a function"),
        ("mine.py:arches", 'Did you mean "arch"'),
        ("other.py:arch", "cannot be read"),
        ("not-installed", "is not installed"),
    ],
)
def test_what_cannot_be_loaded(file: Path, name: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        parse_rules({**DATA, "own_rules": [name]}, CORPUS, base=file.parent, own_rules=loader())


def test_broken_files_are_told_with_their_line(tmp_path: Path) -> None:
    (tmp_path / "odd.py").write_text("def rule(line):\n    return (\n")
    with pytest.raises(InputError, match="line 2 is not Python"):
        parse_rules({**DATA, "own_rules": ["odd.py:rule"]}, CORPUS, base=tmp_path, own_rules=loader())
    (tmp_path / "raises.py").write_text("1 / 0\n")
    with pytest.raises(InputError, match="ZeroDivisionError"):
        parse_rules({**DATA, "own_rules": ["raises.py:rule"]}, CORPUS, base=tmp_path, own_rules=loader())


def test_nothing_runs_unless_allowed(tmp_path: Path) -> None:
    trace = tmp_path / "ran"
    (tmp_path / "code.py").write_text(f"open({str(trace)!r}, 'w').close()\ndef rule(line): return True\n")
    toml = tmp_path / "rules.toml"
    toml.write_text('changes = "Dm7 G7 | Cmaj7"\nown_rules = ["code.py:rule"]\n')
    with pytest.raises(InputError, match="--allow-python"):
        load_rules(toml, CORPUS)
    assert not trace.exists()
    load_rules(toml, CORPUS, own_rules=loader())
    assert trace.exists()


def test_fingerprint_follows_the_source(file: Path) -> None:
    before = fingerprint(own(file, "arch"))
    assert before != fingerprint(FREE) and before != fingerprint(own(file, "NoTwoLeaps"))
    assert before == fingerprint(own(file, "arch"))
    file.write_text(SOURCE + "\n# another word\n")
    assert fingerprint(own(file, "arch")) != before


def test_installed_rules_are_found_by_name(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    package = tmp_path / "site"
    (package / "studio-1.0.dist-info").mkdir(parents=True)
    (package / "studio_rules.py").write_text(SOURCE)
    (package / "studio-1.0.dist-info" / "METADATA").write_text(
        "Metadata-Version: 2.1\nName: studio\nVersion: 1.0\n"
    )
    (package / "studio-1.0.dist-info" / "entry_points.txt").write_text(
        "[everyline.rules]\narch-shaped = studio_rules:arch\n"
    )
    monkeypatch.syspath_prepend(str(package))
    installed = parse_rules({**DATA, "own_rules": ["arch-shaped"]}, CORPUS, own_rules=loader())
    assert compile_rules(installed).count == compile_rules(own(file, "arch")).count


def test_a_diagram_of_given_lines_is_the_compiled_one() -> None:
    diagram = compile_rules(FREE)
    again = of_lines(diagram.walk())
    assert list(again.walk()) == list(diagram.walk()) and again.size[0] <= diagram.size[0]
    empty = of_lines(iter(()))
    assert empty.count == 0 and list(empty.walk()) == []


def test_filters_of_nothing_left(file: Path) -> None:
    rules = own(file, "arch")
    assert filtered(of_lines(iter(())), rules).count == 0


@pytest.mark.parametrize("name", ["NoTwoLeaps", "arch"])
def test_other_engines_give_the_same_lines(file: Path, name: str) -> None:
    pytest.importorskip("constraint")
    rules = own(file, name)
    assert list(engine("backtracking").lines(rules)) == list(compile_rules(rules).walk())
