"""Folders as JSON, and copies that come together: whatever was done where, nothing is lost or doubled."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from everyline.corpora.errors import InputError
from everyline.practice.copies import line_id, mark
from everyline.practice.folder import Entry, Folder, in_order, now, placed
from everyline.practice.portable import folder_text, parse_folder, read_folder, write_folder
from everyline.practice.records import GivenLine, Grade, Kind, Practised
from everyline.practice.store import Store
from tests.practice_made_up import made_up_line, made_up_round
from tests.sweeps import sweep

FOLDERS = sweep(15, 100)
words = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=20)
moments = st.datetimes().map(lambda moment: moment.isoformat(timespec="microseconds") + "+00:00")


@st.composite
def given_lines(draw: st.DrawFn) -> GivenLine:
    """Any line there could be."""
    fingerprint, notes = draw(words), draw(words)
    return GivenLine(
        id=line_id(fingerprint, notes),
        place=0,
        title=draw(words | st.just("")),
        tune=draw(words),
        notes=notes,
        rules_name=draw(words),
        rules_text=draw(words),
        fingerprint=fingerprint,
        number=draw(st.none() | st.integers(1, 10**40)),
        strangeness=draw(st.none() | st.integers(0, 10**6)),
        given=draw(st.dates()),
        key=draw(st.sampled_from(["C", "Ebm"])),
        beats=draw(st.integers(1, 999)),
        instrument=draw(words | st.just("")),
        level=draw(st.none() | st.integers(1, 5)),
        altered=draw(st.booleans()),
    )


@st.composite
def folders(draw: st.DrawFn) -> Folder:
    """Any folder of Ada's, with entries taken back among the others."""
    lines = draw(st.lists(given_lines(), max_size=5, unique_by=lambda line: line.id))
    entries = [Entry(line, draw(moments), draw(st.booleans())) for line in lines]
    rounds = [
        Entry(
            Practised(
                id=mark(f"{place}"),
                line=draw(st.sampled_from(lines)).id,
                on=draw(st.dates()),
                key=draw(words),
                kind=draw(st.sampled_from(Kind)),
                tempo=draw(st.none() | st.integers(20, 400)),
                grade=draw(st.sampled_from(Grade)),
            ),
            draw(moments),
            draw(st.booleans()),
        )
        for place in range(draw(st.integers(0, 5)) if lines else 0)
    ]
    return Folder("Ada", draw(words | st.just("")), draw(moments), placed((), entries), in_order(rounds))


@settings(max_examples=FOLDERS)
@given(folders())
def test_a_folder_goes_out_as_json_and_comes_back(folder: Folder) -> None:
    text = folder_text(folder)
    assert parse_folder(text, "ada.json") == folder
    assert folder_text(parse_folder(text.encode(), "ada.json")) == text


@settings(max_examples=FOLDERS)
@given(folders())
def test_a_folder_goes_through_the_students_file(tmp_path_factory: pytest.TempPathFactory, folder) -> None:
    with Store(tmp_path_factory.mktemp("store") / "students.db", create=True) as store:
        store.merge(folder)
        assert store.folder("Ada") == folder
        assert store.merge(folder) == (0, 0)
        assert store.folder("Ada") == folder


def _unplaced(folder: Folder) -> tuple[object, ...]:
    lines = {entry.value.id: replace(entry, value=replace(entry.value, place=0)) for entry in folder.lines}
    return folder.instrument, folder.changed, lines, folder.rounds


@settings(max_examples=FOLDERS)
@given(folders(), folders(), folders())
def test_copies_come_together_whichever_is_merged_into_which(one: Folder, two: Folder, three: Folder) -> None:
    assert one.merged(one) == one
    assert _unplaced(one.merged(two)) == _unplaced(two.merged(one))
    assert _unplaced(one.merged(two).merged(three)) == _unplaced(one.merged(two.merged(three)))
    both = one.merged(two)
    assert both.merged(two) == both == both.merged(one), "what is known already changes nothing"
    places = [entry.value.place for entry in both.lines]
    assert len(set(places)) == len(places) and places == sorted(places) and min(places, default=1) >= 1
    kept = {entry.value.id: entry.value.place for entry in both.lines}
    assert all(kept[entry.value.id] == entry.value.place for entry in one.lines), "places stay"


def test_two_machines(tmp_path: Path) -> None:
    """A line is taken back here and practised there; an older copy brings nothing back."""
    here, there = (Store(tmp_path / name, create=True) for name in ("here.db", "there.db"))
    with here, there:
        here.begin("Ada", "guitar")
        here.give("Ada", [made_up_line(1), made_up_line(2)])
        old = here.folder("Ada")
        assert there.merge(old) == (2, 0)
        there.record("Ada", made_up_round(1, made_up_line(1)))
        there.give("Ada", [made_up_line(3)])
        here.take_back_line("Ada", 2)
        here.give("Ada", [made_up_line(4)])
        assert here.merge(there.folder("Ada")) == (1, 1)
        there.merge(here.folder("Ada"))
        here.merge(old)
        for store in (here, there):
            student = store.student("Ada")
            assert {line.title for line in student.lines} == {"Line 1", "Line 3", "Line 4"}
            assert len(student.rounds) == 1
        assert [line.place for line in here.student("Ada").lines] == [1, 3, 4]


def test_a_later_change_counts_whatever_the_clock_says() -> None:
    ahead = "2999-01-01T00:00:00.000000+00:00"
    assert now(ahead) == "2999-01-01T00:00:00.000001+00:00"
    assert now() > "2026" and now("2000-01-01T00:00:00.000000+00:00") > "2026"


def test_what_is_wrong_in_a_json_file_is_one_sentence(tmp_path: Path) -> None:
    folder = Folder(
        "Ada",
        "guitar",
        now(),
        placed((), [Entry(made_up_line(1), now())]),
        (Entry(made_up_round(1, made_up_line(1)), now()),),
    )
    path = tmp_path / "ada.json"
    write_folder(folder, path)
    assert read_folder(path) == folder
    sound = json.loads(path.read_text())

    def spoiled(**change: object) -> str:
        return json.dumps({**sound, **change})

    line, round_ = sound["lines"][0], sound["rounds"][0]
    for text, says in (
        ("", "is no JSON"),
        ("[1]", "is not a table of keys"),
        ("{", "is no JSON"),
        ('"' + "[" * 10**5, "is no JSON"),
        (f'{{"everyline_student": {"9" * 2000}}}', "2000 digits"),
        (spoiled(everyline_student=2), "everyline_student = 2"),
        (spoiled(name=""), "name = "),
        (spoiled(name="\x00"), "no name for a student"),
        (spoiled(lines=3), "lines = 3"),
        (spoiled(mood="good"), 'no key "mood"'),
        (spoiled(changed="yesterday"), "write a moment in UTC"),
        (spoiled(rule_files={}), "rule_files holds no text of that mark"),
        (spoiled(rule_files={"ab": "changes"}), "not that of its mark"),
        (spoiled(lines=[line, line]), "the line is there already"),
        (spoiled(lines=[{**line, "id": "ab"}]), "not that of these notes"),
        (spoiled(lines=[{**line, "given": "26.11.2026"}]), "Invalid isoformat"),
        (spoiled(lines=[{**line, "number": "ten"}]), "invalid literal"),
        (spoiled(lines=[]), "lines holds no line of that id"),
        (spoiled(rounds=[round_, round_]), "the round is there already"),
        (spoiled(rounds=[{**round_, "grade": "so-so"}]), "not yet, with slips and clean"),
        (spoiled(rounds=[{**round_, "tempo": 4000}]), "write 20 to 400 beats a minute"),
    ):
        path.write_text(text)
        with pytest.raises(InputError, match=says) as found:
            read_folder(path)
        assert str(path) in str(found.value) and "\n" not in str(found.value)
    with pytest.raises(InputError, match="cannot be read"):
        read_folder(tmp_path / "none.json")


def test_rounds_are_in_the_order_of_their_days_then_of_their_recording() -> None:
    line, day = made_up_line(1), date(2026, 11, 26)
    rounds = [
        Entry(replace(made_up_round(number, line), on=day + timedelta(days=days)), f"2026-11-2{moment}")
        for number, days, moment in ((1, 1, 1), (2, 0, 3), (3, 0, 2))
    ]
    assert [entry.value.id for entry in in_order(rounds)] == [mark(f"round {n}") for n in (3, 2, 1)]
