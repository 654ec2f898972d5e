"""The base install alone, and with each extra alone: every command works, or says which extra it lacks."""

from __future__ import annotations

import json
import os
import random
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.everyline.cli.without_extras import extras
from tests.hostile.files import NAMES, sound
from tests.sweeps import sweep

ROOT = Path(__file__).parents[3]
LINE = "D4 F4 A4 C5 B4:4"
BASE: tuple[tuple[str, ...], ...] = (
    ("count", "rules.toml"),
    ("list", "rules.toml", "--most", "2"),
    ("pick", "rules.toml", "--most", "2"),
    ("check", "rules.toml", LINE),
    ("next", "rules.toml", "D4 F4", "--why", "Ab4"),
    ("learn", "--changes", "G7 | Cmaj7", "Ab4", "G4", "|", "E4"),
    ("chorus", "plan.toml"),
    ("facets", "rules.toml"),
    ("why", "rules.toml"),
    ("drill", "drill.toml", "--output", "drilled"),
    ("lesson", "lesson.toml"),
    ("student", "Ada", "show", "--file", "students.db"),
    ("student", "Ada", "export", "made.json", "--file", "students.db"),
    *(
        ("export", "rules.toml", "--numbers", "1", "--to", f"made.{kind}")
        for kind in ("musicxml", "txt", "csv", "jsonl")
    ),
    ("corpus",),
)
"""What works without any extra."""
MORE: tuple[tuple[str, ...], ...] = (
    ("count", "rules.toml", "--engine", "cp-sat"),
    ("count", "rules.toml", "--engine", "backtracking"),
    ("list", "rules.toml", "--order", "varied", "--exact", "--most", "2"),
    *(("check", "rules.toml", f"line.{kind}") for kind in ("mid", "musicxml", "mxl")),
    ("check", "first-enclosure", "take.wav", "--tempo", "240"),
    ("learn", "--changes", "G7 | Cmaj7", "line.mid"),
    ("drill", "drill.toml", "--output", "made.html"),
    ("lesson", "lesson.toml", "--to", "lesson.html"),
    ("plan", "student.json", "--days", "2"),
    ("plan", "student.json", "--to", "week.ics"),
    ("plan", "student.json", "--to", "week.pdf"),
    *(
        ("export", "rules.toml", "--numbers", "1", "--to", f"made.{kind}")
        for kind in ("mid", "wav", "flac", "svg", "pdf", "html", "parquet")
    ),
    ("sheet", "rules.toml", "--numbers", "1", "--to", "sheet.pdf"),
    ("serve", "--port", "70000"),
)
"""What needs extras."""
LACKING = re.compile(r'pip install ["\']everyline\[([\w,]+)\]["\']')


def answers(kept: tuple[str, ...], lines: tuple[tuple[str, ...], ...], folder: Path) -> list[tuple[int, str]]:
    """Exit code and standard error of each command line where these extras alone are installed."""
    folder.mkdir()
    for name in NAMES:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(sound(name, random.Random(1)))
    done = subprocess.run(
        [sys.executable, "-m", "tests.everyline.cli.without_extras", *kept],
        input=json.dumps(lines),
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(done.stdout)


@pytest.mark.slow
@pytest.mark.parametrize("extra", ["", *list(extras())[: sweep(0, 99)]])
def test_a_command_works_or_says_which_extra_it_lacks(extra: str, tmp_path: Path) -> None:
    """What it names is an extra, is not there yet, and is what it lacked."""
    kept = (extra,) if extra else ()
    lines, lacking = BASE + MORE, dict[tuple[str, ...], list[tuple[str, ...]]]()
    for words, (code, said) in zip(lines, answers(kept, lines, tmp_path / "first"), strict=True):
        assert said.count("\n") <= 1 or code == 0, said
        named = LACKING.search(said)
        if named is None:
            assert code in (0, 1) or words[0] == "serve", (words, said)
            continue
        assert code == 2 and words not in BASE, (words, said)
        wanted = set(named[1].split(",")) - set(kept)
        assert wanted and wanted <= extras().keys(), said
        lacking.setdefault(tuple(sorted(wanted | set(kept))), []).append(words)
    assert lacking
    for place, (together, refused) in enumerate(lacking.items()):
        if not extra and place >= sweep(2, 99):
            break
        found = answers(together, tuple(refused), tmp_path / str(place))
        for words, (code, said) in zip(refused, found, strict=True):
            named = LACKING.search(said)
            further = named is not None and not set(named[1].split(",")) <= set(together)
            assert code in (0, 1) or further or words[0] == "serve", (words, said)
