"""Progressions: lead-sheet text, laid out on slots.

A slot is the smallest step of time: one beat divided by the subdivision. Slot 0 is beat 1 of bar 1; slots of
a pickup are negative. Bars count from 1; a tick is 1/480 of a beat.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass

from everyline.corpora.errors import InputError, did_you_mean
from everyline.corpora.note_lengths import counted_aloud
from everyline.corpora.progressions import written_bars
from everyline.rules.chords import Chord, parse_chord
from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.meter import Meter, parse_meter
from everyline.rules.roman import is_roman, roman_to_chord

MOST_NAMED = 48
"""Beats that an error lists at most."""

_TOKEN = re.compile(r"(?:\([^()|]*\)|[^\s|()])+")
MOST_BARS = 20_000
"""Bars of a progression at most. No diagram of more would have room, which would be found out late."""


@dataclass(frozen=True, slots=True)
class Progression:
    """Chords on a grid of slots. Neighbours that are the same chord are one chord held longer.

    A progression of a single chord holds it twice: the second starts on the first slot of the last bar.
    """

    text: str
    meter: Meter
    subdivision: int
    """Slots in a beat. A rule file may ask for those of the meter; rhythm cells for any that divides 480."""
    chords: tuple[Chord, ...]
    starts: tuple[int, ...]
    """First slot of each chord."""
    slots: int
    """Slots in all bars."""
    bars: int
    single: bool
    """Whether the progression has one chord only."""
    key: str | None = None
    """Key as given, for spelling."""

    @property
    def beats_per_bar(self) -> int:
        """Beats in a bar."""
        return self.meter.beats

    @property
    def slots_per_bar(self) -> int:
        """Slots in a bar."""
        return self.meter.beats * self.subdivision

    @property
    def resolution(self) -> int:
        """The resolution slot: the last chord's first."""
        return self.starts[-1]

    @property
    def slot_ticks(self) -> int:
        """Length of a slot in ticks, 480 to a beat."""
        return TICKS_PER_BEAT // self.subdivision

    def chord_index(self, slot: int) -> int:
        """Index of the chord at a slot; a pickup belongs to the first, what follows to the last."""
        return max(0, bisect_right(self.starts, slot) - 1)

    def on_beat(self, slot: int) -> bool:
        """Whether a slot falls on a beat."""
        return slot % self.subdivision == 0

    def beat_name(self, slot: int) -> str:
        """The slot's beat as counted aloud: ``1``, ``1&``, ``2``."""
        beat, part = divmod(slot % self.slots_per_bar, self.subdivision)
        return f"{beat + 1}{counted_aloud(part * self.slot_ticks)}"

    def parse_beat(self, text: str) -> int:
        """Slot within a bar (from 0) of a beat as counted aloud. Raises InputError."""
        names = [self.beat_name(slot) for slot in range(self.slots_per_bar)]
        name = "".join(text.split())
        if name not in names:
            first = " ".join(names[:MOST_NAMED]) + (" ..." if len(names) > MOST_NAMED else "")
            beat = self.meter.beat_name if self.meter.dotted else "beat"
            raise InputError(
                f'"{text}" is not a beat of a {self.meter} bar with {self.subdivision} to a {beat}. Use '
                f"one of: {first}.{did_you_mean(name, names)}"
            )
        return names.index(name)

    def bar(self, slot: int) -> int:
        """Bar of a slot, from 1; a pickup is in bar 0."""
        return slot // self.slots_per_bar + 1

    def place(self, slot: int) -> str:
        """Where a slot is, in words: ``bar 2, beat 3&``."""
        return f"bar {self.bar(slot)}, beat {self.beat_name(slot)}"


def parse_progression(
    text: str, meter: str | Meter = "4/4", subdivision: int | None = None, key: str | None = None
) -> Progression:
    """Read a progression: ``Dm7 | G7 | Cmaj7``, ``Dm7 G7 | %``, ``Dm7 / / G7``, or ``ii7 | V7`` with a key.

    A line break counts as a bar line, ``||`` as one. A subdivision that is left out is the meter's own, 2 or,
    in dotted quarters, 3. Raises InputError for an empty bar, and for text that is not a progression in this
    meter.
    """
    meter = parse_meter(meter) if isinstance(meter, str) else meter
    subdivision = meter.parts if subdivision is None else subdivision
    if subdivision < 1 or TICKS_PER_BEAT % subdivision:
        raise InputError(
            f"subdivision {subdivision} cannot be used; it is 1 (quarters), 2 (eighths), 3 (triplets) or 4 "
            f"(sixteenths)."
        )
    bars = _bars(text)
    slots_per_bar = meter.beats * subdivision
    chords: list[Chord] = []
    starts: list[int] = []
    for number, tokens in enumerate(bars):
        share = _share(tokens, number + 1, meter, subdivision)
        for place, token in enumerate(tokens):
            if token == "/":
                continue
            chord = _read(token, key)
            if not chords or chord.key != chords[-1].key:
                chords.append(chord)
                starts.append(number * slots_per_bar + place * share)
    single = len(chords) == 1
    if single:
        if len(bars) < 2:
            raise InputError(
                f'"{text.strip()}" is one chord in one bar; a progression of a single chord needs two '
                f'bars at least, such as "{chords[0].symbol} | %".'
            )
        chords.append(chords[0])
        starts.append((len(bars) - 1) * slots_per_bar)
    return Progression(
        text,
        meter,
        subdivision,
        tuple(chords),
        tuple(starts),
        len(bars) * slots_per_bar,
        len(bars),
        single,
        key,
    )


def _bars(text: str) -> list[list[str]]:
    """Bars as lists of tokens, each a chord or ``/``; ``%`` is written out."""
    bars: list[list[str]] = []
    for written in written_bars(text):
        left = _TOKEN.sub("", written).strip()
        if left:
            raise InputError(f'"{written}": the bracket {left[0]} has no partner; close it, or leave it out.')
        tokens: list[str] = []
        for token in _TOKEN.findall(written):
            tokens += list(token) if set(token) == {"/"} else [token]
        if "%" in tokens and tokens != ["%"]:
            raise InputError(
                f'"{written}": % stands alone in its bar and repeats the bar before; / holds a chord.'
            )
        if not bars and tokens[0] in ("%", "/"):
            raise InputError(
                f'"{text.strip()}" begins with {tokens[0]}, but no chord comes before it. Begin with a chord.'
            )
        bars.append(bars[-1] if tokens == ["%"] else tokens)
    if len(bars) > MOST_BARS:
        raise InputError(
            f"{len(bars):,} bars are too many: at most {MOST_BARS:,} can be used. Shorten the changes."
        )
    if not bars:
        raise InputError(f'"{text}" holds no chord. Write chords and bar lines, such as "Dm7 | G7 | Cmaj7".')
    return bars


def _read(token: str, key: str | None) -> Chord:
    """One chord, from a symbol or a roman numeral."""
    if not is_roman(token):
        return parse_chord(token)
    if key is None:
        raise InputError(
            f'"{token}" is a roman numeral, which needs a key: give one, such as key = "C" or "Cm".'
        )
    return roman_to_chord(token, key)


def _share_slots(shares: int, beats: int, subdivision: int) -> int | None:
    """Slots in each of so many equal shares of a bar; None when they do not come out even."""
    if beats % shares == 0:
        return beats // shares * subdivision
    if shares % beats == 0 and subdivision % (shares // beats) == 0:
        return subdivision // (shares // beats)
    return None


def _share(tokens: list[str], bar: int, meter: Meter, subdivision: int) -> int:
    """Slots of each share of a bar. Raises InputError with a spelling that works."""
    beats = meter.beats
    share = _share_slots(len(tokens), beats, subdivision)
    if share is not None:
        return share
    more = range(len(tokens) + 1, beats * subdivision + 1)
    fitting = next((n for n in more if _share_slots(n, beats, subdivision)), None)
    where = f'"{" ".join(tokens)}" (bar {bar}): {len(tokens)} equal shares do not fit {meter}'
    if fitting is None:
        raise InputError(f"{where} in subdivision {subdivision}; put fewer chords in this bar.")
    groups: list[list[str]] = []
    for token in tokens:
        if token == "/" and groups:
            groups[-1].append(token)
        else:
            groups.append([token])
    for extra in range(fitting - len(tokens)):
        groups[extra % len(groups)].append("/")
    spelled = " ".join(token for group in groups for token in group)
    raise InputError(f'{where}. Hold chords with /, such as "{spelled}".')
