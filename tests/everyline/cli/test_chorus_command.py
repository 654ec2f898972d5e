"""The command ``chorus`` end to end: what it prints, what it writes, what it refuses and with which code."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from everyline import load_plan
from everyline.corpora.errors import InputError

PLAN = """
title = "Two breaths"
changes = "Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | %"
[range]
instrument = "guitar"
position = 5
[approach]
figures = ["above-below"]
[ending]
use = ["plain"]
[join]
reach = 4
[[phrase]]
name = "first"
bars = "1-3"
[[phrase]]
name = "second"
bars = "5-8"
[phrase.entry]
pickup = [2]
"""


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "plan.toml"
    path.write_text(PLAN)
    return path


def rows(text: str) -> list[dict]:
    return [json.loads(line) for line in text.splitlines()]


def test_as_a_program(program, plan) -> None:
    count = load_plan(plan).count
    assert program("chorus", plan, "--count") == (0, f"{count}\n", "")
    answer = program("chorus", plan)
    assert answer.code == 0
    assert answer.err == ""
    assert answer.out.splitlines()[0] == f"Two breaths: {count} choruses of 2 phrases over 8 bars"
    assert [line.split()[:3] for line in answer.out.splitlines()[2:]] == [
        ["first", "bars", "1-3"],
        ["second", "bars", "5-8"],
    ]


def test_in_the_order_of_numbers(run, plan) -> None:
    found = rows(run("chorus", plan, "--from", 40, "--most", 3, "--format", "jsonl").out)
    assert [row["number"] for row in found] == [40, 41, 42]
    named = rows(run("chorus", plan, "--numbers", "41 40", "--format", "jsonl").out)
    assert named == [found[1], found[0]]
    assert len(rows(run("chorus", plan, "--order", "number", "--format", "jsonl").out)) == 12


def test_smoothest_first(run, plan) -> None:
    found = rows(run("chorus", plan, "--order", "smooth", "--most", 5, "--format", "jsonl").out)
    assert [row["number"] for row in found] == [line.number for line in load_plan(plan).smoothest(5)]
    later = rows(run("chorus", plan, "--order", "smooth", "--from", 3, "--most", 2, "--format", "jsonl").out)
    assert later == found[2:4]


def test_choruses_by_taste(run, plan) -> None:
    found = rows(run("chorus", plan, "--order", "idiomatic", "--most", 3, "--format", "jsonl").out)
    assert [row["number"] for row in found] == [line.number for line in load_plan(plan).idiomatic(3)]
    assert [row["strangeness"] for row in found] == sorted(row["strangeness"] for row in found)
    words = ("chorus", plan, "--sample", 3, "--taste", "solos", "--format", "jsonl")
    drawn = rows(run(*words).out)
    assert [row["number"] for row in drawn] == [line.number for line in load_plan(plan).sample_by_taste(3)]
    assert run(*words, "--temperature", 3).out != run(*words).out
    assert run("chorus", plan, "--sample", 3, "--temperature", 3).code == 2


def test_varied_choruses_differ(run, plan) -> None:
    found = rows(run("chorus", plan, "--order", "varied", "--most", 4, "--format", "jsonl").out)
    assert [row["number"] for row in found] == [line.number for line in load_plan(plan).varied(4)]
    later = rows(run("chorus", plan, "--order", "varied", "--from", 3, "--most", 2, "--format", "jsonl").out)
    assert later == found[2:]


def test_a_sample_is_that_of_its_seed(run, plan) -> None:
    first, again, other = (
        run("chorus", plan, "--sample", 4, "--seed", seed, "--format", "jsonl").out for seed in (5, 5, 6)
    )
    assert first == again != other
    assert [row["number"] for row in rows(first)] == [
        each.number for each in load_plan(plan).sample(4, seed=5)
    ]


def test_text_shows_rests_and_endings(run, plan) -> None:
    answer = run("chorus", plan, "--numbers", 7)
    assert "endings plain | plain" in answer.out.splitlines()[0]
    assert "–  ·  ·  ·  |" in answer.out


def test_find_is_the_way_back(run, plan, tmp_path) -> None:
    line = load_plan(plan).line(1234)
    score = tmp_path / "chorus.musicxml"
    assert run("chorus", plan, "--numbers", 1234, "--staves", "staff", "--to", score).code == 0
    assert run("chorus", plan, "--find", score)[:2] == (0, "1234\n")
    midi = tmp_path / "chorus.mid"
    assert run("chorus", plan, "--numbers", 1234, "--mute", "chords bass click", "--to", midi).code == 0
    assert run("chorus", plan, "--find", midi)[:2] == (0, "1234\n")
    first, second = line.phrases
    rest = (line.notes[second.first].onset - line.notes[first.beyond - 1].onset) // 240 - 2
    words = [each.name for each in line.notes]
    words[first.beyond - 1] += ":4"
    words[-1] += ":4"
    typed = " ".join([*words[: first.beyond], *["r8"] * rest, *words[first.beyond :]])
    assert run("chorus", plan, "--find", typed) == (0, "1234\n", "")
    wrong = run("chorus", plan, "--find", typed.replace(words[3], "C#6", 1))
    assert wrong.code == 1
    assert "C#6 (bar 1, beat 2&) as its note 4" in wrong.err
    assert run("chorus", plan, "--find", " ".join(words[: first.beyond])).code == 1


@pytest.mark.parametrize(
    ("suffix", "begins"),
    [
        (".pdf", b"%PDF"),
        (".svg", b"<svg"),
        (".png", b"\x89PNG"),
        (".mid", b"MThd"),
        (".txt", b"line 3, roughness"),
    ],
)
def test_taken_away(run, plan, tmp_path, suffix, begins) -> None:
    target = tmp_path / f"chorus{suffix}"
    assert run("chorus", plan, "--numbers", 3, "--to", target) == (0, "", "")
    assert target.read_bytes().startswith(begins)


def test_a_printed_chorus_is_one_exercise(run, plan, tmp_path) -> None:
    from pypdf import PdfReader

    target = tmp_path / "chorus.pdf"
    assert run("chorus", plan, "--numbers", 3, "--title", "Before the concert", "--to", target).code == 0
    text = PdfReader(target).pages[0].extract_text()
    assert "Before the concert" in text
    assert "No. 3" in text


def test_it_sounds(run, plan, tmp_path) -> None:
    import wave

    from everyline.sound.audio import available

    if not available():
        pytest.skip("no synthesiser on this machine")
    target = tmp_path / "chorus.wav"
    assert run("chorus", plan, "--numbers", 3, "--tempo", 240, "--to", target).code == 0
    with wave.open(str(target)) as sound:
        assert sound.getnframes() / sound.getframerate() >= 9 * 4 * 60 / 240


def test_no_chorus_is_exit_1(run, plan) -> None:
    plan.write_text(PLAN.replace("reach = 4", "reach = 0\nleast_rest = 9"))
    answer = run("chorus", plan)
    assert answer.code == 1
    assert answer.err.startswith('everyline: no line leads from "first" (bars 1-3) to "second" (bars 5-8): ')
    assert run("chorus", plan, "--count")[:2] == (1, "0\n")
    assert run("chorus", plan, "--order", "smooth")[:2] == (1, "")


def test_what_would_bring_choruses_back_is_printed(run, plan) -> None:
    tight = PLAN.replace("reach = 4", "reach = 0\nleast_rest = 9")
    plan.write_text(tight)
    head, first = [line for line in run("chorus", plan).out.splitlines() if line][:2]
    assert head == "One change that brings choruses back:"
    count, words = first.split(maxsplit=1)
    assert words == 'choruses  phrase "second", join: least_rest 9 -> 6'
    plan.write_text(tight.replace("least_rest = 9", "least_rest = 6"))
    assert load_plan(plan).count == int(count)
    plan.write_text(tight + '[[limit]]\nkind = "ambitus"\nsemitones = 1\n')
    assert run("chorus", plan).out.startswith("\nChanges that bring choruses back together:\n\n")


def test_why_explains_one_phrase(run, refused, plan) -> None:
    answer = run("chorus", plan, "--why", "first")
    assert answer.code == 0
    assert "Lines if this rule alone were dropped:" in answer.out
    assert "the approach figures are above-below" in answer.out
    assert 'Did you mean "second"?' in refused("chorus", plan, "--why", "secnd")
    plan.write_text(PLAN.replace('bars = "5-8"', 'bars = "5-8"\nrange = { lowest = "C4", highest = "D4" }'))
    nothing = run("chorus", plan)
    assert nothing.code == 1
    assert nothing.err.endswith('its own rules leave none; --why "second" tells which.\n')
    told = run("chorus", plan, "--why", "second")
    assert told.code == 1
    assert "from C4 up to D4" in told.out


def test_facets_count_the_choruses_for_one_phrase(run, refused, plan) -> None:
    answer = run("chorus", plan, "--facets", "second")
    assert answer.code == 0
    head, *rest = answer.out.splitlines()
    chorus = load_plan(plan)
    assert head == f"{chorus.count} choruses"
    for facet in chorus.facets(2):
        assert f"{facet.kind}: {facet.title}" in rest
        for value in facet.values:
            words = [*value.label.split(), str(value.count)]
            assert any(line.split()[: len(words)] == words for line in rest), value
    assert 'Did you mean "second"?' in refused("chorus", plan, "--facets", "secnd")
    with pytest.raises(InputError, match="numbered from 1 to 2"):
        chorus.facets(3)


def test_rules_in_python_run_when_allowed(run, refused, plan) -> None:
    (plan.parent / "rule.py").write_text(
        "class LowFirst:\n"
        "    def start(self):\n        return 0\n"
        "    def step(self, state, note):\n        return 1 if state or note.pitch < 55 else None\n"
        "    def content(self, state):\n        return True\n"
        '    def describe(self):\n        return "it starts low"\n'
    )
    plan.write_text(PLAN.replace('bars = "1-3"', 'bars = "1-3"\nown_rules = ["rule.py:LowFirst"]'))
    assert "--allow-python" in refused("chorus", plan)
    answer = run("chorus", plan, "--allow-python", "--sample", 5, "--format", "jsonl")
    assert answer.code == 0
    assert all(row["notes"][0]["pitch"] < 55 for row in rows(answer.out))


def test_what_would_bring_choruses_back_is_looked_for_without_running_python_again(run, plan) -> None:
    (plan.parent / "rule.py").write_text("def low(line):\n    return line.pitches[0] < 59\n")
    plan.write_text(
        'changes = "Dm7 G7 | Cmaj7 | Dm7 G7 | Cmaj7"\n'
        'range = { lowest = "C4", highest = "C5" }\napproach.count = ["0"]\nending.use = ["plain"]\n'
        '[[phrase]]\nbars = "1-2"\nown_rules = ["rule.py:low"]\n[[phrase]]\nbars = "3-4"\n'
    )
    answer = run("chorus", plan, "--allow-python")
    assert answer.code == 1
    assert '309 choruses  phrase "1", the range 3 semitones lower, A3 to C5' in answer.out
    assert answer.err.count("running Python") == answer.err.count("looked at") == 1


def test_processes_are_for_whole_line_rules(run, refused, plan) -> None:
    told = refused("chorus", plan, "--count", "--workers", 1)
    assert "--workers shares out Parquet files, drill sets and lines for a whole-line rule" in told
    (plan.parent / "rule.py").write_text("def low(line):\n    return line.pitches[0] < 46\n")
    plan.write_text(PLAN.replace('bars = "1-3"', 'bars = "1-3"\nown_rules = ["rule.py:low"]'))
    alone = run("chorus", plan, "--count", "--allow-python")
    shared = run("chorus", plan, "--count", "--allow-python", "--workers", 1)
    assert shared.code == 0
    assert shared.out == alone.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--tempo", 90), "--tempo is for files"),
        (("--numbers", 1, "--mute", "bass"), "--mute is for files"),
        (("--octave", 1), "which choruses?"),
        (("--numbers", 1, "--to", "x.csv", "--staves", "tab"), "--staves does nothing in a .csv file"),
        (("--most", 0), "--most 0"),
        (("--from", -1), "--from -1"),
        (("--numbers", "0"), '--numbers "0"'),
        (("--from", 10**15), f"--from {10**15}"),
        (("--count", "--sample", 2), "--count and --sample do not go together"),
        (("--why", "first", "--facets", "first"), "--why and --facets do not go together"),
        (("--sample", 2, "--most", 3), "--most and --sample"),
        (("--seed", 2), "--seed goes with --sample"),
        (("--to", "x.pdf"), "which choruses?"),
        (("--format", "jsonl"), "which choruses?"),
        (("--numbers", 1, "--to", "x.doc"), '".doc" cannot be written'),
        (("--numbers", 1, "--format", "csv", "--to", "x.csv"), "the suffix of x.csv"),
        (("--find", "H4 I4"), '"H4"'),
        (("--order", "rough"), "rough"),
    ],
)
def test_refused(refused, plan, words, said) -> None:
    assert said in refused("chorus", plan, *words)


def test_a_plan_that_is_none_is_refused(refused, tmp_path, rule_file) -> None:
    assert "nowhere.toml" in refused("chorus", tmp_path / "nowhere.toml")
    assert "[[phrase]]" in refused("chorus", rule_file)
    broken = tmp_path / "broken.toml"
    broken.write_text("changes = ")
    assert "broken.toml" in refused("chorus", broken)


def test_stopped_by_its_limit(run, plan) -> None:
    assert run("chorus", plan, "--time-limit", 0.001).code == 3
    phrases = "".join(f'[[phrase]]\nbars = "{bar}-{bar + 1}"\nuntil = "3"\n' for bar in range(1, 33, 2))
    plan.write_text(f'changes = "{" | ".join(["Dm7 G7 | Cmaj7 A7"] * 16)}"\n{phrases}')
    tight = run("chorus", plan, "--most-nodes", 6000)
    assert (tight.code, tight.out) == (3, "")
    assert "the phrases together need more than 6000 nodes" in tight.err
