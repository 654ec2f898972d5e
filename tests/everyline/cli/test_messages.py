"""What reaches a terminal: any encoding, no control characters, and one sentence for whatever goes wrong."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from everyline.cli.main import main
from everyline.cli.messages import plain
from tests.everyline.cli.conftest import Answer

LESSON = """
title = "A \\u001b[31mred\\u001b[0m — one ♯"
[[line]]
rules = "first-enclosure"
number = 17
title = "\\u009b2J"
remark = "bell \\u0007"
"""


class Screen(io.TextIOWrapper):
    """Standard output in an encoding; a terminal or not."""

    def __init__(self, encoding: str, terminal: bool) -> None:
        super().__init__(io.BytesIO(), encoding=encoding, newline="\n")
        self.terminal = terminal

    def isatty(self) -> bool:
        return self.terminal

    def shown(self) -> str:
        self.flush()
        assert isinstance(self.buffer, io.BytesIO)
        return self.buffer.getvalue().decode(self.encoding)


@pytest.fixture
def screen(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Screen]:
    def made(encoding: str = "utf-8", terminal: bool = False) -> Screen:
        stream = Screen(encoding, terminal)
        monkeypatch.setattr(sys, "stdout", stream)
        return stream

    return made


@pytest.mark.parametrize("encoding", ["utf-8", "cp1252", "latin-1", "cp437", "ascii", "koi8-r", "utf-16"])
def test_any_encoding_can_show_a_line_and_bars(encoding: str, screen: Callable[..., Screen]) -> None:
    stream = screen(encoding)
    assert main(["show", "first-enclosure", "17"]) == 0
    assert main(["facets", "first-enclosure", "--only", "ending"]) == 0
    shown = stream.shown()
    assert "note   | " in shown and "%" in shown
    assert "\\u" not in shown, "what we print ourselves has signs that look like it"
    assert stream.errors == "strict", "the stream is given back as it was"


@pytest.mark.parametrize("encoding", ["utf-8", "ascii", "cp1252"])
def test_data_keeps_its_meaning_in_any_encoding(
    encoding: str, screen: Callable[..., Screen], tmp_path: Path
) -> None:
    path = tmp_path / "lesson.toml"
    path.write_text('[[line]]\nrules = "first-enclosure"\nnumber = 17\ntitle = "été 𝄪 ♬"\n', encoding="utf-8")
    stream = screen(encoding)
    assert main(["lesson", str(path), "--format", "jsonl"]) == 0
    assert json.loads(stream.shown())["title"] == "été 𝄪 ♬"


def test_a_terminal_is_spared_control_characters_and_a_pipe_gets_the_bytes(
    screen: Callable[..., Screen], tmp_path: Path
) -> None:
    path = tmp_path / "lesson.toml"
    path.write_text(LESSON, encoding="utf-8")
    terminal = screen(terminal=True)
    assert main(["lesson", str(path)]) == 0
    assert "A \\u001b[31mred\\u001b[0m — one ♯" in terminal.shown()
    assert not set(terminal.shown()) & {"\x1b", "\x9b", "\x07"}
    pipe = screen()
    assert main(["lesson", str(path)]) == 0
    assert "\x1b[31mred" in pipe.shown()
    assert plain(pipe.shown()) == terminal.shown()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('changes = "Dm7 | \\u001b[31mX"', "\\u001b"),
        ('"\\u001b]0;title\\u0007" = 1', "\\u001b]0;title\\u0007"),
        ('changes = "Dm7 | G7"\nkey = "\\u009b31m"', "x9b"),
    ],
)
def test_a_strangers_file_cannot_speak_to_the_terminal(
    text: str, said: str, refused: Callable[..., str], tmp_path: Path
) -> None:
    path = tmp_path / "rules.toml"
    path.write_text(text, encoding="utf-8")
    message = refused("count", path)
    assert said in message
    assert message.rstrip("\n").isprintable()


RULES = """
class Loud(Exception):
    def __str__(self):
        raise ValueError("no")

class Mute(BaseException):
    def __str__(self):
        raise Mute

class Vague:
    def __bool__(self):
        raise ValueError("neither")
    def __eq__(self, other):
        raise ValueError("unequal")
    def __hash__(self):
        return 1

def base(line):
    raise BaseException("b" + chr(27))

def loud(line):
    raise Loud

def mute(line):
    raise Mute

def ends(line):
    raise SystemExit

def vague(line):
    return Vague()

class Step:
    def start(self):
        return 0
    def step(self, state, note):
        return Vague()
    def content(self, state):
        return True

class Apart:
    def __hash__(self):
        return 1
    def __eq__(self, other):
        return self is other or other.place == 0

class Others(Step):
    def step(self, state, note):
        return Apart()

class Content(Step):
    def step(self, state, note):
        return 0
    def content(self, state):
        return Vague()
"""


@pytest.mark.parametrize("name", ["base", "loud", "mute", "ends", "vague", "Step", "Others", "Content"])
def test_whatever_a_rule_in_python_does_is_one_sentence_on_that_rule(
    name: str, run: Callable[..., Answer], tmp_path: Path
) -> None:
    path = tmp_path / "own.py"
    path.write_text(RULES)
    space = ("--changes", "Dm7 | G7", "--start", "D4", "--figures", "above-below")
    answer = run("count", *space, "--own-rule", f"{path}:{name}", "--allow-python")
    assert (answer.code, answer.out) == (2, "")
    assert f'own rule "{name}" failed while reading' in answer.err
    assert answer.err.count("\n") == 2  # that Python runs, and that
    assert answer.err.replace("\n", "").isprintable()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("list", "--output=--"), "--output: expected one argument"),
        (("list", "--time-limit", "nan"), "--time-limit"),
        (("serve", "--time-limit", "nan"), "--time-limit"),
        (("serve", "--time-limit", "inf"), "--time-limit"),
        (("serve", "--host", "", "--port", "70000"), '--host ""'),
        (("show", "first-enclosure", "9" * 100_000), "a number of 100000 digits is too long"),
        (("list", "first-enclosure", "--most", "9" * 100_000), "a number of 100000 digits is too long"),
        (("lesson", "a\0b"), "null byte"),
        (("export", "first-enclosure", "--to", "x.html", "--title", "caf\udce9"), "not UTF-8 text"),
        (("sheet", "first-enclosure", "--to", "x.html", "--remark", "caf\udce9"), "not UTF-8 text"),
        *(
            (("sheet", "first-enclosure", "--to", "x.pdf", option, "caf\udce9"), "not UTF-8 text")
            for option in ("--subtitle", "--author", "--rights", "--footer", "--student", "--week")
        ),
        (("lesson", "x.toml", "--keep", "first-enclosure", "--title", "caf\udce9"), "not UTF-8 text"),
        (("learn", "--changes", "G7 | C", "--remark", "caf\udce9", "Ab4"), "not UTF-8 text"),
        (("count", "a\0b"), "a\\u0000b"),
        (("check", "first-enclosure", "a\0b.mid"), "null byte"),
        (("list", "first-enclosure", "--output", "a\0b"), "null byte"),
        (("count", "first-enclosure", "--own-rule", "a\0b.py:x", "--allow-python"), "null byte"),
        (("count", "first-enclosure", "--own-rule", "long.py:x", "--allow-python"), "hardly a rule"),
    ],
)
def test_odd_words_are_one_sentence(
    words: tuple[str, ...],
    said: str,
    refused: Callable[..., str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    (tmp_path / "long.py").write_text("x = 1\n" * 200_000)
    monkeypatch.chdir(tmp_path)
    assert said in refused(*words)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device of Linux")
@pytest.mark.parametrize("where", ["output", "file"])
def test_a_full_disk_is_a_stop_that_names_the_file(
    where: str, program: Callable[..., Answer], rule_file: Path, tmp_path: Path
) -> None:
    if where == "output":
        with open("/dev/full", "w") as full:
            command = [sys.executable, "-m", "everyline", "list", str(rule_file), "--notes-only"]
            done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
        assert done.returncode == 3
        assert (
            done.stderr
            == "everyline: stopped: the output: No space left on device; make room, and ask again.\n"
        )
        return
    import resource

    folder = tmp_path / "set"
    for most in (200, 5_000):  # the journal, and what it tells of
        bounded = {"preexec_fn": lambda most=most: resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))}
        answer = program("drill", "--rules", rule_file, "--lines", 60, "--output", folder, **bounded)
        assert answer.code == 3
        assert "stopped: " in answer.err and str(folder) in answer.err and "File too large" in answer.err
        assert answer.err.count("\n") == 1
    assert program("drill", "--rules", rule_file, "--lines", 60, "--output", folder).code == 0
    assert not [name for name in os.listdir(folder) if name.endswith(".part")]
