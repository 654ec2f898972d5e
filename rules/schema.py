"""Keys of a rule file: one description that reading, error texts, documentation and forms are made from.

A key has a type. The type fixes the shape of its value (text, whole number, or a list of either) and the
words that an error uses. What the value means (whether a chord occurs, whether a beat exists) is decided
where it is used.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType
from typing import Any

from everyline.corpora.counted import form
from everyline.corpora.errors import InputError, did_you_mean

LONGEST_SHOWN = 60


class Shape(Enum):
    """What a value looks like in the file."""

    TEXT = "text in quotation marks"
    NUMBER = "a whole number"
    FLAG = "true or false"
    TEXTS = "a list of texts"
    NUMBERS = "a list of whole numbers"
    MIXED = "a text or a whole number"
    MIXES = "a list of texts or whole numbers"
    TABLE = "a table of keys"
    TABLES = "a list of tables"


class KeyType(Enum):
    """The type of a key: its name in the trade's words, its shape, and an example as the file spells it."""

    TEXT = ("text", Shape.TEXT, '"First lesson"')
    CHANGES = ("chord changes", Shape.TEXT, '"Dm7 | G7 | Cmaj7"')
    KEY = ("a key", Shape.TEXT, '"Eb"')
    METER = ("a meter", Shape.TEXT, '"4/4"')
    NUMBER = ("a whole number", Shape.NUMBER, "4")
    FLAG = ("true or false", Shape.FLAG, "true")
    CHOICE = ("one of the words allowed", Shape.TEXT, '"either"')
    PITCH = ("a pitch", Shape.TEXT, '"D4"')
    PITCHES = ("a list of pitches or note names", Shape.TEXTS, '["D4", "F"]')
    DEGREE = ("a degree", Shape.TEXT, '"b7"')
    DEGREES = ("a list of degrees", Shape.TEXTS, '["1", "b3"]')
    CHORD = ("a chord of the changes", Shape.TEXT, '"Dm7"')
    BEAT = ("a beat", Shape.MIXED, '"2&"')
    BEATS = ("a list of beats", Shape.MIXES, '["1", "3"]')
    BARS = ("bars of the form, the first and the last", Shape.MIXED, '"1-4"')
    COUNTS = ("a list of counts", Shape.MIXES, '["1", "0-1"]')
    PICKUPS = ("a list of slots", Shape.NUMBERS, "[1, 3]")
    INTERVALS = ("a list of intervals in semitones, down with a minus", Shape.NUMBERS, "[-1, -1]")
    STRINGS = ("a list of strings, 1 the highest", Shape.NUMBERS, "[1, 2, 3]")
    INSTRUMENT = ("an instrument", Shape.TEXT, '"guitar"')
    FIGURES = ("a list of approach figures or families", Shape.TEXTS, '["enclosure-2"]')
    STEPS = ("the steps of a figure", Shape.TEXT, '"-2 +1 -1"')
    ENDINGS = ("a list of endings", Shape.TEXTS, '["plain"]')
    NOTES = ("the notes of an ending in degrees", Shape.TEXT, '"#5 b9\' 1 b7 | 5"')
    RHYTHM = ("the rhythm of an ending", Shape.TEXT, '"8 8 8 8 | 4"')
    QUALITIES = ("a list of chord qualities", Shape.TEXTS, '["7", "7b9"]')
    SCALE = ("a scale, or a list of its degrees", Shape.MIXES, '"altered"')
    BANDS = ("a list of [largest interval, cost] pairs", Shape.TABLES, "[[0, 2], [2, 0]]")
    NAMES = ("a list of names", Shape.TEXTS, '["no-blue-notes"]')
    CHOICES = ("a list of the words allowed", Shape.TEXTS, '["scale"]')
    CELLS = ("a list of rhythm cells in note values", Shape.TEXTS, '["8 8", "4", "r8 8"]')
    PATTERN = ("a rhythm in note values", Shape.TEXT, '"r8 8 4"')
    NUMBERS = ("a list of whole numbers", Shape.NUMBERS, "[5, 7]")
    RULE_FILES = ("a list of rule files, as paths or by name", Shape.TEXTS, '["first-enclosure"]')
    RULES = ("a rule file as a path or by name, or its own text", Shape.TEXT, '"first-enclosure"')
    LINE = ("the notes of a line", Shape.TEXT, '"D4 F4 A4 C5:4"')
    TABLE = ("a table of keys", Shape.TABLE, '{ changes = "Dm7 | G7" }')
    TABLES = ("a list of tables", Shape.TABLES, "[{ number = 17 }]")

    def __init__(self, words: str, shape: Shape, example: str) -> None:
        self.words = words
        self.shape = shape
        self.example = example


@dataclass(frozen=True, slots=True)
class FileKey:
    """One key: its type, whether it must be there, what stands for it when left out, and one line of help.

    ``least`` and ``most`` bound a number (or every number of a list), inclusive. ``default`` is the value
    that a file could have written; None where nothing stands for it. ``default_text`` says the default in
    words where no single value does.
    """

    name: str
    type: KeyType
    help: str
    required: bool = False
    default: Any = None
    default_text: str = ""
    least: int | None = None
    most: int | None = None
    choices: tuple[str, ...] = ()

    @property
    def allowed(self) -> str:
        """What may be written, in words, with an example."""
        if self.choices and self.type.shape is Shape.TEXTS:
            return f"a list of any of {listed(self.choices)}"
        if self.choices:
            return f"one of {listed(self.choices)}"
        words = self.type.words
        if self.type.shape is Shape.NUMBERS and self.least is not None:
            words += f", each {self._bounds}"
        elif self.least is not None:
            words += f" {self._bounds}"
        return f"{words}, such as {self.type.example}" if self.type is not KeyType.NUMBER else words

    @property
    def _bounds(self) -> str:
        return f"from {self.least} to {self.most}" if self.most is not None else f"of at least {self.least}"


@dataclass(frozen=True, slots=True)
class Where:
    """A place in a rule file, for error texts: the file's name and the table within it."""

    file: str
    table: str = ""

    def within(self, table: str) -> Where:
        """The same file, another table."""
        return Where(self.file, table)

    def __str__(self) -> str:
        return f"{self.file}, {self.table}" if self.table else self.file

    def error(self, key: str, value: object, problem: str) -> InputError:
        """An error that shows the file, the key, the value and what is wrong or allowed."""
        return InputError(f"{self}, {key} = {shown(value)}: {sentence(problem)}")

    def complaint(self, problem: str) -> InputError:
        """An error about the table as a whole."""
        return InputError(f"{self}: {sentence(problem)}")


def sentence(text: str) -> str:
    """The text with a full stop, unless it ends a sentence already."""
    return text if text.endswith((".", "?", "!")) else f"{text}."


def shown(value: object) -> str:
    """A value as the file spells it, cut where it is long."""
    if isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, str):
        text = (
            '"' + value.encode("unicode_escape").decode("ascii").replace('"', '\\"') + '"'
            if _odd(value)
            else f'"{value}"'
        )
    elif isinstance(value, list | tuple):
        text = f"[{', '.join(shown(each) for each in value[:20])}{', ...' if len(value) > 20 else ''}]"
    elif isinstance(value, Mapping):
        text = f"{{{', '.join(f'{name} = {shown(each)}' for name, each in value.items())}}}"
    else:
        text = "null" if value is None else str(value)
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}..."


def _odd(text: str) -> bool:
    return not text.isprintable()


def listed(names: Iterable[object]) -> str:
    """Names as one English list."""
    words = [str(name) for name in names]
    return " and ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))


_NOWHERE: Mapping[str, str] = MappingProxyType({})


def check_table(
    table: Any,
    keys: Mapping[str, FileKey],
    where: Where,
    *,
    also: Iterable[str] = (),
    homes: Mapping[str, str] = _NOWHERE,
) -> dict[str, Any]:
    """Check a table against its keys; answer the values with defaults filled in (None where there is none).

    ``also`` names keys that are allowed but read elsewhere, ``homes`` says of keys where they belong.
    Raises InputError for a value that is no table, an unknown key (with the nearest name), a missing key, a
    wrong shape, a number out of bounds, an empty list or text.
    """
    if not isinstance(table, Mapping):
        raise where.complaint(f"{shown(table)} is not a table of keys")
    allowed = (*also, *keys)
    for name in table:
        if name not in allowed:
            there = f"the {form(len(allowed), 'key is', 'keys are')} {listed(allowed)}"
            hint = f" It belongs {homes[name]}." if name in homes else did_you_mean(str(name), allowed)
            raise where.complaint(f'there is no key "{name}" here; {there}.{hint}')
    values: dict[str, Any] = {}
    for key in keys.values():
        if key.name in table:
            values[key.name] = check_value(table[key.name], key, where)
        elif key.required:
            raise where.complaint(f"the key {key.name} is missing; it takes {key.allowed}")
        else:
            values[key.name] = key.default
    return values


def check_value(value: Any, key: FileKey, where: Where) -> Any:
    """The value, a tuple as a list, when it has the key's shape and keeps its bounds. Raises InputError."""
    if isinstance(value, tuple):
        value = list(value)
    if not _has_shape(value, key.type.shape):
        raise where.error(key.name, value, _wrong_shape(value, key))
    if value == [] == key.default:
        return value
    for text in value if isinstance(value, list) else [value]:
        if isinstance(text, str) and not is_text(text):
            raise where.error(key.name, value, "it holds bytes that are not UTF-8 text; write it in UTF-8")
    if isinstance(value, list | str) and not value:
        raise where.error(key.name, value, f"it is empty; it takes {key.allowed}, or leave the key out")
    for each in value if isinstance(value, list) else [value]:
        if key.choices and each not in key.choices:
            raise where.error(
                key.name, value, f"it must be {key.allowed}.{did_you_mean(str(each), key.choices)}"
            )
        if isinstance(each, int) and not _within(each, key):
            raise where.error(key.name, value, f"it takes {key.allowed}")
    return value


def is_text(text: str) -> bool:
    """Whether a file in UTF-8 can hold a text: no half characters, as odd bytes in options leave them."""
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def _within(number: int, key: FileKey) -> bool:
    return (key.least is None or number >= key.least) and (key.most is None or number <= key.most)


def _is_number(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _has_shape(value: object, shape: Shape) -> bool:
    match shape:
        case Shape.TEXT:
            return isinstance(value, str)
        case Shape.NUMBER:
            return _is_number(value)
        case Shape.FLAG:
            return isinstance(value, bool)
        case Shape.TEXTS:
            return isinstance(value, list) and all(isinstance(each, str) for each in value)
        case Shape.NUMBERS:
            return isinstance(value, list) and all(_is_number(each) for each in value)
        case Shape.MIXED:
            return isinstance(value, str) or _is_number(value)
        case Shape.MIXES:
            return isinstance(value, list) and all(
                isinstance(each, str) or _is_number(each) for each in value
            )
        case Shape.TABLE:
            return isinstance(value, Mapping)
        case Shape.TABLES:
            return isinstance(value, list) and all(isinstance(each, Mapping) for each in value)


def _wrong_shape(value: object, key: FileKey) -> str:
    """The sentence for a value of the wrong type, with the likely slip named."""
    shape = key.type.shape
    text = f"it must be {key.allowed}"
    if shape in (Shape.TEXT, Shape.TEXTS) and (_is_number(value) or _holds_numbers(value)):
        return f"{text}, written in quotation marks"
    if (
        shape in (Shape.TEXTS, Shape.NUMBERS, Shape.MIXES)
        and isinstance(value, str | int)
        and not isinstance(value, bool)
    ):
        return f"{text}, in square brackets even where there is only one"
    if shape is Shape.NUMBER and isinstance(value, str):
        return f"{text}, written without quotation marks"
    return text


def _holds_numbers(value: object) -> bool:
    return (
        isinstance(value, list)
        and bool(value)
        and all(isinstance(each, str) or _is_number(each) for each in value)
    )
