"""The range: every pitch that may sound, from two pitches, an instrument, or a fretboard position.

Pitches are sounding MIDI numbers. Strings are counted from the highest, which is 1; fret 0 is the open
string; a position at fret ``f`` with a span of ``s`` covers frets ``f`` to ``f + s - 1``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from everyline.rules.pitch import parse_pitch

if TYPE_CHECKING:
    from everyline.corpora import Instrument
    from everyline.rules.ruleset import Position

DEFAULT_SPAN = 5
"""Frets under the hand: in fourths, four leave holes between the strings."""
WIDEST_SPAN = 12


@dataclass(frozen=True, slots=True)
class Fretboard:
    """A fretted instrument: the pitches of its open strings, string 1 first, and its highest fret.

    Two are the same when strings and frets are, whatever they are called.
    """

    name: str = field(compare=False)
    open: tuple[int, ...]
    frets: int

    @classmethod
    def of(cls, instrument: Instrument) -> Fretboard | None:
        """The fretboard of an instrument; None where it has none."""
        if not instrument.strings or not instrument.frets:
            return None
        strings = tuple(parse_pitch(text) for text in reversed(instrument.strings))
        name = instrument.title[:1].lower() + instrument.title[1:]
        return cls(name, strings, instrument.frets)

    @property
    def strings(self) -> tuple[int, ...]:
        """The numbers of all strings."""
        return tuple(range(1, len(self.open) + 1))

    def at(self, string: int, fret: int) -> int:
        """The pitch of a string (from 1) at a fret."""
        return self.open[string - 1] + fret

    def frets_text(self, lowest: int, span: int) -> str:
        """The frets under a hand, as far as there are any: ``frets 5 to 8``, ``fret 22``."""
        last = min(lowest + span - 1, self.frets)
        return f"frets {lowest} to {last}" if last > lowest else f"fret {lowest}"

    def pitches(self, position: Position) -> frozenset[int]:
        """Every pitch in a position; a position without a fret takes in the whole length of its strings."""
        low, high = (
            (0, self.frets) if position.fret is None else (position.fret, position.fret + position.span - 1)
        )
        return frozenset(
            self.at(string, fret)
            for string in position.strings
            for fret in range(low, min(high, self.frets) + 1)
        )


def span(lowest: int, highest: int) -> frozenset[int]:
    """Every pitch from lowest to highest, both included."""
    return frozenset(range(lowest, highest + 1))


def whole_range(instrument: Instrument) -> frozenset[int]:
    """Everything that an instrument can sound."""
    return span(parse_pitch(instrument.lowest), parse_pitch(instrument.highest))
