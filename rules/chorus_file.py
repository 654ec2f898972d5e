"""Reading chorus plans.

A plan is TOML. At the top stand the form's changes and the tables of a rule file that every phrase shares;
each ``[[phrase]]`` has its bars and its own tables, which go before the shared ones key by key. ``[join]``
says how far apart and how long after each other two phrases may be. A ``[[limit]]`` at the top is about the
whole chorus, one in a phrase about that phrase.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from everyline.corpora import Corpus, parse_toml, read_toml
from everyline.rules.changes import changed
from everyline.rules.chorus_keys import JOIN, PHRASE, PHRASE_TABLES, TOP, TOP_TABLES
from everyline.rules.chorus_plan import ChorusPlan, Join, Phrase
from everyline.rules.keys import SECTIONS
from everyline.rules.limits.base import Context
from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.own import OwnRule
from everyline.rules.phrase_reader import PhraseReader, Span
from everyline.rules.rulefile import OwnRules, parse_rules
from everyline.rules.ruleset import Entry, Rules
from everyline.rules.schema import Where, check_table, shown
from everyline.rules.typed_changes import with_changes


def load_plan_file(path: Path | str, corpus: Corpus, *, own_rules: OwnRules | None = None) -> ChorusPlan:
    """The plan in a file. Raises InputError where it cannot be read or anything in it is wrong.

    ``own_rules`` loads rules in Python that phrases name; without it a plan that names any is refused.
    """
    path = Path(path)
    return read_plan(read_toml(path), corpus, name=str(path), base=path.parent, own_rules=own_rules)


def read_plan(
    data: Mapping[str, Any] | str,
    corpus: Corpus,
    *,
    name: str = "chorus plan",
    base: Path | None = None,
    own_rules: OwnRules | None = None,
) -> ChorusPlan:
    """The plan in a plan file's text, or in the tables that it holds. Raises InputError."""
    tables = with_changes(parse_toml(data, name) if isinstance(data, str) else data, corpus, name)
    return _Reader(tables, corpus, Where(name), base or Path(), _once(own_rules)).plan()


def _once(own_rules: OwnRules | None) -> OwnRules | None:
    """The same loader, which runs no file again for what it has loaded it for: a plan is read anew with every
    change that is tried in it."""
    if own_rules is None:
        return None
    load, loaded = own_rules, {}

    def once(names: Sequence[str], base: Path, context: Context) -> tuple[OwnRule, ...]:
        key = (tuple(names), base, context.progression, context.instrument)
        if key not in loaded:
            loaded[key] = load(names, base, context)
        return loaded[key]

    return once


@dataclass(frozen=True)
class _Reader:
    data: Mapping[str, Any]
    corpus: Corpus
    where: Where
    base: Path
    own_rules: OwnRules | None

    def plan(self) -> ChorusPlan:
        top = check_table(self.data, TOP, self.where, also=TOP_TABLES)
        form = self._form(top)
        join = self._section_join(self.data.get("join", {}), self.where.within("[join]"))
        reader = PhraseReader(self.data, form, self.corpus, self.where, self.base, self.own_rules)
        phrases: list[Phrase] = []
        before: Span | None = None
        for number, table in enumerate(self._phrase_tables(), 1):
            where = self.where.within(_place(table, number))
            own = check_table(table, PHRASE.keys, where, also=PHRASE_TABLES)
            span = reader.span(own, where)
            if before is not None:
                reader.check_order(before, phrases[-1].name, span, where)
            name = own["name"] or str(number)
            if any(each.name == name for each in phrases):
                raise where.error("name", name, "another phrase has this name already; rename one of them")
            joined = self._joined(join, table, where, first=not phrases)
            phrases.append(reader.phrase(name, table, own, span, joined, where))
            before = span
        reader.check_shared_endings()
        return ChorusPlan(_whole(form, phrases), tuple(phrases), self._changed)

    def _changed(self, change: Mapping[str, Any]) -> ChorusPlan:
        return replace(self, data=changed(self.data, change)).plan()

    def _form(self, top: Mapping[str, Any]) -> Rules:
        """The rules over the whole form, with every shared table whose meaning does not hang on a phrase."""
        of_a_phrase = ("entry", "ending", "join", "phrase")
        names = (*TOP, *(name for name in TOP_TABLES if name not in of_a_phrase))
        tables = {name: self.data[name] for name in names if name in self.data}
        ending = self.data.get("ending", {})
        check_table(ending, SECTIONS["ending"].keys, self.where.within("[ending]"))
        check_table(self.data.get("entry", {}), SECTIONS["entry"].keys, self.where.within("[entry]"))
        tables["ending"] = {**ending, "use": ["plain"]}
        form = parse_rules(tables, self.corpus, name=self.where.file)
        if form.must_targets:
            raise self.where.complaint(
                "must-target asks about the figures of one phrase; write it as [[phrase.limit]]"
            )
        return form

    def _phrase_tables(self) -> list[Mapping[str, Any]]:
        tables = self.data.get("phrase")
        if tables is None:
            raise self.where.complaint(
                "it has no phrase; write each as a table under [[phrase]] with its bars"
            )
        if (
            not isinstance(tables, list)
            or not tables
            or not all(isinstance(each, Mapping) for each in tables)
        ):
            raise self.where.complaint(
                f"phrase = {shown(tables)} has the wrong type; write each one as a table under [[phrase]]"
            )
        return tables

    def _section_join(self, table: Any, where: Where) -> dict[str, Any]:
        values = check_table(table, JOIN.keys, where)
        if values["most_rest"] is not None and values["most_rest"] < values["least_rest"]:
            raise where.error(
                "most_rest", values["most_rest"], f"it is below least_rest = {values['least_rest']}; raise it"
            )
        return values

    def _joined(
        self, join: dict[str, Any], table: Mapping[str, Any], where: Where, first: bool
    ) -> Join | None:
        """How the phrase follows the one before it: the plan's [join] under the phrase's own."""
        own = table.get("join", {})
        place = where.within(f"{where.table}, [phrase.join]")
        check_table(own, JOIN.keys, place)
        if first:
            if own:
                raise place.complaint("the first phrase follows no other; leave its join out")
            return None
        both = {name: value for name, value in join.items() if value is not None} | dict(own)
        values = self._section_join(both, place)
        most = values["most_rest"]
        return Join(
            values["reach"],
            values["least_rest"] * TICKS_PER_BEAT,
            None if most is None else most * TICKS_PER_BEAT,
        )


def _place(table: Mapping[str, Any], number: int) -> str:
    name = table.get("name")
    return f'[[phrase]] {number} "{name}"' if isinstance(name, str) and name else f"[[phrase]] {number}"


def _whole(form: Rules, phrases: list[Phrase]) -> Rules:
    """The form's rules with the first phrase's entry, every pitch that some phrase may sound, and a position
    only where all phrases share it."""
    first = phrases[0]
    slots = tuple(
        (first.shift + slot * first.rules.slot_ticks) // form.slot_ticks for slot in first.rules.entry.slots
    )
    pitches = frozenset().union(*(phrase.rules.pitches for phrase in phrases))
    positions = {phrase.rules.position for phrase in phrases}
    position = form.position if positions == {form.position} else None
    return replace(form, entry=Entry(slots), pitches=pitches, position=position)
