"""What is said of an option that a command does not have, and of changes without their quotes."""

from __future__ import annotations

from argparse import ArgumentParser
from collections.abc import Sequence
from pathlib import Path

from everyline.corpora.errors import nearest, suggestion
from everyline.rules.schema import listed

MEANT = {
    "lines": ("most", "numbers"),
    "most": ("lines", "numbers"),
    "limit": ("most", "lines"),
    "n": ("most", "lines", "numbers"),
    "number": ("numbers", "most", "from"),
    "key": ("keys",),
    "keys": ("key", "twelve-keys"),
    "bpm": ("tempo", "tempi"),
    "tempo": ("tempi",),
    "chords": ("changes",),
    "progression": ("changes",),
    "output": ("to",),
    "to": ("output",),
    "concert": ("written",),
}
"""Words that people use for an option, and the options that hold what they mean, likeliest first."""
MOST_COMMANDS = 4


def unknown_option(parser: ArgumentParser, option: str) -> str:
    """A sentence on an option that the command of a parser does not have: what it has in its place, or which
    commands have it."""
    # Without their dashes, in which all options are alike.
    known = {name[2:]: name for name in parser._option_string_actions if name[1] == "-"}
    said = f'there is no option {option}; "{parser.prog} --help" lists the options.'
    typed = option[2:].replace("_", "-")
    meant = [known[name] for name in MEANT.get(typed, ()) if name in known][:1]
    if meant:
        return said + suggestion(meant)
    elsewhere = _commands_with(option)
    if elsewhere:
        words = listed(elsewhere) if len(elsewhere) <= MOST_COMMANDS else "other commands"
        have = "have" if len(elsewhere) > 1 else "has"
        return (
            f'there is no option {option} here: {words} {have} it; "{parser.prog} --help" lists the options.'
        )
    return said + suggestion([known[name] for name in nearest(option[2:], known)])


def _commands_with(option: str) -> list[str]:
    from everyline.cli.main import COMMANDS, command

    return [name for name in COMMANDS if option in command(name)[1]._option_string_actions]


def unquoted(changes: str, further: Sequence[str | None]) -> str:
    """A sentence on changes whose quotes are missing, where the words after them are chords; else nothing."""
    from everyline.rules.typed_changes import readable

    words = [word for word in further if word is not None]
    if not words or any(Path(word).is_file() for word in words) or not readable(" ".join([changes, *words])):
        return ""
    return f'put the changes in quotes: --changes "{" ".join([changes, *words])}".'
