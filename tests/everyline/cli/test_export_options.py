"""Options of export: each says something of the kinds of file that the table gives it, and is refused
elsewhere."""

from __future__ import annotations

import pytest

from everyline.cli.format_options import FOLDER, OPTIONS
from everyline.files.formats import FORMATS

RULES = (
    "--changes", "Dm7 | G7 | Cmaj7", "--turns", "0", "--figures", "above-below", "--endings", "plain"
)  # fmt: skip
WIND, LOW, HIGH, NARROW = (
    ("--instrument", "tenor-saxophone", "--numbers", 40),
    ("--instrument", "guitar", "--numbers", 40),
    ("--instrument", "guitar", "--numbers", 15000),
    ("--lowest", "B3", "--highest", "D5", "--start", "D4", "--staves", "both", "--numbers", 40),
)
LINES = {
    "--fretboard": LOW,
    "--no-fingers": LOW,
    "--staves": HIGH,
    "--on-strings": HIGH,
    "--open-strings": LOW,
    "--hand-at": NARROW,
}
"""A line that can be fingered in another way, for each option on tablature."""
DUET = ("--changes", "Dm7 | G7 | Cmaj7", "--instrument", "guitar", "--numbers", 11391329)
"""A line that has a second part; few lines of so strict rules as ``RULES`` have one."""
VALUES: dict[str, tuple[object, ...]] = {
    "--title": ("Monday",),
    "--second-part": ("third",),
    "--staves": ("staff",),
    "--no-labels": (),
    "--no-fingers": (),
    "--concert": (),
    "--on-strings": ("3,4,5",),
    "--hand-at": (6,),
    "--open-strings": ("prefer",),
    "--fretboard": ("left",),
    "--octave": (1,),
    "--black": (),
    "--tempo": (90,),
    "--swing": ("3:1",),
    "--count-in": (2,),
    "--repeats": (2,),
    "--loop": (),
    "--ladder": ("60-120/4",),
    "--mute": ("line",),
    "--feel": ("bossa",),
    "--bass": ("two-feel",),
    "--backing-seed": (5,),
    "--part-lines": (5,),
    "--roles": (),
}
KINDS = (*FORMATS, FOLDER)
APPLYING = [(option, kind) for option, kinds in OPTIONS.items() for kind in kinds]
OTHERS = [(option, kind) for option, kinds in OPTIONS.items() for kind in KINDS if kind not in kinds]
SOUNDED = (".wav", ".flac", ".mp3")
"""Sounded from the performance that .mid holds, and slow to make: .mid speaks for them."""


def test_every_option_has_a_value_here_and_every_kind_is_known() -> None:
    assert VALUES.keys() == OPTIONS.keys()
    assert all(kind in KINDS for kinds in OPTIONS.values() for kind in kinds)


@pytest.mark.parametrize(("option", "kind"), OTHERS)
def test_an_option_that_would_do_nothing_is_refused(refused, tmp_path, option, kind) -> None:
    target = tmp_path / f"lines{kind}"
    told = refused("export", *RULES, "--to", target, option, *VALUES[option])
    assert told.startswith(f"everyline: {option} does nothing in a {kind} file; leave it out")
    assert all(other in told for other in OPTIONS[option])
    assert not target.exists()


@pytest.mark.parametrize(
    ("option", "kind"), [(o, k) for o, k in APPLYING if k not in SOUNDED and k != FOLDER]
)
def test_an_option_that_is_taken_changes_the_file(run, tmp_path, option, kind) -> None:
    rules = DUET if option == "--second-part" else (*RULES, *LINES.get(option, WIND))
    plain, changed = tmp_path / f"plain{kind}", tmp_path / f"changed{kind}"
    assert run("export", *rules, "--to", plain) == (0, "", "")
    assert run("export", *rules, "--to", changed, option, *VALUES[option]) == (0, "", "")
    assert plain.read_bytes() != changed.read_bytes()


def test_a_ladder_has_tempi_of_its_own(refused, tmp_path) -> None:
    words = ("--tempo", 90, "--ladder", "60-120/4")
    assert "do not go together" in refused("export", *RULES, "--to", tmp_path / "x.mid", *words)


def test_a_lesson_file_takes_no_rules(run, refused, rule_file, tmp_path) -> None:
    lesson = tmp_path / "monday.toml"
    assert run("lesson", lesson, "--keep", rule_file, "--number", 211).code == 0
    told = refused("export", lesson, "--to", tmp_path / "x.mid", "--start", "D4")
    assert "--start" in told and "lesson file" in told
    assert "--lead-in" in refused("export", lesson, "--to", tmp_path / "x.mid", "--lead-in", 0)


@pytest.mark.parametrize(
    "words", [("--tempi", "60"), ("--explain",), ("--subtitle", "x"), ("--fretboard", "left")]
)
def test_twelve_keys_have_no_room_for_more(refused, tmp_path, words) -> None:
    told = refused("sheet", *RULES, "--twelve-keys", "--to", tmp_path / "x.pdf", *words)
    assert f"{words[0]} has no room" in told
