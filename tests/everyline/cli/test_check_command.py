"""check, and number with files, through the real command line."""

import json

import pytest

from everyline import lines
from everyline.sound.midi_file import write as write_midi

CHANGES = ("--changes", "Dm7 | G7 | Cmaj7")
VALID = "D4 F4 Bb4 G#4 A4 F4 D4 C4 B3 D4 F4 G4 C5 A#4 B4 G4 E4:4"
# The same enclosure begun a slot early: two notes from an upbeat land on an upbeat.
EARLY = "D4 Bb4 G#4 A4 F4 D4 C4 A3 B3 D4 F4 G4 C5 A#4 B4 G4 E4:4"


def test_a_valid_line_has_its_number_and_is_explained(run) -> None:
    answer = run("check", *CHANGES, *VALID.split())
    assert answer.code == 0
    number = int(run("number", *CHANGES, *VALID.split()).out)
    assert answer.out.startswith(f"valid: line {number} of ")
    assert "Bar 2 (G7): B3 hands the line over to G7" in answer.out
    assert "Nearest" not in answer.out


def test_the_parity_mistake_is_explained_and_mended(run) -> None:
    answer = run("check", *CHANGES, "--nearest", "1", "--reach", "8", "--", *EARLY.split())
    assert answer.code == 1
    out = answer.out
    assert out.startswith("not valid: it would be but for one breach")
    assert "- bar 1, beat 2& (parity): the figure chromatic-above-below starts on 1& at Bb4" in out
    assert "has 2 notes, so it lands on 2&, off the beat, at A4" in out
    assert "an odd number of notes, or a start on the beat, would land it" in out
    mended = out.partition("Nearest lines, notes added or left out")[2]
    assert "1 note added, 1 left out" in mended
    assert "bar 1, beat 1: C4 added" in mended
    assert "bar 1, beat 4&: A3 left out" in mended


def test_each_nearest_line_is_itself_valid(run) -> None:
    answer = run("check", *CHANGES, "--nearest", "5", "--format", "jsonl", *EARLY.split())
    assert answer.code == 1
    (row,) = map(json.loads, answer.out.splitlines())
    assert row["valid"] is False and row["number"] is None
    assert [breach["note"] for breach in row["breaches"]] == [2, 4]
    assert {"rule", "note", "tick", "place", "message"} == set(row["breaches"][0])
    for measure in ("nearest_by_onset", "nearest_by_order"):
        near = row[measure]
        assert len(near) == 5
        assert [len(each["changes"]) for each in near] == sorted(len(each["changes"]) for each in near)
        for each in near:
            text = " ".join(
                f"{note['name']}:{'8' if note['length'] == 240 else '4' if note['length'] == 480 else '4.'}"
                for note in each["notes"]
                if note["length"] in (240, 480, 720)
            )
            assert run("number", *CHANGES, *text.split()).out == f"{each['number']}\n"


def test_the_row_of_a_valid_line(run) -> None:
    (row,) = map(json.loads, run("check", *CHANGES, "--format", "jsonl", *VALID.split()).out.splitlines())
    assert row["valid"] is True
    assert row["breaches"] == row["nearest_by_onset"] == row["nearest_by_order"] == []
    assert row["explained"] == len(row["notes"]) == 17


def test_a_midi_file_is_checked_and_numbered(run, tmp_path) -> None:
    space = lines("Dm7 | G7 | Cmaj7")
    line = space.line(1_000_000)
    path = tmp_path / "student.mid"
    path.write_bytes(write_midi(line))
    answer = run("number", *CHANGES, path)
    assert answer.code == 0
    assert answer.out == "1000000\n"
    assert "swung" in answer.err
    checked = run("check", *CHANGES, path)
    assert checked.code == 0
    assert "  read: the eighths are swung" in checked.out


def test_number_says_why_a_line_has_none(run) -> None:
    answer = run("number", *CHANGES, *EARLY.split())
    assert (answer.code, answer.out) == (1, "")
    assert "8 semitones from the note before it; the reach allowed is 7" in answer.err


def test_where_the_rules_leave_no_line_nothing_is_near(run, rule_file) -> None:
    rule_file.write_text(rule_file.read_text() + '[[limit]]\nkind = "largest-leap"\nsemitones = 2\n')
    answer = run("check", rule_file, *VALID.split())
    assert answer.code == 1
    assert "No line satisfies these rules" in answer.out
    assert "Nearest" not in answer.out


def test_a_line_without_a_known_ending_is_drawn_with_question_marks(run) -> None:
    answer = run("check", *CHANGES, "--nearest", "0", "D4", "F4", "A4", "C#5:4.")
    assert answer.code == 1
    assert "role   | entry arp arp ?" in answer.out
    assert "Nearest" not in answer.out


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (["check", *CHANGES], "which line?"),
        (["number", *CHANGES], "which line?"),
        (["check", *CHANGES, "--nearest", "-1", "D4"], "--nearest -1"),
        (["check", *CHANGES, "H4"], '"H4" is not a note or a rest'),
        (["check", *CHANGES, "nowhere.mid"], "there is no such file"),
        (["check", *CHANGES, "@9", "D4"], "is not a beat"),
    ],
)
def test_wrong_input_is_one_sentence(refused, words, complaint) -> None:
    assert complaint in refused(*words)


def test_a_space_of_ten_million_lines_is_searched_whole(run) -> None:
    changes = ("--changes", "Dm7 | G7 | Cmaj7 | A7 | Dm7", "--count", "0-2", "--endings", "plain")
    assert int(run("count", *changes).out) > 10_000_000
    line = EARLY.replace("E4:4", "E4 G4 B4 G4 E4 C4 B3 G3 A3:4")
    answer = run("check", *changes, "--nearest", "1", "--", *line.split())
    assert answer.code == 1
    assert answer.out.count("\n  line ") == 2
