"""What a worker does when it is asked, and the compiled rules that it keeps."""

from __future__ import annotations

import contextlib
import importlib
import json
import sys
from collections import OrderedDict
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any

from everyline.corpora import Corpus
from everyline.corpora import load as load_corpus
from everyline.corpora.errors import EverylineError
from everyline.page.lanes import OPERATIONS
from everyline.page.pool import REMEMBERED
from everyline.rules.chorus_file import read_plan
from everyline.rules.rulefile import parse_rules
from everyline.rules.ruleset import Rules
from everyline.solver.compiler import compile_rules
from everyline.solver.diagram import Diagram
from everyline.solver.reuse import join_limits, without_limits
from everyline.spaces.space import Space

if TYPE_CHECKING:
    from everyline.page.drill_view import MadeSet
    from everyline.page.lines_view import Ranking
    from everyline.spaces.shown import Line

Answer = Any

FIRST_RULES: dict[str, Any] = {"changes": "Dm7 | G7 | Cmaj7", "range": {"instrument": "guitar"}}
"""The rules that the page opens with, where its address names none."""
BASES = 16
"""Diagrams under the limits that are kept."""


class Abandoned(BaseException):
    """Nobody waits for the answer any more. It is no Exception, so that nothing on the way catches it."""


class Workspace:
    """One worker's memory: the corpora, and the spaces compiled last."""

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = folder
        self.corpus: Corpus = load_corpus(folder)
        self._spaces: OrderedDict[str, Space] = OrderedDict()
        self._bases: OrderedDict[Rules, Diagram] = OrderedDict()
        self.rankings: OrderedDict[str, Ranking] = OrderedDict()
        self.picks: OrderedDict[str, list[Line]] = OrderedDict()
        self.drills: OrderedDict[str, MadeSet] = OrderedDict()
        self.on_word: Callable[[Any], None] | None = None
        self._unwanted = False
        self._depth = 0

    def warm_first(self, counts: bool) -> None:
        """Work out what the page asks for first, before it asks: what there is to choose from and the count
        of its rules, and but for the worker for counts the lines that it opens on, one of them engraved."""
        try:
            self.do("vocabulary", {})
            self.do("summary", {"tables": FIRST_RULES})
            if counts:
                return
            found = self.do("good", {"tables": FIRST_RULES, "first": 1, "most": 1, "draw": 1})
            line = {"number": found["lines"][0]["number"], "staves": "auto", "width": 160}
            self.do("picture", {"tables": FIRST_RULES, **line})
        except EverylineError as error:
            # Without an engraver everything else works; whoever asks for a picture is told.
            print(f"everyline: {error}", file=sys.stderr)

    def warm(self) -> None:
        """Load what is needed sooner or later, while nobody waits."""
        from everyline.page.lines_view import picture

        with contextlib.suppress(EverylineError):
            picture(self, FIRST_RULES, "1", "both", 160)
        for module, _ in OPERATIONS.values():
            importlib.import_module(f"everyline.page.{module}")

    def do(self, operation: str, arguments: dict[str, Any]) -> Answer:
        """Run one operation. Raises InputError and its like for what the asker should know, and Abandoned
        after ``abandon`` or ``interrupt``."""
        module = importlib.import_module(f"everyline.page.{OPERATIONS[operation][0]}")
        return getattr(module, operation)(self, **arguments)

    # -- work that nobody waits for --------------------------------------------------------------------------

    def abandon(self) -> None:
        """Say, from any thread, that nobody waits for the present answer."""
        self._unwanted = True

    def wanted(self) -> None:
        """The next answer is waited for."""
        self._unwanted = False

    def rest(self) -> None:
        """No work is being done."""
        self._depth = 0

    def interrupt(self, frame: FrameType | None) -> None:
        """Raise Abandoned where the present work may be broken off: in counting, not in the middle of an
        import or of a picture."""
        if self._unwanted and self._depth and not _importing(frame):
            raise Abandoned

    @contextlib.contextmanager
    def counting(self) -> Iterator[None]:
        """Work that may be broken off at any instruction, for it leaves nothing half done behind."""
        if self._unwanted:
            raise Abandoned
        self._depth += 1
        try:
            yield
        finally:
            self._depth -= 1

    def tell(self, word: Any) -> None:
        """Send a word to whoever waits for the answer, such as how far it is. Work that nobody waits for ends
        here."""
        if self._unwanted:
            raise Abandoned
        if self.on_word is None:
            return
        # A message is never broken off in the middle.
        depth, self._depth = self._depth, 0
        try:
            self.on_word(word)
        finally:
            self._depth = depth

    def tell_progress(self, words: str, done: int, of: int) -> None:
        """Tell how much of some work is done."""
        self.tell({"words": words, "done": done, "of": of})

    # -- spaces ----------------------------------------------------------------------------------------------

    def space(self, tables: dict[str, Any]) -> Space:
        """The space of a rule file's tables, or of a chorus plan's, compiled at most once while it is
        remembered.

        Rules in Python are refused: no way to load them is handed on.
        """
        key = json.dumps(tables, sort_keys=True)
        found = self._spaces.get(key)
        if found is None:
            with self.counting():
                if "phrase" in tables:
                    found = self._choruses(tables)
                else:
                    found = self._lines(tables)
            self._spaces[key] = found
            while len(self._spaces) > REMEMBERED:
                self._spaces.popitem(last=False)
        self._spaces.move_to_end(key)
        return found

    def _choruses(self, tables: dict[str, Any]) -> Space:
        from everyline.spaces.choruses import Chorus

        found = Chorus(read_plan(tables, self.corpus, name="this plan"))
        _ = found.diagram  # compiled now, while it may be broken off
        return found

    def _lines(self, tables: dict[str, Any]) -> Space:
        found = Space(parse_rules(tables, self.corpus, name="these rules"))
        # As a cached property's value: the space does not compile what is compiled already.
        found.__dict__["diagram"] = join_limits(self._base(found.rules), found.rules)
        return found

    def _base(self, rules: Rules) -> Diagram:
        """The diagram under the limits of these rules."""
        key = without_limits(rules)
        found = self._bases.get(key)
        if found is None:
            found = compile_rules(key)
            self._bases[key] = found
            while len(self._bases) > BASES:
                self._bases.popitem(last=False)
        self._bases.move_to_end(key)
        return found


def _importing(frame: FrameType | None) -> bool:
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            return True
        frame = frame.f_back
    return False
