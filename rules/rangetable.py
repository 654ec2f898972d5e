"""The ``[range]`` table of a rule file: two pitches, or an instrument or a position, narrowed or whole."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from everyline.corpora import Corpus, Instrument
from everyline.corpora.counted import form, plural
from everyline.corpora.errors import InputError, did_you_mean
from everyline.rules.keys import DEFAULT_RANGE
from everyline.rules.pitch import HIGHEST, LOWEST, parse_pitch
from everyline.rules.ranges import DEFAULT_SPAN, Fretboard, span, whole_range
from everyline.rules.ruleset import Position
from everyline.rules.schema import Where, listed

USUAL_FRETBOARD = "guitar"
"""The instrument that is meant by a position or strings alone."""


@dataclass(frozen=True, slots=True)
class Range:
    """Which pitches may sound (MIDI numbers), the same in words, and the instrument and position, if any;
    ``ends`` are the pitches that narrow these two."""

    pitches: frozenset[int]
    text: str
    instrument: Instrument | None = None
    position: Position | None = None
    ends: tuple[int, int] = (LOWEST, HIGHEST)


def read_range(table: dict[str, Any], corpus: Corpus, where: Where) -> Range:
    """The range of a checked ``[range]`` table, DEFAULT_RANGE where it states none. Raises InputError.

    Beside an instrument or a position, ``lowest`` and ``highest`` narrow it, each by itself or both. An
    instrument alone means its comfortable range.
    """
    bounds = {key: _pitch(key, table[key], where) for key in ("lowest", "highest") if table[key] is not None}
    low, high = bounds.get("lowest", LOWEST), bounds.get("highest", HIGHEST)
    if low > high:
        raise where.error(
            "lowest",
            table["lowest"],
            f"it lies above highest = {table['highest']}, so the range is empty; swap them",
        )
    if any(table[key] is not None for key in ("instrument", "position", "strings", "span")):
        return _narrowed(_on_instrument(table, corpus, where), table, low, high, where)
    if len(bounds) == 1:
        (given,) = bounds
        missing = "highest" if given == "lowest" else "lowest"
        raise where.complaint(f'{given} stands alone; add {missing}, such as {missing} = "E5"')
    lowest, highest = (table["lowest"], table["highest"]) if bounds else DEFAULT_RANGE
    return Range(span(parse_pitch(lowest), parse_pitch(highest)), f"{lowest} to {highest}")


def _narrowed(place: Range, table: dict[str, Any], low: int, high: int, where: Where) -> Range:
    """What of an instrument or a position lies within the bounds."""
    ends = ((word, table[key]) for word, key in (("from", "lowest"), ("up to", "highest")))
    words = " ".join(f"{word} {pitch}" for word, pitch in ends if pitch is not None)
    if not words:
        return place
    left = frozenset(pitch for pitch in place.pitches if low <= pitch <= high)
    if not left:
        raise where.complaint(f"no pitch of {place.text} lies {words}; widen it")
    return replace(place, pitches=left, text=f"{place.text}, {words}", ends=(low, high))


def _pitch(key: str, text: str, where: Where) -> int:
    try:
        return parse_pitch(text)
    except InputError as error:
        raise where.error(key, text, str(error)) from None


def _on_instrument(table: dict[str, Any], corpus: Corpus, where: Where) -> Range:
    name = table["instrument"] or USUAL_FRETBOARD
    if name not in corpus.instruments:
        raise where.error(
            "instrument",
            name,
            f"there is no such instrument; there are {listed(corpus.instruments)}."
            f"{did_you_mean(name, corpus.instruments)}",
        )
    instrument = corpus.instruments[name]
    if all(table[key] is None for key in ("position", "strings", "span")):
        # An end that the file states itself may lie beyond what is comfortable.
        low, high = instrument.comfortable
        low = low if table["lowest"] is None else instrument.lowest
        high = high if table["highest"] is None else instrument.highest
        pitches = span(parse_pitch(low), parse_pitch(high)) & whole_range(instrument)
        return Range(pitches, f"{name}, {low} to {high}", instrument)
    fretboard = Fretboard.of(instrument)
    if fretboard is None:
        raise where.complaint(
            f"the {name} has no frets, so position, strings and span mean nothing; leave them out, or name "
            f"one of {listed(each.name for each in corpus.instruments.values() if each.fretted)}"
        )
    return _in_position(table, instrument, fretboard, where)


def _in_position(table: dict[str, Any], instrument: Instrument, fretboard: Fretboard, where: Where) -> Range:
    fret, strings = table["position"], table["strings"] or list(fretboard.strings)
    for string in strings:
        if string not in fretboard.strings:
            raise where.error(
                "strings",
                strings,
                f"the {instrument.name} has strings 1 (the highest) to {len(fretboard.open)}",
            )
    if fret is None and table["span"] is not None:
        raise where.error("span", table["span"], "a span needs a position, such as position = 5")
    if fret is not None and fret > fretboard.frets:
        raise where.error("position", fret, f"the {instrument.name} has {plural(fretboard.frets, 'fret')}")
    position = Position(fret, tuple(sorted(set(strings))), table["span"] or DEFAULT_SPAN)
    frets = "" if fret is None else f", position {fret} ({fretboard.frets_text(fret, position.span)})"
    text = f"{instrument.name}{frets}, {form(len(strings), 'string')} {listed(position.strings)}"
    return Range(fretboard.pitches(position), text, instrument, position)
