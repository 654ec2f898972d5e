"""check with a take, through the real command line."""

import json
from pathlib import Path

import pytest

from everyline import parse
from everyline.sound.midi_file import write
from everyline.sound.sound_options import SoundOptions
from tests.everyline.cli.conftest import RULES

LINE = 404


def test_the_command_judges_a_take(run, tmp_path: Path) -> None:
    (tmp_path / "rules.toml").write_text(RULES)
    line = parse(RULES).line(LINE)
    (tmp_path / "take.mid").write_bytes(write(line, SoundOptions(tempi=(110.0,))))
    rules, sound = str(tmp_path / "rules.toml"), str(tmp_path / "take.mid")
    answer = run("check", rules, sound, "--tempo", "120")
    assert answer.code == 0
    assert f"valid: line {LINE} of 1758" in answer.out
    assert "taken: the first note, at" in answer.out
    asked = run("check", rules, sound, "--tempo", "120", "--asked", str(LINE), "--format", "jsonl")
    assert asked.code == 0 and json.loads(asked.out)["as_asked"]
    other = run("check", rules, sound, "--tempo", "120", "--asked", "1")
    assert other.code == 1 and other.out.startswith("not as asked: ")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("take.wav",), "at which tempo"),
        (("D4 F4", "--tempo", "120"), "--tempo is for a take"),
        (("D4 F4", "--asked", "1"), "--asked is for a take"),
        (("none.wav", "--tempo", "120"), "there is no such file"),
        (("none.wav", "--tempo", "120", "--from", "-1"), "must be from 0 to 3600"),
    ],
)
def test_the_command_says_what_it_misses(run, tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    (tmp_path / "rules.toml").write_text(RULES)
    answer = run("check", str(tmp_path / "rules.toml"), *words)
    assert answer.code == 2 and said in answer.err
