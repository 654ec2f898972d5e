"""Changes as people type them: a progression of the corpora by its name, quotes left on, commas or dashes in
place of bar lines."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from everyline.corpora import Corpus
from everyline.corpora.errors import InputError, did_you_mean
from everyline.rules.chords import parse_chord
from everyline.rules.roman import is_roman
from everyline.rules.transpose import KeyChange

_QUOTES = "\"'`“”„‟‘’‚‛«»"
_NAME = re.compile(r"[a-z][a-z0-9]*(?:-[a-z0-9]+)+")
_MARK = re.compile(r"(\([^()]*\))|\s*[,;]\s*|\s+(?:->|[-–—→])\s+")
_WORDS = re.compile(r"(?:\([^()|]*\)|[^\s|()])+")
_JOINED = re.compile(r"[-–—→](?=[A-G]|[b#]?[iIvV])")


def with_changes(tables: Any, corpus: Corpus, where: str) -> Any:
    """The tables of a rule file with the chords of the progression that ``changes`` names, if it names one.

    A stated ``key`` moves them there; key and meter that are left out are the progression's own. What is not
    a table is left as it is, for those who read the tables to refuse. Raises InputError for a name that
    the corpora do not have, and for a major progression in a minor key.
    """
    name = tables.get("changes") if isinstance(tables, Mapping) else None
    if not isinstance(name, str) or (not _NAME.fullmatch(name.strip()) and name not in corpus.progressions):
        if isinstance(name, str):
            _refuse_other_signs(name, where)
        return tables
    entry = corpus.progressions.get(name.strip())
    if entry is None:
        raise InputError(
            f'{where}: changes = "{name}": there is no progression of that name in the corpora (everyline '
            f"corpus progressions lists them).{did_you_mean(name, corpus.progressions)}"
        )
    key = tables.get("key")
    changes = entry.changes
    if isinstance(key, str):
        try:
            changes = KeyChange.between(entry.key, key).changes(changes)
        except InputError as error:
            raise InputError(f'{where}: changes = "{name}": {error}') from None
    own = {"key": entry.key} | ({"meter": entry.meter} if entry.meter != "4/4" else {})
    return own | dict(tables) | {"changes": changes}


def plainly(text: str) -> str:
    """The changes with bar lines where commas or dashes stand between chords, and without quotes around them.

    In a text that has bar lines commas and dashes stand between the chords of one bar. The text comes back as
    it is where its meaning is not plain.
    """
    found = _barred(text)
    return found if found != text.strip() and readable(found) else text


def _barred(text: str) -> str:
    """The text with bar lines, or blanks between the chords of a bar, for all other signs."""
    bare = text.strip().strip(_QUOTES).strip()
    between = " " if "|" in bare or "\n" in bare else " | "
    found = _MARK.sub(lambda mark: mark[1] or between, bare.rstrip(",; "))
    return "".join(_parted(word, between) for word in re.split(r"(\s+)", found))


def _refuse_other_signs(text: str, where: str) -> None:
    """Raises InputError for commas, dashes or quotes around chords, or for what is no chord between them."""
    found = _barred(text)
    if found == text.strip():
        return
    if readable(found):
        raise InputError(
            f'{where}: changes = "{text}": write | between bars, and a space between the chords of one. Did '
            f'you mean "{found}"?'
        )
    for word in _WORDS.findall(found):
        if not set(word) <= {"/", "%"} and not _is_chord(word):
            try:
                parse_chord(word)
            except InputError as error:
                raise InputError(f"{where}, changes: {error}") from None


def _parted(word: str, between: str) -> str:
    """One word, or the chords that dashes join in it."""
    parts = _JOINED.split(word)
    if len(parts) == 1 or _is_chord(word) or not all(map(_is_chord, parts)):
        return word
    return between.join(parts)


def readable(text: str) -> bool:
    """Whether a text holds chords, bar lines and signs of repetition alone."""
    words = _WORDS.findall(text)
    return bool(words) and all(set(word) <= {"/", "%"} or _is_chord(word) for word in words)


def _is_chord(word: str) -> bool:
    if is_roman(word):
        return True
    try:
        parse_chord(word)
    except InputError:
        return False
    return True
