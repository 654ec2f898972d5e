"""Command lines for every command, with its options in odd company and odd values in them."""

from __future__ import annotations

import argparse
import importlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from everyline.cli.main import COMMANDS, CommandParser
from tests.hostile.files import NAMES, hostile, sound
from tests.hostile.takes import TAKES, TEMPO
from tests.hostile.values import NUMBERS, TEXTS, Chance

SPACE = ("--changes", "Dm7 | G7", "--start", "D4", "--endings", "plain", "--lowest", "C4", "--highest", "C5")
KINDS = ("mid", "musicxml", "mxl", "txt")
LINE = "D4 F4 A4 C5 B4:4"
BOUNDS = (("--time-limit", "5"), ("--most-nodes", "30000"))
"""What every command that can be bounded is bounded by."""
BEGINNINGS: dict[str, tuple[tuple[str, ...], ...]] = {
    "count": (SPACE, ("rules.toml",)),
    "list": ((*SPACE, "--most", "2"), ("rules.toml", "--most", "2")),
    "sample": ((*SPACE, "--most", "2"), ("rules.toml", "--most", "1")),
    "pick": ((*SPACE, "--most", "2"), ("rules.toml", "--most", "1")),
    "show": ((*SPACE, "1"), ("rules.toml", "1")),
    "number": ((*SPACE, LINE), ("rules.toml", "line.mid"), ("rules.toml", "line.musicxml")),
    "check": (
        ("rules.toml", LINE),
        *(("rules.toml", f"line.{kind}") for kind in KINDS),
        ("rules.toml", "line.mid", "--tempo", "120", "--asked", "1"),
        *(("first-enclosure", name, "--tempo", str(TEMPO)) for name in TAKES),
        ("first-enclosure", "take.wav", "--tempo", str(TEMPO), "--asked", "3", "--from", "0"),
    ),
    "next": (("rules.toml",), ("rules.toml", "D4 F4"), SPACE, ("rules.toml", "D4 F4", "--why", "Ab4")),
    "learn": (("--changes", "G7 | Cmaj7", "Ab4", "G4", "|", "E4"), ("--changes", "G7 | Cmaj7", "line.mid")),
    "chorus": (("plan.toml",), ("plan.toml", "--order", "smooth", "--most", "1")),
    "facets": (("rules.toml",), SPACE),
    "tally": (("rules.toml", "--only", "interval"),),
    "why": (("rules.toml",),),
    "taste": (
        *(("list",), ("show", "plain"), ("compare", "plain", "solos")),
        ("learn", "line.txt", "--name", "x", "--changes", "Dm7 | G7 | Cmaj7"),
    ),
    "limits": ((), ("largest-leap",)),
    "drill": (
        ("drill.toml", "--output", "made"),
        ("drill.toml", "--output", "made.html"),
        ("--rebuild", "set/manifest.jsonl", "--output", "made"),
    ),
    "lesson": (
        ("lesson.toml",),
        ("lesson.toml", "--keep", "rules.toml", "--number", "1"),
        ("lesson.toml", "--keep", "rules.toml", "--notes", "@1 D4 F4 G4 B4 Ab4 F#4 G4 F4 E4:4"),
        ("lesson.toml", "--add-notes"),
        ("lesson.toml", "--to", "made.html"),
    ),
    "student": (
        ("Ada", "show", "--file", "students.db"),
        ("Ada", "show", "1", "--file", "students.db"),
        ("Ben", "begin", "--instrument", "guitar", "--file", "students.db"),
        ("Ada", "record", "1", "--went", "clean", "--tempo", "90", "--file", "students.db"),
        ("Ada", "give", "rules.toml", "--most", "1", "--file", "students.db"),
        ("Ada", "give", "rules.toml", "--notes", LINE, "--file", "students.db"),
        ("Ada", "give", "--lesson", "lesson.toml", "--file", "students.db"),
        ("Ada", "propose", "--file", "students.db"),
        ("Ada", "take-back", "--file", "students.db"),
        ("Ada", "take-back", "1", "--file", "students.db"),
        ("Ada", "export", "made.json", "--file", "students.db"),
        ("Ada", "export", "made.toml", "--lines", "1", "--file", "students.db"),
        ("Ada", "import", "student.json", "--file", "students.db"),
        ("Ada", "forget", "--for-ever", "--file", "students.db"),
    ),
    "students": (("--file", "students.db"),),
    "plan": (
        ("Ada", "--file", "students.db", "--begin", "2026-12-07"),
        ("student.json", "--days", "2"),
        ("student.json", "--to", "x.ics", "--to", "x.json"),
        ("student.json", "--to", "x.pdf"),
    ),
    "export": (
        ("rules.toml", "--numbers", "1", "--to", "x.mid"),
        ("rules.toml", "--numbers", "1", "--to", "x.mid", "--feel", "swing", "--bass", "walking"),
        ("lesson.toml", "--to", "x.musicxml"),
        ("lesson.toml", "--to", "x.html"),
        ("rules.toml", "--instrument", "guitar", "--numbers", "1", "--to", "x.svg", "--fretboard", "right"),
    ),
    "sheet": (
        ("lesson.toml", "--to", "x.html"),
        ("set", "--to", "x.html"),
        ("set", "--to", "x.pdf"),
        ("rules.toml", "--numbers", "1", "--to", "x.pdf"),
    ),
    "serve": ((),),
    "corpus": ((), ("figures",), ("endings", "plain-of-mine", "--corpora", "own"), ("rulefiles",)),
}
"""How command lines begin before anything is done to them."""

NEVER = frozenset({"--help", "-h", "--allow-python", "--open"})
"""Options that are not given: Python of chance could do anything."""
REFUSED = {"--workers": ("0", "-1", "9" * 30, "x"), "--scheduler": ("", "x", "http://a:1", "tcp://a:0")}
"""Options of which only what is refused is tried: processes cost seconds."""
PLACES = (
    "",
    ".",
    "x.txt",
    "nowhere/x",
    "/dev/null",
    "/dev/full",
    "a\0b",
    "x" * 300,
    "caf\udce9",
    "../y",
    "rules.toml",
    "own",
    "x.mid",
    "x.csv",
    "x.html",
    "x.pdf",
    "x.svg",
    "x.json",
    "x.ics",
    "x.nothing",
)


@dataclass(frozen=True)
class Case:
    """Words of a command line and the files of its folder."""

    words: tuple[str, ...]
    files: dict[str, bytes]

    def lay_out(self, folder: Path) -> None:
        """Put the files into a folder."""
        for name, data in self.files.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_bytes(data)


@cache
def options_of(command: str, action: str = "") -> tuple[argparse.Action, ...]:
    """The options of a command, or of an action of it, as its own parser has them."""
    parser: argparse.ArgumentParser = CommandParser(prog=command)
    importlib.import_module(f"everyline.cli.{COMMANDS[command][0]}").options(command, parser)
    for each in parser._actions:
        if isinstance(each, argparse._SubParsersAction) and action in each.choices:
            parser = each.choices[action]
    return tuple(
        each for each in parser._actions if each.option_strings and each.option_strings[0] not in NEVER
    )


def case(chance: Chance) -> Case:
    """One command line, with files that may be damaged."""
    command = chance.choice(list(COMMANDS))
    words = [command, *chance.choice(BEGINNINGS[command])]
    options = options_of(command, words[2] if command == "student" else "")
    for _ in range(chance.choice((0, 0, 1, 1, 2))):
        words += _option(options, chance)
    if chance.random() < 0.3 and len(words) > 1:
        at = chance.randrange(1, len(words))
        act = chance.random()
        if act < 0.5 and words[at - 1] not in NEVER:
            words[at] = str(chance.choice(TEXTS))
        elif act < 0.8:
            del words[at]
        else:
            words.insert(at, str(chance.choice(TEXTS)))
    known = {name for option in options for name in option.option_strings}
    words += [word for bound in BOUNDS if bound[0] in known for word in bound]
    if chance.random() < 0.3:
        words += ["--corpora", "own"]
    if command == "serve":
        words += ["--port", "70000"]  # the page is never really begun
    read = _read_by(words)
    damaged = set(chance.sample(read, min(len(read), chance.choice((0, 1, 1, 1, 2)))))
    files = {name: hostile(name, chance) if name in damaged else sound(name, chance) for name in read}
    return Case(tuple(words), files)


def _read_by(words: Sequence[str]) -> list[str]:
    """The files that a command line may read: those that it names, and those that they name."""
    named = {*words, *(("rules.toml",) if {"lesson.toml", "drill.toml"} & set(words) else ())}
    return [
        name for name in NAMES if name in named or name.partition("/")[0] in named or name in "".join(words)
    ]


def _option(options: Sequence[argparse.Action], chance: Chance) -> list[str]:
    if not options:
        return []
    option = chance.choice(options)
    name = option.option_strings[0]
    if option.nargs == 0:
        return [name]
    if name in REFUSED:
        return [name, chance.choice(REFUSED[name])]
    if option.type is Path or name in ("--output", "--to", "--corpora", "--rebuild"):
        return [name, chance.choice(PLACES)]
    if option.choices is not None and chance.random() < 0.5:
        return [name, str(chance.choice(list(option.choices)))]
    if option.type in (int, float) and chance.random() < 0.7:
        return [name, str(chance.choice(NUMBERS))]
    joined = chance.random() < 0.3
    text = str(chance.choice(TEXTS))
    return [f"{name}={text}"] if joined else [name, text]
