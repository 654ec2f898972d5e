"""The command plan, end to end: from a student's folder to screen, paper, calendar and data."""

import json
from pathlib import Path

import icalendar
import pytest
from pypdf import PdfReader

from everyline.cli.main import main

BEGIN = "--begin=2026-11-30"


@pytest.fixture(autouse=True)
def ida(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """A student with three lines, one of them under way."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("EVERYLINE_STUDENTS", str(tmp_path / "students.db"))
    for words in (
        "student Ida begin",
        "student Ida give first-enclosure --numbers 10 20 30 --on 2026-11-23",
        "student Ida record 1 --went clean --tempo 80 --on 2026-11-25",
        "student Ida record 1 --went clean --tempo 84 --key F --on 2026-11-26",
    ):
        assert main(words.split()) == 0
    capsys.readouterr()


def test_a_week_on_the_screen(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", "Ida", BEGIN]) == 0
    rows = capsys.readouterr().out.splitlines()
    assert rows[0] == "Practice plan for Ida"
    assert "  Monday 30 November: 12 of 20 minutes" in rows
    assert "    [ ] Line 1, The first enclosure  play           Bb    90  due again, 4 days" in rows
    assert "New lines begun: 2, proven best." in rows


def test_an_exported_folder_gives_the_same_plan(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["student", "Ida", "export", "ida.json"]) == 0
    assert main(["plan", "Ida", BEGIN]) == 0
    named = capsys.readouterr().out
    assert main(["plan", "ida.json", BEGIN]) == 0
    assert capsys.readouterr().out == named


def test_every_kind_of_file_at_once_twice_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    to = [word for name in ("a.pdf", "a.ics", "a.json", "a.txt") for word in ("--to", name)]
    assert main(["plan", "Ida", BEGIN, "--weeks", "2", "--at", "17:30", "--paper", "Letter", *to]) == 0
    first = {path.suffix: path.read_bytes() for path in Path().glob("a.*")}
    assert capsys.readouterr().out == ""
    assert main(["plan", "Ida", BEGIN, "--weeks", "2", "--at", "17:30", "--paper", "Letter", *to]) == 0
    assert {path.suffix: path.read_bytes() for path in Path().glob("a.*")} == first
    assert len(PdfReader("a.pdf").pages) == 2
    data = json.loads(first[".json"])
    days = [day["date"] for day in data["days"] if day["rounds"]]
    events = icalendar.Calendar.from_ical(first[".ics"]).walk("VEVENT")
    assert [str(event["dtstart"].dt) for event in events] == [f"{day} 17:30:00" for day in days]
    assert first[".txt"].decode().count("[ ]") == sum(len(day["rounds"]) for day in data["days"])


def test_days_and_minutes_as_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["--days", "wed,Sat", "--minutes", "9,30", "--format", "json", "--to-come", "4", "--seed", "7"]
    assert main(["plan", "Ida", BEGIN, "--weeks", "3", *words]) == 0
    data = json.loads(capsys.readouterr().out)
    assert [(day["date"], day["minutes"]) for day in data["days"]][:2] == [
        ("2026-12-02", 9),
        ("2026-12-05", 30),
    ]
    assert all(day["taken"] <= day["minutes"] for day in data["days"])
    assert data["seed"] == 7


def test_no_plan_is_the_answer_no_with_what_to_loosen(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", "Ida", BEGIN, "--new", "3"]) == 1
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err == (
        "everyline: no plan keeps to all that is asked: there is one with 2 new lines at least\n"
    )


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("Tom", "Tom"),
        ("missing.json", "missing.json"),
        ("Ida --begin tomorrow", "write a date as year-month-day"),
        ("Ida --begin 2026-11-25", "but a round was recorded on 2026-11-26"),
        ("Ida --days 7", "1 to 6 days a week"),
        ("Ida --days t", '--days "t": write a number of days'),
        ("Ida --days mon --minutes 20,30", "one number for all"),
        ("Ida --minutes ten", '--minutes "ten": write whole numbers'),
        ("Ida --minutes 2", "minutes a day: 2 is out of reach"),
        ("Ida --gaps 4,2", "write days that grow"),
        ("Ida --weeks 60", "weeks: 60 is out of reach; choose 1 to 52"),
        ("Ida --to plan.doc", "written as .pdf, .ics, .json or .txt"),
        ("Ida --at 17:00", "write one with --to PATH.ics"),
        ("Ida --to a.ics --at noon", "write hours and minutes"),
        ("Ida --paper A4", "write one with --to PATH.pdf"),
        ("Ida --to a.pdf --paper A9", 'paper "A9"'),
        ("Ida --to a.json --format json", "--format is for the screen"),
    ],
)
def test_what_is_refused(words: str, said: str, capsys: pytest.CaptureFixture[str]) -> None:
    begin = [] if "--begin" in words else [BEGIN]
    assert main(["plan", *words.split(), *begin]) == 2
    captured = capsys.readouterr()
    assert said in captured.err
    assert captured.out == ""
    assert not list(Path().glob("a.*"))
