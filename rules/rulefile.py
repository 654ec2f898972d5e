"""The rule file: one TOML file that says everything that a set of lines depends on.

Reading is strict. An unknown key, a wrong type, an empty range, a figure or ending that does not exist, an
ending that can never fit these changes: each raises InputError with the file, the key, the value, what is
allowed and, where there is one, the nearest match.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from everyline.corpora import Corpus, parse_toml, read_toml
from everyline.corpora.counted import form
from everyline.corpora.errors import InputError, did_you_mean
from everyline.rules.acceptor import Limit
from everyline.rules.canonical import canonical_source
from everyline.rules.chords import Chord
from everyline.rules.degrees import parse_degree
from everyline.rules.keys import HOMES, MOST_COUNT, OPTIONS, PASSING_KINDS, SCALE_KEY, SECTIONS
from everyline.rules.limits import Context, MustTarget, bind_limit
from everyline.rules.limits.base import read_chord
from everyline.rules.own import OwnRule, StepRule, WholeLineRule
from everyline.rules.pitch import is_pitch, parse_note_name, parse_pitch
from everyline.rules.progression import Progression
from everyline.rules.rangetable import read_range
from everyline.rules.ruleset import Approach, Arpeggio, Entry, Passing, Rules, Weights
from everyline.rules.scales import default_scales, parse_scale
from everyline.rules.schema import Where, check_table, listed, sentence, shown
from everyline.rules.timing import read_time
from everyline.rules.typed_changes import with_changes
from everyline.rules.vocabulary import own_endings, own_figures, read_endings, read_figures

OwnRules = Callable[[Sequence[str], Path, Context], tuple[OwnRule, ...]]
"""What turns the names under ``own_rules`` into rules: (names, folder of the rule file, context)."""

FEWEST_SCALE_TONES = 3
PICKUP_UNITS = {2: ("half of a beat", "halves of a beat"), 3: ("eighth note", "eighth notes")}
"""What a pickup counts before rhythm cells, by the parts of a beat."""
_COUNT = re.compile(r"(\d{1,4})(?:\s*[-\N{EN DASH}]\s*(\d{1,4}))?")


def load_rules(path: Path | str, corpus: Corpus, *, own_rules: OwnRules | None = None) -> Rules:
    """The rules in a file. Raises InputError where it cannot be read or anything in it is wrong.

    ``own_rules`` loads the rules in Python that the file names; without it a file that names any is
    refused, so that no code runs unasked.
    """
    path = Path(path)
    return parse_rules(read_toml(path), corpus, name=str(path), base=path.parent, own_rules=own_rules)


def parse_rules(
    data: Mapping[str, Any] | str,
    corpus: Corpus,
    *,
    name: str = "rule file",
    base: Path | None = None,
    own_rules: OwnRules | None = None,
) -> Rules:
    """The rules in a rule file's text, or in the tables that it holds.

    ``name`` is what error texts call the file, ``base`` the folder that file names in it start from. Raises
    InputError.
    """
    tables = with_changes(parse_toml(data, name) if isinstance(data, str) else data, corpus, name)
    return _Reader(tables, corpus, Where(name), base or Path(), own_rules).rules()


@dataclass(frozen=True)
class _Reader:
    """Reads one file. Each method reads one table and answers a part of the rules."""

    data: Mapping[str, Any]
    corpus: Corpus
    where: Where
    base: Path
    own_rules: OwnRules | None

    def rules(self) -> Rules:
        top = self._top()
        cells, progression = read_time(self.data, top, self.where)
        place = read_range(self._section("range"), self.corpus, self._where("range"))
        context = Context(progression, self.corpus, place.instrument, self.where)
        entry = self._entry(progression, place.pitches, bool(cells))
        figures = own_figures(self._many("figures"), self.corpus, self.where)
        endings = own_endings(self._many("endings"), self.corpus, self.where)
        ending = self._section("ending")
        scales = self._scales(context)
        plain, placed, written = read_endings(
            ending["use"],
            endings,
            self.corpus,
            progression,
            min(entry.slots),
            self._where("ending"),
            cells,
            scales[-1],
        )
        limits, must_targets = self._limits(context)
        own = self._own(context, top["own_rules"])
        parts: dict[str, Any] = {
            "progression": progression,
            "scales": scales,
            "pitches": place.pitches,
            "entry": entry,
            "arpeggio": Arpeggio(**self._section("arpeggio")),
            "approach": self._approach(figures),
            "passing": self._passing(),
            "cells": cells,
            "handoff": self._section("handoff")["rule"],
            "endings": placed,
            "plain": plain,
            "lead_in": ending["lead_in"],
            "must_targets": must_targets,
        }
        return Rules(
            title=top["title"],
            key=top["key"],
            range_text=place.text,
            range_ends=place.ends,
            instrument=place.instrument,
            position=place.position,
            weights=self._weights(),
            limits=(*limits, *(rule for rule in own if isinstance(rule, StepRule))),
            filters=tuple(rule for rule in own if isinstance(rule, WholeLineRule)),
            source=canonical_source({**parts, "limits": limits}, written, [rule.source for rule in own]),
            **parts,
        )

    def _where(self, section: str) -> Where:
        return self.where.within(SECTIONS[section].title)

    def _top(self) -> dict[str, Any]:
        tables = [name for name in SECTIONS if name]
        return check_table(self.data, SECTIONS[""].keys, self.where, also=tables, homes=HOMES)

    def _section(self, name: str) -> dict[str, Any]:
        return check_table(self.data.get(name, {}), SECTIONS[name].keys, self._where(name), homes=HOMES)

    def _many(self, name: str) -> list[dict[str, Any]]:
        """The ``[[name]]`` tables, each checked against its keys."""
        return [check_table(table, SECTIONS[name].keys, where) for table, where in self._tables(name)]

    def _tables(self, name: str) -> list[tuple[Mapping[str, Any], Where]]:
        """The ``[[name]]`` tables, each with its place."""
        tables = self.data.get(name, [])
        if not isinstance(tables, list) or not all(isinstance(table, Mapping) for table in tables):
            raise self.where.complaint(
                f"{name} = {shown(tables)} has the wrong type; write each one as a table under [[{name}]]"
            )
        return [(table, self.where.within(f"[[{name}]] {number}")) for number, table in enumerate(tables, 1)]

    def _scales(self, context: Context) -> tuple[tuple[int, ...], ...]:
        """The chord scale of each chord of the progression, in semitones above its root."""
        table, where = self.data.get("scales", {}), self._where("scales")
        if not isinstance(table, Mapping):
            raise where.complaint(f"{shown(table)} stands where a table of chords and scales is needed")
        chords = context.progression.chords
        named: dict[Chord, str] = {}
        scales = default_scales(chords)
        inner = Context(context.progression, self.corpus, where=where)
        for symbol, value in table.items():
            indices = read_chord({"chord": symbol}, inner).indices
            scale = _read_scale(symbol, value, where)
            for index in indices:
                if named.setdefault(chords[index], symbol) != symbol:
                    raise where.error(
                        symbol, value, f'the same chord stands here as "{named[chords[index]]}" already'
                    )
                scales[index] = scale
        return tuple(scales)

    def _entry(self, progression: Progression, pitches: frozenset[int], celled: bool) -> Entry:
        """Where and on what a line starts; a pickup counts slots or, before cells, halves of a beat (of a
        dotted quarter thirds, which are eighths)."""
        table, where = self._section("entry"), self._where("entry")
        beats = table["beats"] if table["beats"] is not None else [] if table["pickup"] is not None else ["1"]
        slots = {self._entry_slot(str(beat), table, progression, where) for beat in beats}
        parts = progression.meter.parts
        for pickup in table["pickup"] or ():
            slot = pickup * (progression.subdivision // parts if celled else 1)
            if slot >= progression.slots_per_bar:
                most = progression.beats_per_bar * parts if celled else progression.slots_per_bar
                unit = form(most - 1, *PICKUP_UNITS[parts]) if celled else "slots"
                raise where.error(
                    "pickup", table["pickup"], f"a pickup is shorter than a bar: 1 to {most - 1} {unit} here"
                )
            slots.add(-slot)
        degrees = table["degrees"]
        return Entry(
            tuple(sorted(slots)),
            None if table["start"] is None else _start_pitches(table["start"], pitches, where),
            None if degrees is None else _degrees("degrees", degrees, where),
            frozenset(parse_note_name(name) for name in table["start"] or () if not is_pitch(name)),
            frozenset(parse_pitch(name) for name in table["start"] or () if is_pitch(name)),
        )

    def _entry_slot(self, beat: str, table: dict[str, Any], progression: Progression, where: Where) -> int:
        try:
            slot = progression.parse_beat(beat)
        except InputError as error:
            raise where.error("beats", table["beats"], str(error)) from None
        if slot >= progression.starts[1]:
            first, second = (
                progression.chords[0].symbol,
                progression.chords[progression.chord_index(slot)].symbol,
            )
            raise where.error(
                "beats",
                table["beats"],
                f"a line starts in the first chord, {first}, and beat {beat} of bar 1 belongs to {second}",
            )
        return slot

    def _approach(self, own: Mapping[str, Any]) -> Approach:
        table, where = self._section("approach"), self._where("approach")
        targets = table["targets"]
        return Approach(
            read_figures(table["figures"], own, self.corpus, where),
            _counts(table, where),
            None if targets is None else _degrees("targets", targets, where),
            table["reach"],
            table["after"],
        )

    def _passing(self) -> Passing:
        table = self._section("passing")
        kinds = tuple(kind for kind in PASSING_KINDS if kind in table["kinds"])
        return Passing(kinds, table["place"], _counts(table, self._where("passing")))

    def _weights(self) -> Weights:
        cost = self._section("roughness")
        bands = ((0, "repeat"), (2, "step"), (4, "third"), (7, "fifth"), (12, "octave"))
        return Weights(
            bands=tuple((widest, cost[name]) for widest, name in bands),
            beyond=cost["wider"],
            unfilled=cost["unfilled"],
        )

    def _limits(self, context: Context) -> tuple[tuple[Limit, ...], tuple[MustTarget, ...]]:
        """The limits that read pitches alone, and those that ask about the analysis."""
        bound = [
            bind_limit(table, Context(context.progression, self.corpus, context.instrument, where))
            for table, where in self._tables("limit")
        ]
        must_targets = tuple(limit for limit in bound if isinstance(limit, MustTarget))
        return tuple(limit for limit in bound if not isinstance(limit, MustTarget)), must_targets

    def _own(self, context: Context, names: list[str] | None) -> tuple[OwnRule, ...]:
        """The teacher's own rules in Python, which run only where the caller gives a way to load them."""
        if names is None:
            return ()
        if self.own_rules is None:
            raise self.where.error(
                "own_rules",
                names,
                "rules in Python run only when allowed, as a file from a stranger could hold any program; "
                "read them first, then allow them (--allow-python), or take the key out",
            )
        return self.own_rules(names, self.base, context)


def _degrees(key: str, names: list[str], where: Where) -> frozenset[int]:
    try:
        return frozenset(parse_degree(name) for name in names)
    except InputError as error:
        raise where.error(key, names, str(error)) from None


def _read_scale(symbol: str, value: Any, where: Where) -> tuple[int, ...]:
    """A scale by name or by its degrees, in rising semitones above the root."""
    if isinstance(value, str):
        try:
            return parse_scale(value).degrees
        except InputError as error:
            raise InputError(f'{where}, "{symbol}": {sentence(str(error))}') from None
    if not isinstance(value, list) or not value or not all(isinstance(each, str) for each in value):
        raise where.error(f'"{symbol}"', value, f"it must be {SCALE_KEY.allowed}")
    tones = tuple(sorted(_degrees(f'"{symbol}"', value, where)))
    if len(tones) < FEWEST_SCALE_TONES:
        raise where.error(
            f'"{symbol}"', value, f"a chord scale has {FEWEST_SCALE_TONES} different tones at least"
        )
    return tones


def _start_pitches(names: list[str], pitches: frozenset[int], where: Where) -> frozenset[int]:
    """The pitches of the range that the names mean; a name without an octave means all octaves."""
    found: set[int] = set()
    for name in names:
        try:
            if is_pitch(name):
                meant = {parse_pitch(name)} & pitches
            else:
                note = parse_note_name(name)
                meant = {pitch for pitch in pitches if pitch % 12 == note}
        except InputError as error:
            raise where.error("start", names, str(error)) from None
        if not meant:
            raise where.error("start", names, f'"{name}" is not in the range of this file')
        found |= meant
    return frozenset(found)


def _counts(table: Mapping[str, Any], where: Where) -> tuple[tuple[int, int], ...]:
    """The (least, most) of each chord."""
    return tuple(_read_count(count, table["count"], where) for count in table["count"])


def _read_count(count: str | int, counts: list[str | int], where: Where) -> tuple[int, int]:
    """``"1"`` or ``1`` as (1, 1), ``"0-2"`` as (0, 2)."""
    match = _COUNT.fullmatch(str(count).strip())
    if match is None:
        raise where.error(
            "count",
            counts,
            f'{shown(count)} is not a count; write a number, "1", or a range from least to most, "0-1"',
        )
    least, most = int(match[1]), int(match[2] or match[1])
    if least > most:
        raise where.error(
            "count", counts, f'{shown(count)} is empty; write the least first, "{most}-{least}"'
        )
    if most > MOST_COUNT:
        raise where.error("count", counts, f"{shown(count)} is too many; {MOST_COUNT} is the most")
    return least, most


def rules_from_options(corpus: Corpus, *, name: str = "options", **options: Any) -> Rules:
    """Rules given without a file: ``changes``, ``start``, ``figures`` and so on, each as a rule file has it.

    An option that is None is left out. ``limit`` is a list of tables. Raises InputError for an option that
    does not exist and for anything wrong with its value.
    """
    data: dict[str, Any] = {}
    for option, value in options.items():
        if value is None:
            continue
        if option == "limit":
            data["limit"] = value
            continue
        if option not in OPTIONS:
            raise InputError(
                f'there is no option "{option}"; the options are {listed(OPTIONS)}.'
                f"{did_you_mean(option, OPTIONS)}"
            )
        section, _, key = OPTIONS[option].rpartition(".")
        (data.setdefault(section, {}) if section else data)[key] = (
            list(value) if isinstance(value, tuple) else value
        )
    return parse_rules(data, corpus, name=name)


__all__ = ["OPTIONS", "OwnRules", "load_rules", "parse_rules", "rules_from_options"]
