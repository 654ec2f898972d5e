"""Strict reading: whatever is wrong is one clear sentence; a folder of one's own adds to ours."""

import os
import re
from pathlib import Path

import pytest

from everyline.corpora import FOLDER_VARIABLE, InputError, load, parse_toml, read_toml
from everyline.corpora.corpus import FILES, FOLDERS, OWN_FOLDER
from everyline.corpora.loader import LARGEST_FILE

FIGURE = '[[figure]]\nname = "mine"\nsteps = "-2 +1 -1"\n'
ENDING = '[[ending]]\nname = "mine"\nnotes = "b9 | 5"\n'
INSTRUMENT = (
    '[[instrument]]\nname = "mine"\ntitle = "Mine"\nfamily = "woodwind"\n'
    'lowest = "C3"\nhighest = "C5"\nprogram = 1\n'
)
PROGRESSION = (
    '[[progression]]\nname = "mine"\ntitle = "Mine"\nkey = "C"\nchanges = "G7 | C"\nnumerals = "V7 | I"\n'
    "bars = 2\nlevel = 1\n"
)
RULES = '# A comment\n# on two lines.\n\ntitle = "Mine"\nchanges = "G7 | C"\n'


def add(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.parent.mkdir(exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def kind_of(name: str) -> str:
    return name.split("/")[0].removesuffix(".toml")


ADDED = {
    "figures.toml": FIGURE,
    "endings/mine.toml": ENDING,
    "instruments.toml": INSTRUMENT,
    "progressions.toml": PROGRESSION,
    "rulefiles/mine.toml": RULES,
}


@pytest.mark.parametrize(("name", "text"), ADDED.items())
def test_a_folder_of_ones_own_adds_to_ours(tmp_path: Path, name: str, text: str) -> None:
    add(tmp_path, name, text)
    ours = getattr(load(), kind_of(name))
    both = getattr(load(tmp_path), kind_of(name))
    assert list(both) == [*ours, "mine"]


@pytest.mark.parametrize(("name", "text"), ADDED.items())
def test_a_name_that_ours_has_already_names_both_places(tmp_path: Path, name: str, text: str) -> None:
    taken = next(iter(getattr(load(), kind_of(name))))
    file = name.replace("mine", taken) if name.startswith("rulefiles") else name
    path = add(tmp_path, file, text.replace('"mine"', f'"{taken}"'))
    with pytest.raises(InputError) as caught:
        getattr(load(tmp_path), kind_of(name))
    assert str(path) in str(caught.value)
    assert str(OWN_FOLDER) in str(caught.value)
    assert f'"{taken}"' in str(caught.value)


def test_the_folder_by_environment_variable(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    add(tmp_path, "figures.toml", FIGURE)
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path))
    assert "mine" in load().figures
    (tmp_path / "other").mkdir()
    assert "mine" not in load(tmp_path / "other").figures
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "none"))
    with pytest.raises(InputError, match=f"none \\(from {FOLDER_VARIABLE}\\): there is no such folder"):
        load()
    monkeypatch.setenv(FOLDER_VARIABLE, "")
    assert "mine" not in load().figures


def test_our_own_folder_named_again_is_no_clash() -> None:
    assert list(load(OWN_FOLDER).figures) == list(load().figures)


def test_files_that_would_not_be_read_are_refused(tmp_path: Path) -> None:
    path = add(tmp_path, "figure.toml", FIGURE)
    with pytest.raises(InputError, match=r'figure\.toml: not a file of the corpora.*mean "figures\.toml"'):
        load(tmp_path)
    path.unlink()
    add(tmp_path, "ending/mine.toml", ENDING)
    with pytest.raises(InputError, match=r'in a folder that is not read.*mean "endings"'):
        load(tmp_path)


def test_what_is_not_toml_may_lie_in_the_folder(tmp_path: Path) -> None:
    add(tmp_path, "README.txt", "notes")
    add(tmp_path, ".hidden.toml", "x = ")
    add(tmp_path, "sheets/one.txt", "notes")
    assert list(load(tmp_path).endings) == list(load().endings)


def test_only_the_kind_asked_for_is_read(tmp_path: Path) -> None:
    add(tmp_path, "figures.toml", "broken = ")
    corpus = load(tmp_path)
    assert corpus.instruments
    with pytest.raises(InputError, match=r"figures\.toml: not valid TOML"):
        _ = corpus.figures


WRONG = {
    ("figures.toml", FIGURE + 'stpes = "+1"\n'): (
        'figure "mine": unknown key "stpes" (value "+1"); allowed are name, steps, remark. '
        'Did you mean "steps"?'
    ),
    ("figures.toml", FIGURE.replace('"-2 +1 -1"', "3")): "steps = 3 does not fit; it holds text in quotes",
    ("figures.toml", FIGURE.replace("-2", "-3")): 'figure "mine": "-3" in the steps',
    ("figures.toml", '[[figure]]\nname = "mine"\n'): 'the key "steps" is missing',
    ("figures.toml", FIGURE.replace('"mine"', '" mine"')): "neither empty nor with spaces around it",
    ("figures.toml", FIGURE.replace('"mine"', '""')): "neither empty nor with spaces around it",
    ("figures.toml", FIGURE.replace("[[figure]]", "[[figures]]")): 'unknown key "figures"',
    ("figures.toml", FIGURE.replace("[[figure]]", "[figure]")): "it holds a list of tables",
    ("figures.toml", '[[family]]\nname = "f"\nsize = 5\nsteps = ["+1"]\n'): "size = 5; allowed are 2, 3, 4",
    (
        "figures.toml",
        '[[family]]\nname = "f"\nsize = 2\nsteps = ["+1"]\n',
    ): 'family "f": no 2 of the steps +1',
    ("figures.toml", '[[family]]\nname = "f"\nsize = 2\nsteps = ["+d"]\n'): "allowed are +1, -1, +2, -2",
    ("figures.toml", '[[family]]\nname = "above-below"\nsize = 2\nsteps = ["+1", "-1"]\n'): (
        'the figure or family "above-below" is in'
    ),
    ("endings/a.toml", ENDING + 'rhythm = "8 8 | 4"\n'): 'ending "mine", rhythm "8 8 | 4": before the |',
    ("endings/a.toml", ENDING + 'over = "7"\n'): 'over = "7" does not fit; it holds a list of texts',
    ("endings/a.toml", ENDING.replace("mine", "plain")): "pick another name",
    ("endings/a.toml", ENDING + ENDING): "rename one of the two",
    ("instruments.toml", INSTRUMENT.replace("C3", "H3")): 'lowest = "H3" is not a pitch',
    ("instruments.toml", INSTRUMENT.replace("woodwind", "woodwinds")): 'Did you mean "woodwind"?',
    ("instruments.toml", INSTRUMENT + "frets = 22\n"): "frets = 22 but no strings",
    ("instruments.toml", INSTRUMENT + 'strings = ["E2"]\nfrets = 99\n'): "allowed are 0 (no frets) to 36",
    ("instruments.toml", INSTRUMENT + 'strings = ["E2", "x"]\n'): 'strings = "x" is not a pitch',
    ("instruments.toml", INSTRUMENT + "frets = true\n"): "frets = true does not fit; it holds a whole number",
    ("instruments.toml", INSTRUMENT + "transposition = 99\n"): "allowed are -48 to 48",
    ("instruments.toml", INSTRUMENT.replace("program = 1", "program = 0")): "General MIDI programs 1 to 128",
    ("progressions.toml", PROGRESSION.replace("bars = 2", "bars = 3")): "changes has 2 bars, but bars = 3",
    (
        "progressions.toml",
        PROGRESSION.replace("|", "| |", 1),
    ): "is empty, after",
    ("progressions.toml", PROGRESSION + "turns_round = true\n"): "next time round makes 3",
    (
        "progressions.toml",
        PROGRESSION.replace("level = 1", "level = 9"),
    ): "level = 9; allowed are 1, 2, 3, 4, 5",
    ("rulefiles/a.toml", "title = 3\n"): "title = 3 does not fit",
    ("levels.toml", '[[level]]\nlevel = 1\ntitle = "x"\nfiles = ["none"]\n'): 'there is no rule file "none"',
}


@pytest.mark.parametrize(("file", "message"), WRONG.items(), ids=lambda value: str(value[0])[:20])
def test_wrong_entries(tmp_path: Path, file: tuple[str, str], message: str) -> None:
    path = add(tmp_path, *file)
    kind = "rulefiles" if path.name == "levels.toml" else kind_of(file[0])
    with pytest.raises(InputError, match=re.escape(message)) as caught:
        corpus = load(tmp_path)
        assert getattr(corpus, "families" if "[[family]]" in file[1] else kind)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


def test_missing_file_names_the_near_one(tmp_path: Path) -> None:
    add(tmp_path, "lesson.toml", RULES)
    with pytest.raises(InputError, match=r'there is no such file\. Did you mean "lesson\.toml"\?'):
        read_toml(tmp_path / "leson.toml")
    with pytest.raises(InputError, match="there is no such file"):
        read_toml(tmp_path / "none" / "leson.toml")


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="this is a folder"):
        read_toml(tmp_path)


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    path = add(tmp_path, "endings", "x")
    with pytest.raises(InputError, match="cannot be read as a folder"):
        _ = load(tmp_path).endings
    with pytest.raises(InputError, match="cannot be read"):
        read_toml(path / "x.toml")


def test_a_name_that_no_file_can_have() -> None:
    with pytest.raises(InputError, match="cannot be read"):
        read_toml(Path("a\0b"))


def test_junk_is_refused_in_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "junk.toml"
    for junk, message in (
        (b"\xff\xfe\x00binary", "byte 1 is not UTF-8 text"),
        (b"a = 1\x00", "not valid TOML"),
        (b"#" * (LARGEST_FILE + 1), "larger than"),
        (b"a = " + b"[" * 100_000, "not valid TOML"),
        (b"a = " + b"9" * 100_000, "a number of more than 1000 digits"),
        (b"a = 0x" + b"f" * 900_000, "a number of more than 1000 digits"),
        (b"a." * 400_000 + b"a = 1", "a key of more than 50 parts"),
        (b"a = 1\na = 2\n", "not valid TOML"),
        (b"= = =", "not valid TOML"),
    ):
        path.write_bytes(junk)
        with pytest.raises(InputError, match=message) as caught:
            read_toml(path)
        assert str(path) in str(caught.value)
        assert len(str(caught.value)) < 400


def test_a_byte_order_mark_is_no_fault() -> None:
    assert parse_toml(b"\xef\xbb\xbfa = 1", "x") == {"a": 1}


def test_an_unreadable_file(tmp_path: Path) -> None:
    path = add(tmp_path, "locked.toml", "a = 1")
    path.chmod(0)
    if os.access(path, os.R_OK):
        pytest.skip("this user may read every file")
    with pytest.raises(InputError, match="permission denied"):
        read_toml(path)


def test_rule_files_have_their_own_words(tmp_path: Path) -> None:
    path = add(tmp_path, "rulefiles/mine.toml", RULES)
    add(tmp_path, "rulefiles/bare.toml", 'changes = "G7 | C"\n')
    add(tmp_path, "levels.toml", '[[level]]\nlevel = 3\ntitle = "x"\nfiles = ["mine"]\n')
    files = load(tmp_path).rulefiles
    assert list(files)[-2:] == ["mine", "bare"]
    mine, bare = files["mine"], files["bare"]
    assert (mine.title, mine.level, mine.remark) == ("Mine", 3, "A comment on two lines.")
    assert (bare.title, bare.level, bare.remark) == ("bare", None, "")
    assert mine.path == path
    assert mine.text() == RULES


def test_every_toml_file_of_ours_is_one_that_is_read() -> None:
    assert {path.name for path in OWN_FOLDER.glob("*.toml")} == set(FILES)
    assert {path.parent.name for path in OWN_FOLDER.glob("*/*.toml")} == set(FOLDERS)


def test_mappings_cannot_be_changed() -> None:
    with pytest.raises(TypeError):
        load().figures["x"] = load().figures["above-below"]  # type: ignore[index]
    with pytest.raises(AttributeError):
        load().figures["above-below"].name = "x"  # type: ignore[misc]
