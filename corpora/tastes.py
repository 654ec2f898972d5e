"""Taste files: which moves a style prefers, as whole-number costs, with the counts that they come from.

A taste file is JSON. ``docs/taste.md`` describes it; what the costs mean for a line is not known here.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from everyline.corpora.errors import InputError, did_you_mean
from everyline.corpora.loader import TableKey, check_table, files_of, merge, read_bytes, shown

UNITS = "sixteenths of a bit"
SUFFIX = ".json"

WIDEST = 12
"""Intervals are clipped to this many semitones up or down."""

INTERVALS = range(-WIDEST, WIDEST + 1)
DEGREES = range(12)

MOST_COST = 1600
"""The most that one thing may cost: a hundred bits, by which it is as good as forbidden."""

MOST_COUNT = 10**9
"""The most that one thing may have been counted."""

FAMILIES = ("major", "minor", "dominant", "half-diminished", "diminished")
"""Families of chords."""

PLACES_PER_BEAT = 48
"""Parts of a beat in which places of onset are counted."""

NONE, START, OTHER, PLAINEST = "none", "start", "other", "any"
"""How a file writes: no interval before; no beat before; any place not listed; any beat before."""

ON, OFF = "on", "off"

Row = tuple[int, ...]
"""Costs of the 25 clipped intervals from 12 semitones down to 12 up, or of the degrees 0 to 11."""

Places = tuple[int, ...]
"""Where in a beat notes begin, rising, in 48ths of it; empty where none begins."""

T = TypeVar("T")


class Melody(NamedTuple):
    """What the cost of an interval may depend on. ``family`` and ``degree`` are None together.

    ``before`` is the interval before (semitones, clipped; None for a line's second note), ``on`` whether the
    note begins on a beat, ``family`` and ``degree`` those of the note that the interval leaves.
    """

    before: int | None
    on: bool
    family: str | None = None
    degree: int | None = None


@dataclass(frozen=True, slots=True)
class BeatCosts:
    """Costs of the places of onset in a beat, by those of the beat before (None at the line's first beat).

    A pair that ``rows`` does not have costs what ``plainest`` has for its second half, else ``other``.
    """

    rows: Mapping[Places | None, Mapping[Places, int]]
    plainest: Mapping[Places, int]
    other: int

    def cost(self, before: Places | None, places: Places) -> int:
        """What a beat costs after the beat before it."""
        found = self.rows.get(before, self.plainest).get(places)
        return self.plainest.get(places, self.other) if found is None else found


@dataclass(frozen=True)
class Statistics:
    """What a style plays: counts, or weights in place of counts.

    ``pairs`` of successive intervals; ``first`` intervals, which have none before them; ``degrees`` as (on a
    beat, family of chord, degree) of every note but the first; ``beats`` as places of onset after those of
    the beat before.
    """

    pairs: Mapping[tuple[int, int], float] = field(default_factory=dict)
    first: Mapping[int, float] = field(default_factory=dict)
    degrees: Mapping[tuple[bool, str, int], float] = field(default_factory=dict)
    beats: Mapping[tuple[Places | None, Places], float] = field(default_factory=dict)

    @property
    def intervals(self) -> dict[int, float]:
        """How often each interval is played."""
        found = dict(self.first)
        for (_, interval), count in self.pairs.items():
            found[interval] = found.get(interval, 0) + count
        return found


@dataclass(frozen=True)
class TasteEntry:
    """A taste as its file has it. ``plain_melody`` has a row for off and on the beat; every row of costs is
    complete."""

    name: str
    title: str
    source: str
    licence: str
    melody: Mapping[Melody, Row]
    plain_melody: Mapping[bool, Row]
    harmony: Mapping[tuple[bool, str], Row]
    rhythm: BeatCosts | None = None
    statistics: Statistics | None = None
    offset: int = 0
    """What is taken off the cost of each note."""


_KEYS = {
    "title": TableKey("text"),
    "source": TableKey("text"),
    "licence": TableKey("text"),
    "units": TableKey("text", allowed=(UNITS,)),
    "offset": TableKey("integer", 0),
    "melody": TableKey("table"),
    "harmony": TableKey("table"),
    "rhythm": TableKey("table", None),
    "statistics": TableKey("table", None),
}
_STATISTICS_KEYS = {name: TableKey("table", {}) for name in ("pairs", "first", "degrees", "beats")}


def read_tastes(folder: Path) -> list[tuple[Path, list[tuple[str, Path]]]]:
    """Where the tastes of one corpora folder are, by name; none of them is read."""
    return [(path, [(path.stem, path)]) for path in files_of(folder / "tastes", SUFFIX)]


def taste_paths(folders: tuple[Path, ...]) -> dict[str, Path]:
    """Where each taste of some corpora folders is. Raises InputError for a name that clashes."""
    return merge((found for folder in folders for found in read_tastes(folder)), "taste")


def read_taste(path: Path) -> TasteEntry:
    """Read one taste file. Raises InputError, in one sentence, for whatever is wrong with it."""
    return parse_taste(read_bytes(path, "JSON"), path.stem, str(path))


def parse_taste(data: bytes, name: str, where: str) -> TasteEntry:
    """A taste out of a file's bytes; ``where`` is what a message calls the file. Raises InputError."""
    try:
        raw = json.loads(data.decode("utf-8"))
    except UnicodeDecodeError as error:
        raise InputError(
            f"{where}: byte {error.start + 1} is not UTF-8 text, so this is not a taste file."
        ) from None
    except json.JSONDecodeError as error:
        raise InputError(
            f"{where}: not valid JSON: {error.msg.lower()} (row {error.lineno}, column {error.colno})."
        ) from None
    except (RecursionError, ValueError):
        raise InputError(
            f"{where}: not valid JSON: it nests too deeply or holds too long a number."
        ) from None
    if not isinstance(raw, dict):
        raise InputError(f"{where}: a taste file holds one object with {', '.join(_KEYS)}.")
    table = check_table(raw, _KEYS, where)
    plain, melody = _melody(table["melody"], f"{where}, melody")
    statistics = table["statistics"]
    return TasteEntry(
        name,
        table["title"],
        table["source"],
        table["licence"],
        melody,
        plain,
        _harmony(table["harmony"], f"{where}, harmony"),
        None if table["rhythm"] is None else _rhythm(table["rhythm"], f"{where}, rhythm"),
        None if statistics is None else _statistics(statistics, f"{where}, statistics"),
        _cost(table["offset"], f"{where}, offset"),
    )


def _melody(table: Mapping[str, Any], where: str) -> tuple[dict[bool, Row], dict[Melody, Row]]:
    plain: dict[bool, Row] = {}
    special: dict[Melody, Row] = {}
    for key, row in table.items():
        costs = _row(row, len(INTERVALS), f'{where}, "{key}"', "intervals from -12 to +12")
        words = key.split(" ")
        if len(words) == 1:
            plain[_on(key, where, key)] = costs
        elif len(words) in (2, 4):
            context = Melody(
                None if words[0] == NONE else _interval(words[0], where, key), _on(words[1], where, key)
            )
            if len(words) == 4:
                context = context._replace(
                    family=_family(words[2], where, key), degree=_degree(words[3], where, key)
                )
            special[context] = costs
        else:
            raise InputError(
                f'{where}: "{key}" is not a context; write for example "on", "-2 on" or "-2 on dominant 7".'
            )
    _complete(plain, {OFF: False, ON: True}, where)
    return plain, special


def _harmony(table: Mapping[str, Any], where: str) -> dict[tuple[bool, str], Row]:
    wanted = {
        f"{word} {family}": (on, family) for on, word in ((False, OFF), (True, ON)) for family in FAMILIES
    }
    found = {
        _context(key, where): _row(row, len(DEGREES), f'{where}, "{key}"', "degrees from 0 to 11")
        for key, row in table.items()
    }
    _complete(found, wanted, where)
    return found


def _complete(found: Mapping[T, Any], wanted: Mapping[str, T], where: str) -> None:
    for word, key in wanted.items():
        if key not in found:
            raise _missing(where, word, "every taste has it")


def _missing(where: str, word: str, why: str) -> InputError:
    return InputError(f'{where}: the context "{word}" is missing; {why}.')


def _rhythm(table: Mapping[str, Any], where: str) -> BeatCosts:
    rows: dict[Places | None, dict[Places, int]] = {}
    plainest: dict[Places, int] | None = None
    other = 0
    for key, row in table.items():
        inside = f'{where}, "{key}"'
        costs = dict(_pairs(row, inside, _cost))
        if key == PLAINEST:
            if OTHER not in costs:
                raise InputError(
                    f'{inside}: the context "{OTHER}" is missing; every taste with rhythm has it.'
                )
            other = costs.pop(OTHER)
        read = {_places(places, inside): cost for places, cost in costs.items()}
        if key == PLAINEST:
            plainest = read
        else:
            rows[None if key == START else _places(key, where)] = read
    if plainest is None:
        raise _missing(where, PLAINEST, "every taste with rhythm has it")
    return BeatCosts(rows, plainest, other)


def _statistics(table: Mapping[str, Any], where: str) -> Statistics:
    parts = check_table(table, _STATISTICS_KEYS, where)

    def nested(name: str) -> Iterator[tuple[str, str, int, str]]:
        for key, row in parts[name].items():
            inside = f'{where}, {name}, "{key}"'
            yield from ((key, each, count, inside) for each, count in _pairs(row, inside, _count))

    pairs = {(_interval(a, w, a), _interval(b, w, b)): count for a, b, count, w in nested("pairs")}
    inside = f"{where}, first"
    first = {_interval(key, inside, key): n for key, n in _pairs(parts["first"], inside, _count)}
    degrees = {}
    for key, row in parts["degrees"].items():
        on, family = _context(key, f"{where}, degrees")
        if not isinstance(row, list) or len(row) != len(DEGREES):
            raise InputError(f'{where}, degrees, "{key}": it holds a list of 12 counts, one for each degree.')
        for degree, count in enumerate(row):
            degrees[on, family, degree] = _count(count, f'{where}, degrees, "{key}"')
    beats = {
        (None if a == START else _places(a, w), _places(b, w)): count for a, b, count, w in nested("beats")
    }
    return Statistics(pairs, first, degrees, beats)


def _pairs(row: Any, where: str, check: Callable[[Any, str], int]) -> Iterator[tuple[str, int]]:
    if not isinstance(row, dict):
        raise InputError(f'{where}: {shown(row)} does not fit; it holds an object such as {{"0 24": 17}}.')
    return ((key, check(value, f'{where}, "{key}"')) for key, value in row.items())


def _row(row: Any, length: int, where: str, what: str) -> Row:
    if not isinstance(row, list) or len(row) != length:
        size = f"{len(row)} values" if isinstance(row, list) else shown(row)
        raise InputError(f"{where}: {size} where a list of {length} costs is needed, of the {what}.")
    return tuple([_cost(cost, where) for cost in row])


def _cost(cost: Any, where: str) -> int:
    if type(cost) is int and 0 <= cost <= MOST_COST:
        return cost
    raise InputError(
        f"{where}: the cost {shown(cost)} does not fit; a cost is a whole number of {UNITS}, "
        f"0 to {MOST_COST}."
    )


def _count(count: Any, where: str) -> int:
    if type(count) is int and 0 <= count <= MOST_COUNT:
        return count
    raise InputError(
        f"{where}: the count {shown(count)} does not fit; a count is a whole number, 0 to {MOST_COUNT}."
    )


_INTERVALS_WRITTEN = {f"{interval:+d}" if interval else "0": interval for interval in INTERVALS}
_DEGREES_WRITTEN = {str(degree): degree for degree in DEGREES}


def _interval(text: str, where: str, key: str) -> int:
    if text in _INTERVALS_WRITTEN:
        return _INTERVALS_WRITTEN[text]
    raise InputError(
        f'{where}: "{key}": "{text}" is not an interval; write semitones from -12 to +12, as +3.'
    )


def _degree(text: str, where: str, key: str) -> int:
    if text in _DEGREES_WRITTEN:
        return _DEGREES_WRITTEN[text]
    raise InputError(f'{where}: "{key}": "{text}" is not a degree; write semitones over the root, 0 to 11.')


def _on(text: str, where: str, key: str) -> bool:
    if text in (ON, OFF):
        return text == ON
    raise InputError(f'{where}: "{key}": "{text}" is neither on nor off the beat; write {ON} or {OFF}.')


def _family(text: str, where: str, key: str) -> str:
    if text in FAMILIES:
        return text
    raise InputError(
        f'{where}: "{key}": "{text}" is not a family of chords; it is one of {", ".join(FAMILIES)}.'
        f"{did_you_mean(text, FAMILIES)}"
    )


def _context(key: str, where: str) -> tuple[bool, str]:
    word, _, family = key.partition(" ")
    return _on(word, where, key), _family(family, where, key)


def _places(text: str, where: str) -> Places:
    places = _read_places(text)
    if places is not None:
        return places
    raise InputError(
        f'{where}: "{text}" are not places in a beat; write 48ths of it, 0 to 47 and rising, such as "0 24".'
    )


@lru_cache(maxsize=1024)
def _read_places(text: str) -> Places | None:
    words = text.split()
    places = tuple(int(word) for word in words if word.isascii() and word.isdecimal() and len(word) < 3)
    rising = all(a < b for a, b in pairwise(places))
    fits = len(places) == len(words) and rising and (not places or places[-1] < PLACES_PER_BEAT)
    return places if fits else None
