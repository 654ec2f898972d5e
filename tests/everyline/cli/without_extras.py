"""Command lines run where only some of the packages that extras bring can be imported.

``python -m tests.everyline.cli.without_extras EXTRA ... < LINES`` reads command lines as JSON, and writes
``[exit code, standard error]`` of each; whatever no named extra brings is not there.
"""

from __future__ import annotations

import contextlib
import io
import json
import re
import sys
import tomllib
from collections.abc import Sequence
from importlib.abc import MetaPathFinder
from importlib.metadata import packages_distributions
from pathlib import Path

PYPROJECT = Path(__file__).parents[3] / "pyproject.toml"


def extras() -> dict[str, set[str]]:
    """The distributions that each extra for users names, as the project file has them."""
    stated = tomllib.loads(PYPROJECT.read_text(encoding="utf-8"))["project"]["optional-dependencies"]
    return {
        extra: {_plain(re.split(r"[^\w.-]", each)[0]) for each in packages}
        for extra, packages in stated.items()
        if extra not in ("all", "dev")
    }


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def _modules(distributions: set[str]) -> set[str]:
    return {
        module
        for module, owners in packages_distributions().items()
        if distributions & {_plain(owner) for owner in owners}
    }


class Absent(MetaPathFinder):
    """Packages that are not installed, as far as imports can tell."""

    def __init__(self, modules: set[str]) -> None:
        self._modules = modules

    def find_spec(self, name: str, path: object = None, target: object = None) -> None:
        """Raises ModuleNotFoundError for an absent one; others are found by others."""
        if name.partition(".")[0] in self._modules:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)


def only(kept: Sequence[str]) -> None:
    """Take away what no extra in ``kept`` brings."""
    table = extras()
    here = set().union(*(table[extra] for extra in kept)) if kept else set()
    sys.meta_path.insert(0, Absent(_modules(set().union(*table.values())) - _modules(here)))


def main() -> None:
    """Run the command lines of standard input."""
    only(sys.argv[1:])
    from everyline.cli.main import main as everyline

    answers = []
    for words in json.load(sys.stdin):
        said = io.StringIO()
        with contextlib.redirect_stdout(io.TextIOWrapper(io.BytesIO())), contextlib.redirect_stderr(said):
            answers.append((everyline(words), said.getvalue()))
    json.dump(answers, sys.stdout)


if __name__ == "__main__":
    main()
