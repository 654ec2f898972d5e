"""Makes the pictures of the README and the docs again, with the commands that their pages show.

``make pictures`` runs it. Pages of a sheet become pictures by Debian's ``pdftoppm`` (poppler-utils). Those of
the page are made in ``page.py``.
"""

from __future__ import annotations

import contextlib
import re
import shlex
import shutil
import subprocess
import tempfile
from pathlib import Path

from everyline.cli.main import main

HERE = Path(__file__).resolve().parent
README = HERE.parents[1] / "README.md"
DOTS = "80"
"""Dots an inch of a page that is shown."""

PICTURES = {
    "eight-lines.png": 'export --changes "Dm7 | G7 | Cmaj7" --instrument guitar --position 5 --pick 8',
    "six-lines.png": 'export wednesday.toml --numbers "91602897049 138741165052 97327132937 74601796292 '
    '105407080900 127940664870" --tempo 112',
    "tally.svg": 'tally --changes "Dm7 | G7 | Cmaj7" --start D4 --only interval --only degree '
    "--only roughness",
    "two-lines.png": 'export thursday.toml --numbers "30 50" --tempo 100',
    "two-guitars.png": 'export --changes "Dm7 | G7 | Cmaj7" --key C --instrument guitar --numbers 11391329 '
    "--second-part third",
    "concert-pitch.png": 'export --changes "Dm7 | G7 | Cmaj7" --key C --instrument alto-saxophone --sample 1 '
    "--seed 4 --second-part concert",
    "hand-out.png": 'sheet thursday.toml --numbers "1960 2627 22658" --own 1 --slashes --per-page 6 '
    "--with-rules --student Kim --week 6",
    "twelve-keys-1.png": "sheet thursday.toml --numbers 30 --twelve-keys",
}
"""Each picture and the command that makes it, without where it goes."""


def rule_files() -> dict[str, str]:
    """The rule files that the README shows, by name."""
    shown = re.findall(
        r"^```toml\n(# ([\w-]+\.toml)\n.*?)^```$", README.read_text("utf-8"), re.MULTILINE | re.DOTALL
    )
    return {name: text for text, name in shown}


def draw(name: str, command: str) -> None:
    """Make one picture, in a folder with the README's rule files; a sheet shows its first page."""
    words = shlex.split(command)
    made = f"{name}.pdf" if words[0] == "sheet" else name
    if main([*words, "--to", made]):
        raise SystemExit(f"{name}: the command did not end well: everyline {command}")
    if made != name:
        page = ["pdftoppm", "-r", DOTS, "-png", "-f", "1", "-singlefile", made, name.removesuffix(".png")]
        subprocess.run(page, check=True)
    shutil.copy(name, HERE / name)
    print(name)


if __name__ == "__main__":
    if shutil.which("pdftoppm") is None:
        raise SystemExit("pdftoppm is missing: it is in the system package poppler-utils.")
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        for name, text in rule_files().items():
            Path(name).write_text(text, "utf-8")
        for name, command in PICTURES.items():
            draw(name, command)
