"""The addresses for practice: what they answer, what they refuse, and what stays in the students' file."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from everyline.corpora import load
from everyline.corpora.errors import InputError
from everyline.page.practice_file import Practice, before, wishes_of
from everyline.practice.in_key import in_key
from everyline.practice.kept import RuleFile
from everyline.practice.records import Grade, Kind, Practised
from everyline.practice.store import Store
from everyline.practice.week import Wishes
from everyline.practice.week_plan import make_plan
from everyline.practice.week_rules import tempo_now
from everyline.rules.pitch import parse_pitch
from everyline.rules.rulefile import parse_rules
from everyline.spaces.space import Space
from tests.everyline.page.practising import given, rounds, settings
from tests.everyline.page.served import II_V_I, Served

TODAY = date.today()
OWN = {**II_V_I, "own_rules": ["/etc/passwd:rule"]}


def round_on(line: str, **more: Any) -> dict[str, Any]:
    return {"id": "0" * 15 + "1", "line": line, "key": "C", "kind": "play", "grade": "clean", **more}


def ask(served: Served, path: str, **body: Any) -> dict[str, Any]:
    answer = served.client.post(f"/api/{path}", json=body)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = json.loads(answer.text.strip().splitlines()[-1])
    return found


def test_today_is_the_plan_of_the_command_line_all_day(served: Served) -> None:
    (line, *_) = given(served, "Jana")
    who = {"student": "Jana", "settings": settings()}
    plan = ask(served, "practice/plan", **who)["result"]
    with Store(served.students) as store:
        student = store.student("Jana")
    (day, *_) = make_plan(student, wishes_of(settings(), TODAY)).days
    assert [(each["line"], each["kind"], each["key"], each["tempo"]) for each in plan["rounds"]] == [
        (each.line.id, each.kind.value, each.key, each.tempo) for each in day.rounds
    ]
    played = round_on(line.id, tempo=60)
    now = ask(served, "practice/rounds", round=played, **who)
    assert now["recorded"] and [each["id"] for each in now["done"]] == [played["id"]]
    assert ask(served, "practice/plan", **who)["result"]["rounds"] == plan["rounds"]
    # Made anew, it is the same: the rounds of today do not count for it.
    assert ask(served, "practice/plan", again=True, **who)["result"]["rounds"] == plan["rounds"]
    # Sent twice it is there once, and so is the same exercise from another window; again means again.
    assert not ask(served, "practice/rounds", round=played, **who)["recorded"]
    assert not ask(served, "practice/rounds", round=round_on(line.id, id="2" * 16), **who)["recorded"]
    assert ask(served, "practice/rounds", round=round_on(line.id, id="3" * 16), again=True, **who)["recorded"]
    assert [each.id for each in rounds(served, "Jana")] == [played["id"], "3" * 16]
    back = ask(served, "practice/rounds/take-back", student="Jana", round=played["id"])
    assert [each["id"] for each in back["done"]] == ["3" * 16]


def test_every_kind_of_exercise_is_that_line_in_that_key(served: Served) -> None:
    (line, *_) = given(served, "Karl")
    for kind in Kind:
        found = ask(served, "practice/exercise", student="Karl", line=line.id, key="Eb", kind=kind.value)
        assert found["kind"] == kind.value and found["picture"].startswith("<svg")
        moved = in_key(line, "Eb", load(None))
        assert found["notes"] == [note.name for note in moved.line.notes]
        pitches = [event.pitch for event in moved.events]
        if kind is Kind.SLIP:
            shown = [parse_pitch(name) for name in found["shown"]]
            assert [a == b for a, b in zip(shown, pitches, strict=True)].index(False) == found["wrong"]
        if kind is Kind.COMPLETE:
            assert [pitches[each["note"]] for each in found["blanks"]] in found["ways"]


@pytest.mark.parametrize("key", ["F", "Db", "Gb", "E"])
def test_a_line_in_another_key_is_one_of_the_lines_there(key: str) -> None:
    """Intervals stay, and the moved rules have the line: moved by hand, it is the same."""
    corpus = load(None)
    source = RuleFile.of(II_V_I, "made-up", corpus, None)
    kept = source.line(Space(source.rules).line(900), TODAY)
    home, moved = in_key(kept, "C", corpus), in_key(kept, key, corpus)
    steps = {b.pitch - a.pitch for a, b in zip(home.events, moved.events, strict=True)}
    assert len(steps) == 1 and abs(steps.pop()) <= 6
    space = Space(parse_rules(moved.tables, corpus, name="moved"))
    assert space.number(moved.events) is not None
    assert in_key(kept, key, corpus).line.rules.key == space.rules.key


def test_a_key_of_the_other_mode_is_refused() -> None:
    corpus = load(None)
    source = RuleFile.of(II_V_I, "made-up", corpus, None)
    kept = source.line(Space(source.rules).line(900), TODAY)
    with pytest.raises(InputError, match="major"):
        in_key(kept, "Cm", corpus)


def test_the_tempo_goes_up_and_down_by_the_rule_of_the_plan() -> None:
    wishes = Wishes(begin=TODAY, tempo=60, step=6, goal=70)

    def played(tempo: int | None, grade: Grade) -> Practised:
        return Practised("0" * 16, "a" * 16, TODAY, "C", Kind.PLAY, tempo, grade)

    clean, slips, not_yet = Grade.CLEAN, Grade.WITH_SLIPS, Grade.NOT_YET
    assert tempo_now(60, [], wishes) == 60
    assert tempo_now(60, [played(60, clean), played(66, clean)], wishes) == 70
    assert tempo_now(60, [played(60, clean), played(66, slips), played(None, not_yet)], wishes) == 66
    assert tempo_now(66, [played(66, not_yet)], wishes) == 60
    assert tempo_now(60, [played(90, slips)], wishes) == 90


@pytest.mark.parametrize(
    ("path", "body", "word"),
    [
        ("students", {"name": "\u0007"}, "is no name for a student"),
        ("students", {"name": "N" * 81}, "81 characters"),
        ("practice/plan", {"student": "Nobody"}, "there is no student"),
        ("practice/plan", {"student": "Lena", "day": "2001-01-01"}, "a round is recorded on its day"),
        ("practice/plan", {"student": "Lena", "day": "2026-99-99"}, "a round is recorded on its day"),
        ("practice/plan", {"student": "Lena", "settings": {"weekdays": [7]}}, "from 0 to 6"),
        ("practice/plan", {"student": "Lena", "settings": {"minutes": 1}}, "out of reach"),
        ("practice/plan", {"student": "Lena", "settings": {"seed": 1}}, "seed"),
        ("practice/lines", {"student": "Lena", "items": []}, "items"),
        ("practice/lines", {"student": "Lena", "items": [{"rules": {}, "number": "1"}]}, "changes"),
        ("practice/lines", {"student": "Lena", "items": [{"rules": II_V_I, "number": "0"}]}, "0"),
        ("practice/lines", {"student": "Lena", "items": [{"rules": OWN, "number": "1"}]}, "Python"),
        ("practice/exercise", {"student": "Lena", "line": "f" * 16, "key": "C", "kind": "play"}, "no line"),
        ("practice/exercise", {"student": "Lena", "line": "../../etc", "key": "C", "kind": "play"}, "line"),
        ("practice/exercise", {"student": "Lena", "line": "LINE", "key": "H", "kind": "play"}, "H"),
        ("practice/exercise", {"student": "Lena", "line": "LINE", "key": "C", "kind": "sing"}, "sing"),
        ("practice/rounds", {"student": "Lena", "round": round_on("f" * 16)}, "no line"),
        ("practice/rounds", {"student": "Lena", "round": round_on("LINE", tempo=9)}, "from 20 to 400"),
        ("practice/rounds", {"student": "Lena", "round": round_on("LINE", grade="best")}, "best"),
        ("practice/rounds", {"student": "Lena", "round": round_on("LINE", id="'; --")}, "id"),
        ("practice/rounds/take-back", {"student": "Lena", "round": "a" * 16}, "no round"),
    ],
)
def test_what_is_wrong_is_one_sentence_and_changes_nothing(
    served: Served, path: str, body: dict[str, Any], word: str
) -> None:
    (line, *_) = given(served, "Lena")
    sent = json.loads(json.dumps(body).replace("LINE", line.id))
    answer = served.client.post(f"/api/{path}", json=sent)
    assert answer.status_code == 400 and word in answer.json()["error"], answer.text
    assert rounds(served, "Lena") == ()


def test_a_line_that_the_server_has_forgotten_and_notes_that_are_none(served: Served) -> None:
    where = f"/api/practice/lines/{'0' * 24}"
    assert served.client.get(f"{where}/sound.wav").status_code == 404
    note = {"pitch": 60, "onset": 0, "length": 0.1}
    for notes in ([], [{**note, "pitch": 128}], [{**note, "onset": -1}], [note] * 2001):
        answer = served.client.post(f"{where}/heard", json={"tempo": 60, "notes": notes})
        assert answer.status_code == 400, notes[:1]


def test_a_folder_is_begun_once_and_listed(served: Served) -> None:
    assert ask(served, "students", name="Mila  B.")["new"]
    assert not ask(served, "students", name="Mila B.")["new"]
    listed = served.client.get("/api/students").json()
    assert listed["file"] == str(served.students)
    assert "Mila B." in [each["name"] for each in listed["students"]]


def test_other_machines_see_no_students_unasked(tmp_path: Path) -> None:
    from everyline.cli.serve import _practice

    assert _practice(None, for_this_machine_alone=True).file == Practice().file
    assert _practice(tmp_path / "s.db", for_this_machine_alone=False).off == ""
    assert "--students PATH" in _practice(None, for_this_machine_alone=False).off


def test_a_student_before_a_day_has_no_rounds_of_it(served: Served) -> None:
    (line, *_) = given(served, "Nils")
    with Store(served.students) as store:
        for number, on in enumerate((TODAY - timedelta(1), TODAY)):
            store.record("Nils", Practised(f"{number:016x}", line.id, on, "C", Kind.PLAY, 60, Grade.CLEAN))
        student = store.student("Nils")
    assert [each.on for each in before(student, TODAY).rounds] == [TODAY - timedelta(1)]
