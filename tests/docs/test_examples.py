"""Every example in the README and the docs is run, and must print what it shows.

A block of TOML, Python or text whose first line is a comment with a file name is that file. In a console
block, a line after ``$`` is a command of ours, and what follows is what it prints (standard output, then
standard error); a line of three dots stands for any number of lines. Examples of one page share a folder and
run in the page's order.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest

from everyline.cli.main import COMMANDS, main

ROOT = Path(__file__).resolve().parents[2]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
_BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_FILE = re.compile(r"# ([\w-]+\.(?:toml|py|txt))\n")


def _examples(block: str) -> Iterator[tuple[str, list[str]]]:
    """(command, lines that it prints) for each command of a console block."""
    command: str | None = None
    printed: list[str] = []
    for line in block.splitlines():
        if line.startswith("$ "):
            if command is not None:
                yield command, printed
            command, printed = line[2:], []
        elif command is not None:
            printed.append(line)
    if command is not None:
        yield command, printed


def _matches(shown: list[str], printed: list[str]) -> bool:
    """Whether the printed lines are those shown, three dots standing for any number of lines."""
    if not shown:
        return not printed
    if shown[0].strip() == "...":
        return any(_matches(shown[1:], printed[skip:]) for skip in range(len(printed) + 1))
    return bool(printed) and printed[0].rstrip() == shown[0].rstrip() and _matches(shown[1:], printed[1:])


@pytest.mark.parametrize("page", [page for page in PAGES if page.exists()], ids=lambda page: page.name)
def test_examples_print_what_they_show(page: Path, tmp_path: Path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("EVERYLINE_CORPORA", raising=False)
    monkeypatch.setenv("EVERYLINE_STUDENTS", "students.db")
    for kind, block in _BLOCK.findall(page.read_text(encoding="utf-8")):
        named = _FILE.match(block)
        if kind in ("toml", "python", "text") and named:
            (tmp_path / named[1]).write_text(block, encoding="utf-8")
        if kind != "console":
            continue
        for command, shown in _examples(block):
            words = shlex.split(command)
            if words[0] != "everyline":
                continue
            main(words[1:])
            captured = capsys.readouterr()
            while shown and not shown[-1].strip():
                shown.pop()
            # A terminal shows what is said of an answer before it or behind it.
            ways = [f"{captured.out}{captured.err}", f"{captured.err}{captured.out}"]
            matching = any(_matches(shown, way.rstrip("\n").splitlines()) for way in ways)
            assert matching, f"{page.name}: {command} printed\n{ways[0]}"


def test_the_readme_shows_every_command() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    missing = [name for name in COMMANDS if f"everyline {name}" not in readme]
    assert not missing


def test_every_linked_file_exists() -> None:
    for page in PAGES:
        if page.exists():
            for target in re.findall(r"\]\(([^)#:]+)\)", page.read_text(encoding="utf-8")):
                assert (page.parent / target).exists(), f"{page.name} links to {target}"
