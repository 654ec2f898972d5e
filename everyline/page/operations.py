"""What a worker can be asked: one table of operations, and the compiled rules that it keeps."""

from __future__ import annotations

import importlib
import json
import sys
from collections import OrderedDict
from pathlib import Path
from typing import Any

from corpora import Corpus
from corpora import load as load_corpus
from corpora.errors import EverylineError
from everyline.page.workers import REMEMBERED
from everyline.space import Space
from rules.rulefile import parse_rules

Answer = Any

OPERATIONS: dict[str, str] = {
    "vocabulary": "vocabulary",
    "corpus_rules": "vocabulary",
    "read_rules": "rules_view",
    "summary": "rules_view",
    "toml": "rules_view",
    "choices": "choices",
    "facets": "choices",
    "conflicts": "conflicts_view",
    "rows": "lines_view",
    "line": "lines_view",
    "number": "lines_view",
    "picture": "lines_view",
    "check": "check_view",
    "check_file": "check_view",
    "take": "takeaway",
    "sound": "takeaway",
    "timing": "takeaway",
    "lesson_read": "lesson_view",
    "lesson_write": "lesson_view",
    "lesson_take": "lesson_view",
    "drill": "drill_view",
    "drill_sheet": "drill_view",
}
"""Every operation and the module of this package that holds the function of its name."""


class Desk:
    """One worker's memory: the corpora, and the spaces compiled last."""

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = folder
        self.corpus: Corpus = load_corpus(folder)
        self._spaces: OrderedDict[str, Space] = OrderedDict()

    def warm(self) -> None:
        """Load what every session needs, before anybody waits for it."""
        from everyline.page.lines_view import picture

        tables = {"changes": "Dm7 | G7 | Cmaj7"}
        try:
            picture(self, tables, "1", "both", 160)
        except EverylineError as error:
            # Without an engraver everything else works; whoever asks for a picture is told.
            print(f"everyline: {error}", file=sys.stderr)

    def do(self, operation: str, arguments: dict[str, Any]) -> Answer:
        """Run one operation. Raises InputError and its like for what the asker should know."""
        module = importlib.import_module(f"everyline.page.{OPERATIONS[operation]}")
        return getattr(module, operation)(self, **arguments)

    def space(self, tables: dict[str, Any]) -> Space:
        """The space of a rule file's tables, compiled at most once while it is remembered.

        Rules in Python are refused: no way to load them is handed on.
        """
        key = json.dumps(tables, sort_keys=True)
        found = self._spaces.get(key)
        if found is None:
            found = Space(parse_rules(tables, self.corpus, name="these rules"))
            self._spaces[key] = found
            while len(self._spaces) > REMEMBERED:
                self._spaces.popitem(last=False)
        self._spaces.move_to_end(key)
        return found
