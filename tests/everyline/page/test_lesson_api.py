"""Lessons over the interface: the command line's file, the notes that were kept, other keys."""

from __future__ import annotations

import json
from base64 import b64decode
from pathlib import Path
from typing import Any

import pytest

from everyline.cli.main import main
from everyline.corpora import load
from everyline.files.lessons import lesson_lines, line_notes, read_lesson
from everyline.page.params import KEYS
from everyline.rules.rule_text import to_toml
from everyline.rules.rulefile import parse_rules
from everyline.spaces.space import Space, parse
from tests.everyline.page.served import II_V_I, Served, streamed
from tests.everyline.page.test_api import TABLES
from tests.sweeps import sweep


def test_a_lesson_of_the_page_opens_on_the_command_line(
    served: Served, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    items = [
        {"rules": tables, "number": str(number), "title": f"Nr {number}", "remark": 'Say "one".\nThen play.'}
        for number, tables in enumerate(TABLES, 7)
    ]
    lesson = {"title": "Monday", "remark": "Slowly.", "items": items}
    path = tmp_path / "lesson.toml"
    path.write_bytes(served.client.post("/api/lesson/file", json=lesson).content)
    for item, (kept, line) in zip(items, lesson_lines(read_lesson(path), load(), tmp_path), strict=True):
        assert (kept.title, kept.remark) == (item["title"], item["remark"])
        assert line.notes == parse(to_toml(item["rules"])).line(int(item["number"])).notes
    assert main(["lesson", str(path)]) == 0
    assert "1. Nr 7" in capsys.readouterr().out
    assert main(["sheet", str(path), "--to", str(tmp_path / "lesson.pdf")]) == 0
    assert (tmp_path / "lesson.pdf").read_bytes()[:5] == b"%PDF-"
    # And the page opens its own file again.
    found = served.client.post("/api/lesson/read", json={"text": path.read_text()}).json()
    opened = found.pop("items")
    for item in opened:
        line = parse(to_toml(item["rules"])).line(int(item["number"]))
        assert (item.pop("notes"), item.pop("kept_as")) == (
            " ".join(note.name for note in line.notes),
            line_notes(line),
        )
    assert opened == items
    assert found == {"title": "Monday", "remark": "Slowly."}


def test_notes_say_which_line_was_kept(served: Served) -> None:
    """As if its number had come to mean another line; and where its rules have no such line any more."""
    notes = line_notes(parse(to_toml(II_V_I)).line(17))
    narrow = {**II_V_I, "limit": [{"kind": "largest-leap", "semitones": 1}]}
    for rules, number in ((II_V_I, "5"), (narrow, "17")):
        items = [{"rules": rules, "number": number, "notes": notes}]
        text = served.client.post("/api/lesson/file", json={"items": items}).text
        assert f'number = {number}\nnotes = "{notes}"' in text
        (item,) = served.client.post("/api/lesson/read", json={"text": text}).json()["items"]
        assert (item["kept_as"], item["number"]) == (notes, "17")
        path = f"/api/rules/{served.rules(rules)['id']}/lines/{number}"
        moved = served.client.get(f"{path}/picture", params={"notes": notes}).json()["moved"]
        assert ("is now line 17" if rules is II_V_I else "none of its lines") in moved
        timed = served.client.get(f"{path}/timing", params={"notes": notes}).json()["notes"]
        assert len(timed) == len(parse(to_toml(II_V_I)).line(17).notes)
        take = {"lesson": {"items": items}, "format": "pdf", "sheet": {"words": True}}
        _, made = streamed(served.client.post("/api/lesson/take", json=take))
        assert b64decode(made["result"]["data"])[:5] == b"%PDF-"


def test_a_kept_line_goes_to_another_octave_and_to_every_key(served: Served) -> None:
    """Its intervals stay, it is a line of the moved rules, and back at home it is the same line."""
    tables = {**II_V_I, "range": {"lowest": "E2", "highest": "E6"}}
    line = parse(to_toml(tables)).line(900)
    pitches = [note.pitch for note in line.notes]

    def moved(item: dict[str, Any], to: str) -> tuple[dict[str, Any], list[int]]:
        asked = {"rules": item["rules"], "number": item["number"], "notes": item["kept_as"]}
        answer = served.client.post("/api/lesson/move", json={"item": asked, "to": to})
        assert answer.status_code == 200, answer.text
        found = answer.json()
        there = Space(parse_rules(found["rules"], load())).line(int(found["number"]))
        assert line_notes(there) == found["kept_as"]
        return found, [note.pitch for note in there.notes]

    home = {"rules": tables, "number": "900", "kept_as": line_notes(line)}
    up, higher = moved(home, "octave-up")
    assert [each - 12 for each in higher] == pitches
    assert moved(up, "octave-down")[0]["kept_as"] == home["kept_as"]
    for to in KEYS[:: sweep(small=5, full=1)]:
        there, found = moved(home, to)
        assert {(a - b - KEYS.index(to)) % 12 for a, b in zip(found, pitches, strict=True)} == {0}
        assert moved(there, "C")[0]["kept_as"] == home["kept_as"]
    low = {"item": {"rules": II_V_I, "number": "1"}, "to": "octave-down"}
    assert "leaves their range" in served.client.post("/api/lesson/move", json=low).json()["error"]


def test_a_lesson_of_the_command_line_opens_in_the_page(served: Served, tmp_path: Path) -> None:
    path = tmp_path / "lesson.toml"
    notes = parse(to_toml(II_V_I)).line(17).notes
    typed = " ".join(f"{n.name}:{n.length // 240 * 2}" if n.length != 240 else n.name for n in notes)
    for keep in (
        ["first-enclosure", "--number", "17", "--title", "One", "--remark", "Sing it."],
        ["first-enclosure", "--number", "17", "--key", "F"],
        [to_toml(II_V_I), "--notes", typed],
    ):
        assert main(["lesson", str(path), "--keep", *keep]) == 0
    answer = served.client.post("/api/lesson/read", json={"text": path.read_text()})
    assert answer.status_code == 200, answer.text
    items = answer.json()["items"]
    assert (items[0]["title"], items[0]["remark"], items[2]["number"]) == ("One", "Sing it.", "17")
    for item, (_, line) in zip(items, lesson_lines(read_lesson(path), load(), tmp_path), strict=True):
        assert item["notes"].split() == [note.name for note in line.notes]
        space = Space(parse_rules(item["rules"], load()))
        assert space.line(int(item["number"])).notes == line.notes


@pytest.mark.parametrize(
    ("rules", "says"),
    [
        ("/etc/passwd", "the page cannot read files from disk"),
        ("mine.toml", "the page cannot read files from disk"),
        ("first-enclosur", 'Did you mean "first-enclosure"?'),
        ("changes = 3", "changes"),
    ],
)
def test_the_page_reads_no_file_that_a_lesson_names(
    served: Served, rules: str, says: str, tmp_path: Path
) -> None:
    (tmp_path / "mine.toml").write_text(to_toml(II_V_I))
    for named in (rules, str(tmp_path / rules)) if rules == "mine.toml" else (rules,):
        text = f"[[line]]\nrules = {json.dumps(named)}\nnumber = 1\n"
        answer = served.client.post("/api/lesson/read", json={"text": text})
        assert answer.status_code == 400
        error = answer.json()["error"]
        assert error.startswith("line 1 of the lesson: ") and says in error


def test_a_lesson_without_rules_is_refused_by_its_key(served: Served) -> None:
    answer = served.client.post("/api/lesson/read", json={"text": '[[line]]\nrules = ""\nnumber = 1\n'})
    assert answer.status_code == 400
    assert answer.json()["error"].startswith('the lesson file, [[line]] 1, rules = "": it is empty; ')


def test_rules_in_python_are_not_taken_from_a_lesson_either(served: Served) -> None:
    rules = 'changes = "Dm7 | G7 | Cmaj7"\nown_rules = ["file.py:rule"]\n'
    text = f"[[line]]\nrules = {json.dumps(rules)}\nnumber = 1\n"
    answer = served.client.post("/api/lesson/read", json={"text": text})
    assert answer.status_code == 400 and "own_rules" in answer.json()["error"]
