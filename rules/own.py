"""Rules of a teacher's own, in Python: step rules and whole-line rules.

A *step rule* is an object (or a class that makes one) with ``start``, ``step`` and ``content``: an acceptor
read note by note, a limit like any other. A *whole-line rule* is a function that is given a ``FinishedLine``
and answers yes or no; it is asked of every line by itself.

Nothing here runs unless a caller passes ``loader(...)`` to the reader of rule files.
"""

from __future__ import annotations

import hashlib
import inspect
import sys
from collections.abc import Callable, Sequence
from contextlib import redirect_stdout
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any

from everyline.corpora.errors import EverylineError, InputError, did_you_mean, reason
from everyline.corpora.loader import LARGEST_FILE
from everyline.rules.acceptor import Breach, Notes, State
from everyline.rules.limits.base import Context, named, note_name
from everyline.rules.line import Events, Note
from everyline.rules.progression import Progression
from everyline.rules.schema import listed

if TYPE_CHECKING:
    from everyline.rules.annotate import AnnotatedLine
    from everyline.rules.ruleset import Rules

ENTRY_POINTS = "everyline.rules"
"""The group of entry points under which an installed package offers rules."""

MOST_LOOKED_AT = 2_000_000
"""How many lines a whole-line rule looks at, unless more are allowed."""

STEP_METHODS = ("start", "step", "content")


class RuleFailed(InputError):
    """A rule in Python raised an exception, or answered with something that is no answer."""

    def __init__(self, rule: str, problem: str, reading: str, note: Note | None = None) -> None:
        self.rule, self.problem, self.note = rule, problem, note
        self._read = reading
        super().__init__(f'own rule "{rule}" failed while reading {reading}: {problem}.')

    def __reduce__(self) -> tuple[Any, ...]:
        return RuleFailed, (self.rule, self.problem, self._read, self.note)

    def reading(self, line: str) -> RuleFailed:
        """The same failure with the line that was being read, as note names."""
        return RuleFailed(self.rule, self.problem, f"the line {line}", self.note)


@dataclass(frozen=True)
class FinishedLine:
    """A line as a whole-line rule sees it: its notes, and on demand everything else."""

    rules: Rules
    events: Events

    @cached_property
    def notes(self) -> Notes:
        """Each note with onset and length (ticks), pitch (MIDI), slot, chord index, degree, chord_tone."""
        return self.rules.notes(self.events)

    @property
    def pitches(self) -> tuple[int, ...]:
        """Sounding MIDI numbers."""
        return tuple(event.pitch for event in self.events)

    @property
    def intervals(self) -> tuple[int, ...]:
        """Semitones from each note to the next, down negative."""
        pitches = self.pitches
        return tuple(after - before for before, after in pairwise(pitches))

    @cached_property
    def annotated(self) -> AnnotatedLine:
        """The line with the analysis that is shown: roles, figures, ending, spelled names."""
        from everyline.rules.annotate import annotate

        return annotate(self.rules, self.events)

    @property
    def text(self) -> str:
        """Note names: ``D4 F4 A4``."""
        return " ".join(note_name(self.rules.progression, note) for note in self.notes)


def _guarded(rule: str, reading: Callable[[], str], call: Callable[[], Any], note: Note | None = None) -> Any:
    """What the call answers; whatever goes wrong in a teacher's code becomes a RuleFailed.

    What the code prints goes to standard error: standard output is for data.
    """
    try:
        with redirect_stdout(sys.stderr):
            return call()
    except (EverylineError, MemoryError, KeyboardInterrupt):
        raise
    except BaseException as error:  # a rule may raise anything
        raise RuleFailed(rule, _problem(error), reading(), note) from None


def _problem(error: BaseException) -> str:
    """What went wrong; the exception may be of the rule's own making, and fail to say it."""
    try:
        said = str(error)
    except KeyboardInterrupt:
        raise
    except BaseException:
        said = ""
    return f"{type(error).__name__}: {said}".rstrip(": ").rstrip(".")


@dataclass(frozen=True)
class Origin:
    """Where a rule was found: its name as written, and the text and path of its file; an installed one has
    neither."""

    name: str
    path: str = ""
    text: bytes | None = None

    def again(self) -> Any:
        """What the name stands for, in another process. It runs the file's Python."""
        if self.text is None:
            return _installed(self.name)[0]
        return _run_file(self.name, Path(self.path), self.text)[0]


def _known(origin: Origin | None) -> Origin:
    if origin is None:
        raise TypeError("a rule made in this process, and not read from a file, stays in it")
    return origin


@dataclass(frozen=True)
class StepRule:
    """A step rule as a limit. ``source`` is what the fingerprint of the rules holds of it."""

    kind: str
    source: str
    words: str
    rule: Any = field(compare=False, repr=False)
    progression: Progression = field(compare=False, repr=False)
    origin: Origin | None = field(default=None, compare=False, repr=False)
    _states: dict[State, State] = field(default_factory=dict, init=False, compare=False, repr=False)

    def __reduce__(self) -> tuple[Any, ...]:
        # A rule's code goes to another process as text; the process runs it again.
        return _step_again, (self.kind, self.source, self.words, self.progression, _known(self.origin))

    def start(self) -> State:
        """The state before the first note."""
        found: State = self._call("its start", lambda: self._state(self.rule.start(), "its start", None))
        return found

    def step(self, state: State, note: Note) -> State | None:
        """The state after a note, None for no."""
        place = named(self.progression, note)

        def call() -> State | None:
            after = self.rule.step(state, note)
            return None if after is None else self._state(after, place, note)

        found: State | None = self._call(place, call, note)
        return found

    def content(self, state: State) -> bool:
        """Whether the line may end."""
        return self._yes("the end of the line", lambda: self.rule.content(state))

    def holds(self, notes: Notes) -> bool:
        """The rule's own ``holds`` where it has one, else the acceptor read to the end."""
        if callable(getattr(self.rule, "holds", None)):
            return self._yes("a line", lambda: self.rule.holds(notes))
        return self._refused(notes) is None

    def describe(self) -> str:
        """What the rule asks: its own ``describe``, else the first line of its docstring, else its name."""
        if callable(getattr(self.rule, "describe", None)):
            return str(self._call("its description", lambda: str(self.rule.describe())))
        return self.words

    def explain(self, notes: Notes) -> tuple[Breach, ...]:
        """The rule's own ``explain`` where it has one, else the note at which it says no."""
        if callable(getattr(self.rule, "explain", None)):
            found: tuple[Breach, ...] = self._call("a line", lambda: self._told(notes))
            return found
        refused = self._refused(notes)
        if refused is None:
            return ()
        index = refused if refused < len(notes) else None
        where = named(self.progression, notes[refused]) if index is not None else "the end of the line"
        return (Breach(self.kind, f"own rule {self.kind} ({self.describe()}) says no at {where}.", index),)

    def _refused(self, notes: Notes) -> int | None:
        """The index of the note that is refused, the number of notes for the end, None where it holds."""
        state = self.start()
        for index, note in enumerate(notes):
            after = self.step(state, note)
            if after is None:
                return index
            state = after
        return None if self.content(state) else len(notes)

    def _told(self, notes: Notes) -> tuple[Breach, ...]:
        found = self.rule.explain(notes)
        return tuple(each if isinstance(each, Breach) else Breach(self.kind, str(each)) for each in found)

    def _yes(self, reading: str, call: Callable[[], Any]) -> bool:
        return bool(self._call(reading, lambda: bool(call())))

    def _call(self, reading: str, call: Callable[[], Any], note: Note | None = None) -> Any:
        return _guarded(self.kind, lambda: reading, call, note)

    def _state(self, state: Any, reading: str, note: Note | None) -> State:
        if state is None:
            raise RuleFailed(self.kind, "start() answered None, which is no state", reading, note)
        try:
            hash(state)
        except TypeError:
            problem = f"the state {state!r} cannot be hashed; use numbers, texts or tuples"
            raise RuleFailed(self.kind, problem, reading, note) from None
        # Lines whose states are equal go on together, so a state is compared here with those before it, where
        # it is known whose fault it is when that fails.
        return self._states.setdefault(state, state)


@dataclass(frozen=True)
class WholeLineRule:
    """A predicate on finished lines. It looks at no more than ``look_at`` lines; ``report`` is told how
    many."""

    kind: str
    source: str
    words: str
    rule: Callable[[FinishedLine], Any] = field(compare=False, repr=False)
    origin: Origin | None = field(default=None, compare=False, repr=False)
    look_at: int = field(default=MOST_LOOKED_AT, compare=False)
    report: Callable[[str], None] | None = field(default=None, compare=False, repr=False)

    def __reduce__(self) -> tuple[Any, ...]:
        return _whole_line_again, (self.kind, self.source, self.words, _known(self.origin), self.look_at)

    def holds(self, line: FinishedLine) -> bool:
        """Whether the line meets the rule. Raises RuleFailed with the line."""
        return bool(_guarded(self.kind, lambda: f"the line {line.text}", lambda: bool(self.rule(line))))

    def describe(self) -> str:
        """What the rule asks."""
        return self.words

    def explain(self, line: FinishedLine) -> tuple[Breach, ...]:
        """One breach of the line as a whole, or none."""
        if self.holds(line):
            return ()
        return (Breach(self.kind, f"the line does not meet own rule {self.kind}: {self.words}."),)


OwnRule = StepRule | WholeLineRule


def _step_again(kind: str, source: str, words: str, progression: Progression, origin: Origin) -> StepRule:
    made = origin.again()
    rule = _guarded(kind, lambda: "its class", lambda: _instance(made, progression))
    return StepRule(kind, source, words, rule, progression, origin)


def _whole_line_again(kind: str, source: str, words: str, origin: Origin, look_at: int) -> WholeLineRule:
    return WholeLineRule(kind, source, words, origin.again(), origin, look_at)


def meets_filters(rules: Rules, events: Events) -> bool:
    """Whether a line meets every whole-line rule."""
    line = FinishedLine(rules, events)
    return all(rule.holds(line) for rule in rules.filters)


def loader(
    look_at: int = MOST_LOOKED_AT, report: Callable[[str], None] | None = None
) -> Callable[[Sequence[str], Path, Context], tuple[OwnRule, ...]]:
    """What runs the Python that a rule file names; to be given to the reader of rule files.

    A name is ``file.py:name`` (the file from the rule file's folder) or the name of an installed entry point
    of the group ``everyline.rules``. ``report`` is told what is run. Raises InputError.
    """

    def load(names: Sequence[str], base: Path, context: Context) -> tuple[OwnRule, ...]:
        found = []
        for name in names:
            made, kind, digest, origin = _from_file(name, base) if ":" in name else _installed(name)
            if report is not None:
                place = name.rpartition(":")[0] or "an installed package"
                report(f'running Python: own rule "{kind}" from {place}.')
            found.append(_rule(made, kind, f"{kind}:{digest}", origin, context, look_at, report))
        return tuple(found)

    return load


Found = tuple[Any, str, str, Origin]
"""(what a name stands for, the rule's kind, digest of its text, where it was found)."""


def _from_file(name: str, base: Path) -> Found:
    path = base / name.rpartition(":")[0]
    try:
        with path.open("rb") as file:
            text = file.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        raise InputError(f'own rule "{name}": {path} cannot be read: {reason(error)}.') from None
    if len(text) > LARGEST_FILE:
        raise InputError(f'own rule "{name}": {path} has more than {LARGEST_FILE:,} bytes, so hardly a rule.')
    return _run_file(name, path, text)


def _run_file(name: str, path: Path, text: bytes) -> Found:
    kind = name.rpartition(":")[2]
    digest = hashlib.sha256(text).hexdigest()
    module = ModuleType(f"everyline_own_{digest[:16]}")
    module.__file__ = str(path)
    sys.modules[module.__name__] = module  # dataclasses look their module up
    try:
        code = compile(text, str(path), "exec")
    except (SyntaxError, ValueError) as error:
        line = getattr(error, "lineno", None)
        where = f", line {line}" if line else ""
        problem = error.msg if isinstance(error, SyntaxError) else error
        raise InputError(f'own rule "{name}": {path}{where} is not Python: {problem}.') from None
    _guarded(name, lambda: f"its file {path}", lambda: exec(code, module.__dict__))
    if kind not in vars(module):
        known = [each for each, value in vars(module).items() if callable(value) and not each.startswith("_")]
        raise InputError(
            f'own rule "{name}": {path} has no "{kind}"; it has {listed(known) or "nothing to call"}.'
            f"{did_you_mean(kind, known)}"
        )
    return vars(module)[kind], kind, digest, Origin(name, str(path), text)


def _installed(name: str) -> Found:
    from importlib import metadata  # slow to import, and seldom needed

    known = {each.name: each for each in metadata.entry_points(group=ENTRY_POINTS)}
    if name not in known:
        raise InputError(
            f'own rule "{name}" is not installed; write file.py:name for one in a file. '
            f"Installed: {listed(known) or 'none'}.{did_you_mean(name, known)}"
        )
    made = _guarded(name, lambda: "its installed package", known[name].load)
    file = inspect.getsourcefile(made if inspect.isclass(made) or inspect.isroutine(made) else type(made))
    text = Path(file).read_bytes() if file else name.encode()
    return made, name, hashlib.sha256(text).hexdigest(), Origin(name)


def _rule(
    made: Any,
    kind: str,
    source: str,
    origin: Origin,
    context: Context,
    look_at: int,
    report: Callable[[str], None] | None,
) -> OwnRule:
    """The rule that a name stands for. Raises InputError where it is neither kind of rule."""
    words = (inspect.getdoc(made) or kind).splitlines()[0].rstrip(".")
    there = [method for method in STEP_METHODS if callable(getattr(made, method, None))]
    if len(there) == len(STEP_METHODS):
        rule = _guarded(kind, lambda: "its class", lambda: _instance(made, context.progression))
        return StepRule(kind, source, words, rule, context.progression, origin)
    if there:
        missing = [method for method in STEP_METHODS if method not in there]
        raise InputError(f'own rule "{kind}" is a step rule without {listed(missing)}; it needs all three.')
    if not inspect.isclass(made) and callable(made):
        return WholeLineRule(kind, source, words, made, origin, look_at, report)
    raise InputError(
        f'own rule "{kind}" is neither a function of a line nor a class with {listed(STEP_METHODS)}.'
    )


def _instance(made: Any, progression: Progression) -> Any:
    """An object of a class, which may ask for the progression; an object as it is."""
    if not inspect.isclass(made):
        return made
    make: Callable[..., Any] = made
    return make(progression) if inspect.signature(make).parameters else make()
