"""What people type: other spellings, other signs, names from the corpora, written pitch, slips."""

from __future__ import annotations

from pathlib import Path

import pytest

from everyline import lines
from everyline.corpora.errors import InputError

PLAIN = ("--endings", "plain", "--lowest", "C4", "--highest", "C5")
CHANGES = ("--changes", "Dm7 | G7 | Cmaj7")
SMALL = (*CHANGES, *PLAIN)
ALTO = (*CHANGES, "--endings", "plain", "--instrument", "alto-saxophone")


@pytest.mark.parametrize("symbol", ["CMaj7", "Cma7", "CM7", "CMA7", "Cmaj7", "CΔ"])
@pytest.mark.parametrize("first", ["Dmin7", "D-7", "DMi7", "Dm7"])
def test_chords_have_many_spellings(run, symbol: str, first: str) -> None:
    answer = run("count", "--changes", f"{first} | G7 | {symbol}", *PLAIN)
    assert (answer.code, answer.err) == (0, "")
    assert answer.out == run("count", *SMALL).out


@pytest.mark.parametrize(
    "text",
    [
        "Dm7, G7, Cmaj7",
        "Dm7 , G7 ; Cmaj7,",
        "Dm7 - G7 - Cmaj7",
        "Dm7-G7-Cmaj7",
        "D-7-G7-Cmaj7",
        "Dm7 – G7 — Cmaj7",
        "Dm7 -> G7 → Cmaj7",
        "“Dm7 | G7 | Cmaj7”",
        "'Dm7 | G7 | Cmaj7'",
    ],
)
def test_other_signs_between_chords_are_read_and_said(run, text: str) -> None:
    answer = run("count", "--changes", text, *PLAIN)
    assert answer.code == 0
    assert answer.out == run("count", *SMALL).out
    first = text.strip("“'").split("7")[0]
    assert answer.err == f'everyline: the changes were read as "{first}7 | G7 | Cmaj7".\n'


def test_in_a_bar_commas_stand_between_its_chords(run) -> None:
    answer = run("count", "--changes", "Dm7, G7 | Cmaj7", *PLAIN)
    assert 'read as "Dm7 G7 | Cmaj7"' in answer.err
    assert answer.out == run("count", "--changes", "Dm7 G7 | Cmaj7", *PLAIN).out


def test_a_comma_in_brackets_belongs_to_its_chord(run) -> None:
    answer = run("count", "--changes", "Dm7 | G7(b9,13) | Cmaj7", *PLAIN)
    assert (answer.code, answer.err) == (0, "")


@pytest.mark.parametrize("text", ["Dm7, Hm7, Cmaj7", "Dm7 - x - Cmaj7"])
def test_what_is_not_plain_is_refused(refused, text: str) -> None:
    assert "is not a chord symbol" in refused("count", "--changes", text)


def test_in_python_other_signs_are_refused_with_what_was_meant() -> None:
    with pytest.raises(InputError, match=r'Did you mean "Dm7 \| G7 \| Cmaj7"\?'):
        lines("Dm7, G7, Cmaj7")


def test_signs_in_a_rule_file_are_read_too(run, tmp_path: Path) -> None:
    file = tmp_path / "rules.toml"
    file.write_text(
        'changes = "Dm7, G7, Cmaj7"\nending = { use = ["plain"] }\n'
        'range = { lowest = "C4", highest = "C5" }\n'
    )
    answer = run("count", file)
    assert answer.out == run("count", *SMALL).out
    assert answer.err == 'everyline: the changes were read as "Dm7 | G7 | Cmaj7".\n'


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("changes = “Dm7 | G7 | Cmaj7”", "line 2 has curly quotes"),
        ("changes = Dm7 | G7 | Cmaj7", "line 2 has text without quotes"),
    ],
)
def test_quotes_in_a_rule_file(refused, tmp_path: Path, text: str, said: str) -> None:
    file = tmp_path / "rules.toml"
    file.write_text(f'title = "a"\n{text}\n', encoding="utf-8")
    complaint = refused("count", file)
    assert said in complaint
    assert 'write changes = "Dm7 | G7 | Cmaj7"' in complaint


@pytest.mark.parametrize("words", [("Dm7", "G7"), ("Dm7", "G7", "Cmaj7"), ("Dm7", "/", "G7", "Cmaj7")])
def test_changes_without_quotes(refused, words: tuple[str, ...]) -> None:
    assert refused("count", "--changes", *words) == (
        f'everyline: put the changes in quotes: --changes "{" ".join(words)}".\n'
    )


def test_a_progression_of_the_corpora_by_name(run) -> None:
    by_name = run("count", "--changes", "two-five-one-short", *PLAIN)
    assert by_name.out == run("count", "--changes", "Gm7 C7 | Fmaj7", "--key", "F", *PLAIN).out
    moved = run("list", "--changes", "two-five-one-short", "--key", "Eb", *PLAIN, "--most", "1")
    assert "Fm7" in moved.out
    assert "Ebmaj7" in moved.out


def test_a_progression_by_name_brings_its_meter(run) -> None:
    by_name = run("count", "--changes", "two-five-one-waltz", *PLAIN)
    text = "Em7 | A7 | Dmaj7 | %"
    assert by_name.out == run("count", "--changes", text, "--meter", "3/4", *PLAIN).out


def test_a_rule_file_may_name_a_progression(run, tmp_path: Path) -> None:
    file = tmp_path / "rules.toml"
    file.write_text(
        'changes = "two-five-one-short"\nkey = "Eb"\nending = { use = ["plain"] }\n'
        'range = { lowest = "C4", highest = "C5" }\n'
    )
    assert run("count", file).out == run("count", "--changes", "Fm7 Bb7 | Ebmaj7", *PLAIN).out
    drill = run("drill", "--rules", file, "--lines", "2", "--keys", "F", "--output", tmp_path / "set")
    assert drill.code == 0


def test_a_name_that_there_is_not(refused) -> None:
    complaint = refused("count", "--changes", "two-five-one-shrot")
    assert "no progression of that name" in complaint
    assert 'Did you mean "two-five-one-short"?' in complaint
    assert "major" in refused("count", "--changes", "two-five-one-short", "--key", "Cm")


@pytest.mark.parametrize("strings", ["1-4", "1,2,3,4", "1 2-4", "4-1"])
def test_strings_and_a_position_alone(run, strings: str) -> None:
    answer = run("count", *CHANGES, "--endings", "plain", "--position", "5", "--strings", strings)
    whole = ("--instrument", "guitar", "--position", "5", "--strings", "1 2 3 4")
    assert answer.out == run("count", *CHANGES, "--endings", "plain", *whole).out


def test_all_keys(run, tmp_path: Path) -> None:
    file = tmp_path / "rules.toml"
    file.write_text('changes = "Dm7 | G7 | Cmaj7"\nending = { use = ["plain"] }\n')
    answer = run("drill", "--rules", file, "--lines", "12", "--keys", "all", "--output", tmp_path / "set")
    assert answer.code == 0
    text = (tmp_path / "set" / "manifest.jsonl").read_text()
    assert all(f'"key": "{key}"' in text for key in ("C", "Db", "Gb", "A"))


def test_octaves_and_commas_of_a_line(run) -> None:
    with_octaves = run("check", *SMALL, "D4 F4 A4 C5 B4 C4 G4 F4", "--nearest", "0")
    without = run("check", *SMALL, "D, F, A, C, B C G F", "--nearest", "0")
    assert "read: a note without an octave was read as the nearest of its name" in without.out
    assert [row for row in without.out.splitlines() if row.startswith("note")] != []
    first = next(row for row in without.out.splitlines() if row.startswith("note"))
    assert first.split()[2:6] == ["D4", "F4", "A4", "C5"]
    assert "note   | D4    F4" in with_octaves.out


def test_check_says_which_pitch_it_took(run) -> None:
    sounding = run("check", *ALTO, "D4 F4 A4 C5", "--nearest", "0")
    assert "read: the notes were taken as they sound, not as written for the alto-saxophone." in sounding.out
    written = run("check", *ALTO, "--written", "B4 D5 F#5 A5", "--nearest", "0")
    assert "as written for the alto-saxophone, a major sixth above its sound" in written.err
    assert "Bm7" in written.out
    assert "taken as they sound" not in written.out
    assert sounding.out.count("breach") == written.out.count("breach")


def test_written_lines_have_the_numbers_of_the_sounding_ones(run) -> None:
    count = run("count", *ALTO, "--start", "D4").out
    sounding, written = (
        run("sample", *ALTO, "--start", "D4", "--most", "3", *more).out for more in ((), ("--written",))
    )
    numbers = [row for row in sounding.splitlines() if row.startswith("line")]
    assert numbers == [row for row in written.splitlines() if row.startswith("line")]
    assert f"of {count.strip()}" in numbers[0]
    assert "Amaj7" in written
    assert written.count("| B4 ") == 3


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("list", *CHANGES, "--written"), "the rules name no instrument"),
        (("list", *CHANGES, "--instrument", "guitar", "--written"), "the guitar is not one"),
        (("list", *ALTO, "--written", "--format", "jsonl"), "--written goes with text"),
        (("check", *ALTO, "--written", "line.mid"), "a file states its own transposition"),
        (("list", *CHANGES, "--lines", "8"), 'Did you mean "--most"?'),
        (("list", *CHANGES, "--numbers", "8"), "there is no option --numbers here: "),
        (("sheet", "x.toml", "--balance", "3"), "there is no option --balance"),
        (("count", *CHANGES, "--most", "8"), "there is no option --most here"),
        (("export", "x.toml", "--tempo", "fast", "--to", "x.mid"), '--tempo "fast": write a number.'),
        (("list", *CHANGES, "--most", "many"), '--most "many": write a whole number.'),
        (("list", *CHANGES, "--strings", "low"), 'write whole numbers, such as "1 3" or 1-3'),
        (
            ("learn", "--changes", "G7 | C", "Ab4 G4 F4 D4 E4:4", "--output", "no/x.toml"),
            "folder that exists",
        ),
    ],
)
def test_slips(refused, words: tuple[str, ...], said: str) -> None:
    assert said in refused(*words)


def test_nothing_of_another_kind_is_suggested(refused) -> None:
    assert "--workers" not in refused("sheet", "x.toml", "--order", "smooth")
