"""Reading one phrase of a chorus plan: its stretch of the form, and its rules under the shared ones."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from everyline.corpora import PLAIN, Corpus, Ending
from everyline.corpora.errors import InputError
from everyline.rules.cells import grid, read_rhythm
from everyline.rules.chorus_keys import OWN, SHARED
from everyline.rules.chorus_plan import Join, Phrase
from everyline.rules.endings import EndingDoesNotFit, place
from everyline.rules.excerpt import excerpt
from everyline.rules.keys import SECTIONS
from everyline.rules.limits.base import Context, read_chord
from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.progression import Progression, parse_progression
from everyline.rules.rulefile import OwnRules, parse_rules
from everyline.rules.ruleset import Cell, Rules
from everyline.rules.schema import Where, check_table, sentence
from everyline.rules.vocabulary import own_endings

_BARS = re.compile(r"\s*(\d{1,4})\s*(?:[-\N{EN DASH}]\s*(\d{1,4})\s*)?")


@dataclass(frozen=True, slots=True)
class Span:
    """The stretch of a phrase: bars from 1, and slots of the form, ``beyond`` the first that is not its
    own."""

    bars: tuple[int, int]
    first: int
    beyond: int


@dataclass
class PhraseReader:
    """Reads the phrases of one plan, whose whole file is ``data`` and whose rules over the form ``form``."""

    data: Mapping[str, Any]
    form: Rules
    corpus: Corpus
    where: Where
    base: Path
    own_rules: OwnRules | None
    fitted: set[str] = field(default_factory=set)
    """Shared endings that fit some phrase."""
    refused: dict[str, str] = field(default_factory=dict)
    """Shared endings that did not fit a phrase, and why not."""

    # -- where a phrase is -----------------------------------------------------------------------------------

    def span(self, own: Mapping[str, Any], where: Where) -> Span:
        """The stretch that a phrase's table states. Raises InputError."""
        progression = self.form.progression
        found = _BARS.fullmatch(str(own["bars"]))
        if found is None:
            raise where.error("bars", own["bars"], 'write the first and the last bar, such as "1-4"')
        first, last = int(found[1]), int(found[2] or found[1])
        if first > last:
            raise where.error("bars", own["bars"], f'write the first bar first, "{last}-{first}"')
        if first < 1 or last > progression.bars:
            raise where.error(
                "bars", own["bars"], f"the form has bars 1 to {progression.bars}; a phrase lies within them"
            )
        bar = progression.slots_per_bar
        start = (first - 1) * bar + self._beat(own, "from", where)
        beyond = last * bar if own["until"] is None else (last - 1) * bar + self._beat(own, "until", where)
        if own["until"] is not None and beyond <= max(start, (last - 1) * bar):
            raise where.error(
                "until",
                own["until"],
                f"nothing of bar {last} is left before it; end the phrase a bar earlier",
            )
        return Span((first, last), start, beyond)

    def _beat(self, own: Mapping[str, Any], key: str, where: Where) -> int:
        try:
            return self.form.progression.parse_beat(str(own[key]))
        except InputError as error:
            raise where.error(key, own[key], str(error)) from None

    def check_order(self, before: Span, name: str, span: Span, where: Where) -> None:
        """Refuse a phrase that begins before the one written above it is over."""
        if span.first < before.beyond:
            progression = self.form.progression
            over = progression.place(before.beyond)
            raise where.complaint(
                f'it begins on {progression.place(span.first)}, and "{name}" before it lasts until {over}; '
                f"phrases stand in order and do not overlap (from and until share a bar between two)"
            )

    # -- the phrase itself -----------------------------------------------------------------------------------

    def phrase(
        self,
        name: str,
        table: Mapping[str, Any],
        own: Mapping[str, Any],
        span: Span,
        join: Join | None,
        where: Where,
    ) -> Phrase:
        """The phrase with its rules. Raises InputError."""
        cells, timing = self._timing(own, table, where)
        meter = self.form.progression.meter
        subdivision = grid(cells, meter) if cells else timing["subdivision"]
        progression, changes = self._changes(own, span, subdivision, where)
        tables: dict[str, Any] = {
            "title": name,
            "changes": changes,
            "meter": str(meter),
            **timing,
            "scales": self._scales(table, progression),
            **{key: self._section(key, table) for key in SHARED if key not in ("range", "rhythm")},
            **{key: value for key, value in table.items() if key in ("limit", "own_rules")},
        }
        if meter.beat is not None:
            tables["beat"] = meter.beat
        if self.form.key is not None:
            tables["key"] = self.form.key
        if own["from"] != "1":
            _default_entry(tables, str(own["from"]))
        for key in OWN:
            tables[key] = _chained(self.data.get(key, []), table.get(key, []))
        self._share_endings(tables, table, progression, cells, where)
        inner = where.within(f"{where.table}, [phrase.range]")
        tables["range"] = self._range(table.get("range", {}), inner)
        rules = parse_rules(tables, self.corpus, name=str(where), base=self.base, own_rules=self.own_rules)
        shift = (span.bars[0] - 1) * progression.beats_per_bar * TICKS_PER_BEAT
        return Phrase(name, span.bars, rules, shift, join)

    def _timing(
        self, own: Mapping[str, Any], table: Mapping[str, Any], where: Where
    ) -> tuple[tuple[Cell, ...], dict[str, Any]]:
        """The cells of its rhythm, if any, and the tables that state them or else the subdivision.

        A phrase that states its own subdivision has a note on every slot, whatever rhythm the others share.
        """
        subdivision = own["subdivision"]
        if subdivision is not None and "rhythm" in table:
            raise where.error(
                "subdivision",
                subdivision,
                "with [phrase.rhythm] the cells divide the beat; leave subdivision out",
            )
        rhythm = self._section("rhythm", table)
        if subdivision is None and rhythm:
            inner = where.within(f"{where.table}, [phrase.rhythm]")
            cells = read_rhythm(rhythm, self.form.progression.meter, inner)
            if cells:
                return cells, {"rhythm": rhythm}
        return (), {"subdivision": subdivision or self.form.progression.subdivision}

    def _changes(
        self, own: Mapping[str, Any], span: Span, subdivision: int, where: Where
    ) -> tuple[Progression, str]:
        """The phrase's own changes, from its first bar on."""
        form = self.form.progression
        try:
            text = excerpt(form, span.first, span.beyond, subdivision)
            return parse_progression(text, form.meter, subdivision, self.form.key), text
        except InputError as error:
            raise where.error("bars", own["bars"], str(error)) from None

    def _section(self, name: str, table: Mapping[str, Any]) -> Any:
        """A table of the phrase over the shared one, key by key."""
        own, shared = table.get(name, {}), self.data.get(name, {})
        return {**shared, **own} if isinstance(own, Mapping) else own

    def _scales(self, table: Mapping[str, Any], progression: Progression) -> Any:
        """The phrase's chord scales, and the shared ones whose chord occurs in it."""
        own = table.get("scales", {})
        if not isinstance(own, Mapping):
            return own
        inner = Context(progression, self.corpus)
        wanted = [_occurrences(symbol, inner) for symbol in own]
        found: dict[str, Any] = {}
        for symbol, scale in self.data.get("scales", {}).items():
            there = _occurrences(symbol, inner)
            if there and there not in wanted:
                found[symbol] = scale
        return {**found, **own}

    # -- range -----------------------------------------------------------------------------------------------

    def _range(self, own: Any, inner: Where) -> dict[str, Any]:
        """The phrase's range table over the shared one. One instrument plays the whole chorus."""
        keys = {name: key for name, key in SECTIONS["range"].keys.items() if name != "instrument"}
        if isinstance(own, Mapping) and "instrument" in own:
            raise inner.error(
                "instrument",
                own["instrument"],
                "one instrument plays the whole chorus; name it in [range] above",
            )
        check_table(own, keys, inner)
        return {**self.data.get("range", {}), **own}

    # -- endings ---------------------------------------------------------------------------------------------

    def _share_endings(
        self,
        tables: dict[str, Any],
        table: Mapping[str, Any],
        progression: Progression,
        cells: Sequence[Cell],
        where: Where,
    ) -> None:
        """Leave out of ``tables`` the shared endings that cannot fit this phrase's changes.

        What a phrase names itself must fit it; what the plan names for all is used where it fits.
        """
        own = table.get("ending", {})
        if not isinstance(own, Mapping) or "use" in own:
            used = own.get("use", ()) if isinstance(own, Mapping) else ()
            self.fitted.update(each for each in _listed(used) if isinstance(each, str))
            return
        pickups = tables["entry"].get("pickup") if isinstance(tables["entry"], Mapping) else None
        unit = progression.subdivision // progression.meter.parts if cells else 1
        earliest = -unit * max((slots for slots in _listed(pickups) if isinstance(slots, int)), default=0)
        shared = self._shared_endings()
        use = self.data.get("ending", {}).get("use")
        named = [each["name"] for each in self.data.get("endings", [])] if use is None else use
        left_out = []
        for name in dict.fromkeys(named):
            ending = shared.get(name)
            if ending is not None and not self._fits(ending, progression, earliest, cells):
                left_out.append(name)
        if use is None:
            kept_tables = [each for each in self.data.get("endings", []) if each["name"] not in left_out]
            tables["endings"] = _chained(kept_tables, table.get("endings", []))
            return
        self.fitted.update(name for name in use if name == PLAIN)
        kept = [name for name in use if name not in left_out]
        if not kept:
            raise where.complaint(
                f"none of the plan's endings fits here: {self.refused[use[0]]}; add plain, or name others "
                f"under [phrase.ending]"
            )
        tables["ending"] = {**tables["ending"], "use": kept}

    def _shared_endings(self) -> dict[str, Ending]:
        keys = SECTIONS["endings"].keys
        own = [check_table(each, keys, self.where) for each in self.data.get("endings", [])]
        return {**self.corpus.endings, **own_endings(own, self.corpus, self.where)}

    def _fits(self, ending: Ending, progression: Progression, earliest: int, cells: Sequence[Cell]) -> bool:
        try:
            place(ending, progression, earliest, cells)
        except EndingDoesNotFit as error:
            self.refused[ending.name] = str(error).rstrip(".")
            return False
        self.fitted.add(ending.name)
        return True

    def check_shared_endings(self) -> None:
        """Refuse an ending that the plan names for all phrases and that fits none of those that it is for."""
        for name, why in self.refused.items():
            if name not in self.fitted:
                raise InputError(f"{self.where}, [ending]: {sentence(f'it fits no phrase: {why}')}")


def _listed(value: Any) -> list[Any]:
    """The items of a list; none where it is no list, which is told when the table is read."""
    return list(value) if isinstance(value, list | tuple) else []


def _occurrences(symbol: str, context: Context) -> frozenset[int]:
    """Where a chord occurs in a phrase's changes; nowhere also when it is no chord (told elsewhere)."""
    try:
        return read_chord({"chord": symbol}, context).indices
    except InputError:
        return frozenset()


def _default_entry(tables: dict[str, Any], beat: str) -> None:
    """A phrase that counts from a later beat is entered there, where nothing else is said."""
    entry = tables["entry"]
    if isinstance(entry, Mapping) and "beats" not in entry and "pickup" not in entry:
        tables["entry"] = {**entry, "beats": [beat]}


def _chained(shared: Any, own: Any) -> Any:
    return [*shared, *own] if isinstance(own, list) else own
