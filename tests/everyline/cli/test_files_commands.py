"""export, sheet, drill and lesson through the real command line, each file read back by another reader."""

import csv
import io
import json
import wave
from pathlib import Path

import pypdf
import pytest

from everyline.files.formats import FORMATS
from tests.tagged import tags_of


@pytest.fixture
def made(run, rule_file, tmp_path):
    """Write chosen lines to a file of a kind; answers the path."""

    def make(suffix: str, *more: object) -> Path:
        target = tmp_path / f"lines{suffix}"
        assert run("export", rule_file, "--numbers", "211,230", "--to", target, *more) == (0, "", "")
        return target

    return make


def pitches(run, rule_file, number: int) -> list[int]:
    row = json.loads(run("show", rule_file, number, "--format", "jsonl").out)
    return [note["pitch"] for note in row["notes"]]


def test_musicxml_reads_back(made, run, rule_file) -> None:
    from music21 import converter

    score = converter.parse(made(".musicxml"))
    notes = [note.pitch.midi for note in score.recurse().notes if note.isNote]
    assert notes == pitches(run, rule_file, 211) + pitches(run, rule_file, 230)


def test_midi_reads_back(made, run, rule_file) -> None:
    from mido import MidiFile

    file = MidiFile(made(".mid", "--mute", "chords bass drums click"))
    sounded = [m.note for track in file.tracks for m in track if m.type == "note_on" and m.velocity]
    assert sounded == pitches(run, rule_file, 211) + pitches(run, rule_file, 230)


def test_sound_is_sound(made) -> None:
    from everyline.sound.audio import available

    if not available():
        pytest.skip("no synthesiser on this machine")
    with wave.open(str(made(".wav", "--tempo", 200))) as sound:
        assert sound.getnchannels() == 2
        assert sound.getnframes() > 5 * sound.getframerate()


@pytest.mark.parametrize(
    ("suffix", "begins"),
    [(".svg", b"<svg"), (".png", b"\x89PNG"), (".pdf", b"%PDF"), (".txt", b"line 211")],
)
def test_pictures_pages_and_text_are_what_they_say(made, suffix, begins) -> None:
    assert made(suffix).read_bytes().lstrip().startswith(begins)


def test_data_reads_back(made) -> None:
    rows = [json.loads(row) for row in made(".jsonl").read_text().splitlines()]
    assert [row["number"] for row in rows] == [211, 230]
    table = list(csv.DictReader(io.StringIO(made(".csv").read_text())))
    assert {row["number"] for row in table} == {"211", "230"}


@pytest.mark.parametrize("suffix", [s for s in FORMATS if s != ".mp3"])
def test_the_same_lines_give_the_same_bytes(made, suffix) -> None:
    first = made(suffix).read_bytes()
    assert made(suffix).read_bytes() == first


def test_a_sheet_and_twelve_keys(run, rule_file, tmp_path) -> None:
    sheet, keys = tmp_path / "sheet.pdf", tmp_path / "keys.pdf"
    assert (
        run("sheet", rule_file, "--numbers", "1-3", "--tempi", "60,80", "--explain", "--to", sheet).code == 0
    )
    assert run("sheet", rule_file, "--numbers", "211", "--twelve-keys", "--to", keys).code == 0
    assert sheet.read_bytes().startswith(b"%PDF")
    assert keys.read_bytes().startswith(b"%PDF")


def test_a_drill_set_becomes_pages_and_a_key(run, rule_file, tmp_path) -> None:
    folder, sheet, key = tmp_path / "set", tmp_path / "set.pdf", tmp_path / "key.pdf"
    kinds = ("--kinds", "play", "complete", "slip", "continue")
    assert run("drill", "--rules", rule_file, "--lines", 4, "--output", folder, *kinds).code == 0
    assert run("sheet", folder, "--to", sheet, "--key-to", key).code == 0
    assert sheet.read_bytes().startswith(b"%PDF")
    assert key.read_bytes().startswith(b"%PDF")
    assert run("export", folder, "--to", tmp_path / "set.mid").code == 0


def test_a_sheet_of_staves_for_lines_of_ones_own(run, rule_file, tmp_path) -> None:
    sheet = tmp_path / "own.pdf"
    words = ("--own", 6, "--own-only", "--slashes", "--with-rules", "--per-page", 8, "--paper", "A3")
    head = ("--author", "A. Teacher", "--student", "Kim", "--week", 3, "--rights", "Copy it.", "--contents")
    assert run("sheet", rule_file, *words, *head, "--large-print", "--to", sheet).code == 0
    text = " ".join(" ".join(page.extract_text().split()) for page in pypdf.PdfReader(sheet).pages)
    for wanted in ("A. Teacher", "Name Kim Week 3", "Copy it.", "The rules of these lines"):
        assert wanted in text
    assert text.count("A line of your own") == 12  # in the contents and over its staff
    assert "No. " not in text


@pytest.mark.parametrize(
    ("rules", "wish", "said"),
    [
        (("--instrument", "alto-saxophone"), "concert", "Alto saxophone: "),
        (("--instrument", "guitar"), "third", "Guitar 1: "),
    ],
)
def test_two_parts_on_a_page(run, tmp_path, rules, wish, said) -> None:
    sheet = tmp_path / "two.pdf"
    words = ("--changes", "Dm7 | G7 | Cmaj7", *rules, "--sample", 4, "--seed", 2, "--second-part", wish)
    assert run("sheet", *words, "--to", sheet).code == 0
    assert any(said in (text or "") for _, text in tags_of(sheet.read_bytes()))


def test_two_parts_in_every_kind_of_file(run, refused, tmp_path) -> None:
    words = ("--changes", "Dm7 | G7 | Cmaj7", "--instrument", "guitar", "--numbers", "7590197 11391329")
    alone = "1 of 2 lines stand alone: these rules have no second part below them."
    marks = {"musicxml": b"Guitar 2", "mid": b"Second part", "svg": b'id="m2-0"', "html": b'id="x2w-m1-0"'}
    for kind, mark in marks.items():
        path = tmp_path / f"two.{kind}"
        done = run("export", *words, "--second-part", "third", "--to", path)
        assert done.code == 0 and alone in done.err
        assert mark in path.read_bytes()
    student = tmp_path / "student.html"
    assert run("sheet", *words, "--second-part", "third", "--to", student).code == 0
    assert marks["html"] in student.read_bytes()
    concert = ("--instrument", "alto-saxophone", "--second-part", "concert", "--to")
    for path, more, said in (("x.mid", (), "sounds as the line"), ("x.svg", ("--concert",), "drop one")):
        assert said in refused("export", *words[:2], "--sample", "1", *concert, tmp_path / path, *more)


def test_a_lesson_file_becomes_pages(run, rule_file, tmp_path) -> None:
    lesson, sheet = tmp_path / "monday.toml", tmp_path / "monday.pdf"
    assert run("lesson", lesson, "--keep", rule_file, "--number", 211, "--title", "Smooth").code == 0
    assert run("sheet", lesson, "--to", sheet, "--key-to", tmp_path / "key.pdf").code == 0
    assert sheet.exists()
    assert not (tmp_path / "key.pdf").exists()


BAD = [
    (("export", "FILE", "--to", "x.doc"), ".doc"),
    (("export", "FILE", "--to", "x"), "suffix"),
    (("export", "FILE", "--to", "no-folder/x.mid"), "no-folder"),
    (("export", "FILE", "--numbers", "0", "--to", "x.mid"), "1 to 1758"),
    (("export", "FILE", "--numbers", "5-2", "--to", "x.mid"), "1 to 1758"),
    (("export", "FILE", "--ladder", "60..90", "--to", "x.mid"), "60-120/5"),
    (("export", "FILE", "--mute", "drum", "--to", "x.mid"), "drums"),
    (("export", "FILE", "--feel", "bosa", "--to", "x.mid"), "bossa"),
    (("export", "FILE", "--feel", "waltz", "--to", "x.mid"), "does not go with 4/4"),
    (("export", "FILE", "--bass", "walk", "--to", "x.mid"), "by-feel, walking, two-feel"),
    (("export", "FILE", "--backing-seed", "-1", "--to", "x.mid"), "allowed are 0 to"),
    (("export", "FILE", "--tempo", "0", "--to", "x.mid"), "0"),
    (("export", "FILE", "--octave", "9", "--to", "x.mid"), "octaves"),
    (("export", "FILE", "--on-strings", "x", "--to", "x.musicxml"), "1,2,3"),
    (("sheet", "FILE", "--to", "x.png"), ".pdf"),
    (("sheet", "FILE", "--twelve-keys", "--to", "x.pdf"), "--numbers"),
    (("sheet", "FILE", "--paper", "A7", "--to", "x.pdf"), "A7"),
    (("sheet", "FILE", "--tempi", "fast", "--to", "x.pdf"), "fast"),
    (("sheet", "FILE", "--slashes", "--to", "x.pdf"), "--own N"),
    (("sheet", "FILE", "--own", "0", "--to", "x.pdf"), "1 to 200"),
    (("sheet", "FILE", "--second-part", "concert", "--to", "x.pdf"), "transposing"),
    (("sheet", "FILE", "--per-page", "40", "--to", "x.pdf"), "1 to 24"),
]


@pytest.mark.parametrize(("words", "named"), BAD)
def test_bad_input_is_one_clear_sentence_and_nothing_is_written(
    refused, rule_file, tmp_path, monkeypatch, words, named
) -> None:
    monkeypatch.chdir(tmp_path)
    assert named in refused(*(rule_file if word == "FILE" else word for word in words))
    assert [path.name for path in tmp_path.iterdir()] == [rule_file.name]


def test_a_sheet_is_not_written_over_by_its_key(refused, rule_file, tmp_path) -> None:
    both = tmp_path / "both.pdf"
    assert "one file" in refused("sheet", rule_file, "--to", both, "--key-to", both)
    assert not both.exists()


def test_keys_in_which_there_is_no_line_are_named(run, rule_file, tmp_path) -> None:
    low = rule_file.read_text().replace(
        'lowest = "E3"\nhighest = "E5"', 'instrument = "guitar"\nposition = 5\nspan = 4'
    )
    rule_file.write_text(low + '[[limit]]\nkind = "largest-leap"\nsemitones = 4\n')
    answer = run("drill", "--rules", rule_file, "--lines", 4, "--keys", "cycle", "--output", tmp_path / "set")
    counted = json.loads((tmp_path / "set" / "manifest.jsonl").read_text().splitlines()[0])
    assert "no line can be had of" in answer.err
    assert any("no line can be had of" in remark for remark in counted["remarks"])


def test_a_drill_set_stopped_at_its_very_start_goes_on(run, rule_file, tmp_path) -> None:
    words = ("drill", "--rules", rule_file, "--lines", 6)
    assert run(*words, "--output", tmp_path / "whole").code == 0
    begun = tmp_path / "begun"
    begun.mkdir()
    head = (tmp_path / "whole" / "manifest.jsonl").read_text().splitlines(keepends=True)[0]
    from everyline.corpora import load
    from everyline.drill.set_folder import PROGRESS, STREAMS
    from everyline.drill.write import from_manifest

    mark = from_manifest(tmp_path / "whole" / "manifest.jsonl", load())._mark()
    (begun / PROGRESS).write_text(json.dumps({"set": mark}) + "\n")
    (begun / "manifest.jsonl.part").write_text(head[:40])
    assert run(*words, "--output", begun).code == 0
    for name in STREAMS:
        assert (begun / name).read_bytes() == (tmp_path / "whole" / name).read_bytes()


def test_another_string_set_and_another_octave(made, run, rule_file) -> None:
    from xml.etree import ElementTree

    tab = ElementTree.parse(made(".musicxml", "--staves", "both", "--on-strings", "2,3,4"))
    assert {string.text for string in tab.iter("string")} <= {"2", "3", "4"}
    from music21 import converter

    low = converter.parse(made(".musicxml", "--octave", -1))
    notes = [note.pitch.midi for note in low.recurse().notes if note.isNote]
    home = pitches(run, rule_file, 211) + pitches(run, rule_file, 230)
    assert notes == [pitch - 12 for pitch in home]


def test_our_own_midi_of_a_low_line_is_read_back(run, tmp_path) -> None:
    space = ("--changes", "Dm7/G | G7/F | D♭maj7/A♭", "--instrument", "bass-guitar")
    low = tmp_path / "low.mid"
    assert run("export", *space, "--numbers", 33, "--to", low).code == 0
    assert run("number", *space, low).out == "33\n"


def test_a_title_that_cannot_be_printed_is_refused(refused, rule_file, tmp_path) -> None:
    target = tmp_path / "x.musicxml"
    assert "title" in refused("export", rule_file, "--numbers", 1, "--title", "\x01", "--to", target)
    assert not target.exists()


def test_a_lesson_a_drill_set_and_a_sheet_as_one_file_for_the_student(
    run, refused, rule_file, tmp_path
) -> None:
    lesson = tmp_path / "monday.toml"
    assert run("lesson", lesson, "--keep", rule_file, "--number", 211, "--title", "Third").code == 0
    assert run("lesson", lesson, "--to", tmp_path / "lesson.html").code == 0
    assert run("sheet", lesson, "--to", tmp_path / "sheet.html").code == 0
    told = refused("sheet", lesson, "--to", tmp_path / "x.html", "--fretboard", "right")
    assert "neither tablature nor a fretboard" in told
    words = ("--rules", rule_file, "--lines", 2, "--kinds", "complete")
    assert run("drill", *words, "--output", tmp_path / "drill.html").code == 0
    texts = {name: (tmp_path / f"{name}.html").read_text() for name in ("lesson", "sheet", "drill")}
    assert all(text.startswith("<!doctype html>") for text in texts.values())
    assert "1. Third" in texts["lesson"] and "1. Third" in texts["sheet"]
    assert texts["drill"].count("<details>") == texts["drill"].count("<article") == 2
    assert "a lesson becomes a .html file here" in refused("lesson", lesson, "--to", tmp_path / "x.pdf")
    assert "--tempi is for pages" in refused("sheet", lesson, "--to", tmp_path / "x.html", "--tempi", "60")
