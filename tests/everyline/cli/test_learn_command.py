"""learn through the real command line, and what is learned used by the other commands."""

import tomllib

import pytest

FRAGMENT = ("Ab4", "G4", "F4", "D4", "E4:4")


def test_the_answer_is_an_entry_of_the_corpora_with_its_facts(run) -> None:
    answer = run("learn", "--changes", "G7 | Cmaj7", "--name", "mine", *FRAGMENT[:4], "|", FRAGMENT[4])
    assert answer.code == 0
    (entry,) = tomllib.loads(answer.out)["ending"]
    assert entry["name"] == "mine"
    assert entry["notes"] == "b9 1 b7 5 | 3"
    assert entry["rhythm"] == "8 8 8 8 | 4"
    assert "# starts on the b9 of G7 on bar 1, beat 3; ends on the 3 of Cmaj7 on bar 2, beat 1" in answer.out
    assert "# 5 notes over 3 beats, from D4 to Ab4" in answer.out
    assert "# fits over 7, 7b9" in answer.out


def test_several_readings_are_offered_and_chosen_by_number(run) -> None:
    first = run("learn", "--changes", "G7 | Cmaj7", *FRAGMENT)
    assert "# reading 1 of " in first.out
    assert '# --reading 2: notes = "' in first.out
    second = run("learn", "--changes", "G7 | Cmaj7", "--reading", "2", *FRAGMENT)
    notes = tomllib.loads(second.out)["ending"][0]["notes"]
    assert f'# --reading 2: notes = "{notes}"' in first.out


def test_a_learned_ending_is_found_in_the_corpora_and_its_lines_hold_the_fragment(run, tmp_path) -> None:
    (tmp_path / "endings").mkdir()
    path = tmp_path / "endings" / "mine.toml"
    words = ("learn", "--changes", "G7 | Cmaj7", "--output", path, "--corpora", tmp_path)
    saved = run(*words, "--name", "mine", *FRAGMENT)
    assert saved.code == 0 and saved.out == "" and "added to" in saved.err
    again = run(*words, "--name", "mine too", "B4", "D5", "|", "C5:4")
    assert again.code == 0
    assert [each["name"] for each in tomllib.loads(path.read_text())["ending"]] == ["mine", "mine too"]
    listed = run(
        "list", "--changes", "Dm7 | G7 | Cmaj7", "--corpora", tmp_path, "--endings", "mine", "--most", "5",
        "--format", "jsonl", "--start", "D4",
    )  # fmt: skip
    assert listed.code == 0
    assert listed.out.count('"ending"') == 5 * len(FRAGMENT)


def test_a_figure_is_learned_with_each_of_its_spellings(run) -> None:
    answer = run("learn", "--as", "figure", "--changes", "Dm7 | G7 | Cmaj7", "C5", "A#4", "B4")
    (entry,) = tomllib.loads(answer.out)["figure"]
    assert entry["steps"] == "+d -1"
    assert "# lands on the 3 of G7 or the 7 of Cmaj7" in answer.out
    assert '# --reading 2: steps = "+1 -1"' in answer.out


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (["--changes", "G7 | Cmaj7", "Ab4", "Db4"], "neither a chord tone"),
        (["--changes", "G7 | Cmaj7", "Ab4"], "two notes at least"),
        (["--changes", "G7 | %", *FRAGMENT], "needs two chords"),
        (["--changes", "G7 | Cmaj7", "--reading", "99", *FRAGMENT], "there are readings 1 to"),
        (["--changes", "G7 | Cmaj7", "--name", "leading-note-home", *FRAGMENT], "in the corpora already"),
        (["--changes", "G7 | Cmaj7", "--name", "", *FRAGMENT], "--name"),
        (["--as", "figure", "--changes", "G7 | Cmaj7", "F4", "B4"], "6 semitones from the target"),
        (["--changes", "G7 | Cmaj7", "--output", "/nowhere/mine.toml", *FRAGMENT], "cannot be written"),
        (FRAGMENT, "--changes"),
    ],
)
def test_wrong_input_is_one_sentence(refused, words, complaint) -> None:
    assert complaint in refused("learn", *words)


def test_a_file_of_other_things_or_with_the_name_is_not_added_to(refused, tmp_path) -> None:
    other = tmp_path / "figures.toml"
    other.write_text('[[figure]]\nname = "x"\nsteps = "-1"\n')
    words = ("learn", "--changes", "G7 | Cmaj7", "--name", "x", "--output")
    assert "it holds figure, not only endings" in refused(*words, other, *FRAGMENT)
    assert "already" in refused(
        "learn", "--as", "figure", "--changes", "G7 | Cmaj7", "--name", "x", "--output", other, "C5", "B4"
    )
    assert other.read_text() == '[[figure]]\nname = "x"\nsteps = "-1"\n'


@pytest.mark.parametrize("text", ["[ending]\n", "ending = 7\n", "ending = [7]\n", 'ending = "fall"\n'])
def test_a_file_whose_endings_are_no_list_of_tables_is_refused(refused, tmp_path, text) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(text)
    words = ("learn", "--changes", "G7 | Cmaj7", "--name", "mine", "--output", path, *FRAGMENT)
    assert f"{path}, ending = " in refused(*words)
    assert path.read_text() == text


def test_a_remark_that_is_no_text_is_refused(refused, tmp_path) -> None:
    path = tmp_path / "mine.toml"
    words = ("learn", "--changes", "G7 | Cmaj7", "--name", "mine", "--output", path, *FRAGMENT)
    assert "--remark" in refused(*words, "--remark", "caf\udce9")
    assert not any(tmp_path.iterdir())
