"""Feels: how drums, bass and chords play together. The rhythms are common practice, put together by us.

A rhythm says at which pulses of a chord it is struck, counted from 0, with .5 for a pulse's upbeat; the first
of several is the usual one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from everyline.corpora.errors import InputError, did_you_mean
from everyline.rules.progression import Progression
from everyline.sound.pulses import pulses

BY_METER = "by-meter"
SWING, BALLAD, WALTZ, BOSSA, EIGHTHS, PLAIN = "swing", "ballad", "waltz", "bossa", "eighths", "plain"
BY_FEEL, WALKING, TWO_FEEL, DOTTED = "by-feel", "walking", "two-feel", "dotted"
STANDARD_KIT, JAZZ_KIT, BRUSH_KIT = 1, 33, 41
"""Programs of the tenth channel, from 1, as in General MIDI Level 2."""
SLOW = 72.0
"""Quarter notes a minute below which meters of quarters and halves are played as a ballad."""

Rhythms = Mapping[int, tuple[tuple[float, ...], ...]]


@dataclass(frozen=True, slots=True)
class Feel:
    """One feel.

    ``even`` says that its eighths are even at every tempo, ``bass`` how the bass plays, ``kit`` which drums
    (General MIDI program from 1). ``rhythms`` are those of the chords, by how many pulses a chord holds;
    ``longest`` is how many pulses a chord is held at most. One in ``pushes`` chords may come half a pulse
    early (0: none). ``softer`` is taken off the velocity of the chords.
    """

    name: str
    says: str
    bass: str
    kit: int
    rhythms: Rhythms
    longest: float
    even: bool = False
    pushes: int = 0
    softer: int = 0

    def fits(self, progression: Progression) -> bool:
        """Whether the feel goes with a meter."""
        unit, there = progression.meter.unit, pulses(progression)
        if self.name == PLAIN:
            return True
        if self.name == EIGHTHS:
            return unit == 8
        if self.name == WALTZ:
            return unit != 8 and {pulse.size for pulse in there} == {3}
        return unit != 8 and (self.name != BOSSA or len(there) % 4 == 0)


_FEELS = (
    Feel(
        SWING,
        "ride cymbal, hi-hat on the backbeat, walking bass",
        WALKING,
        JAZZ_KIT,
        {
            1: ((0.0,),),
            2: ((0.0,), (0.0,), (0.5,), (0.0, 1.5)),
            3: ((0.0, 1.5), (0.0, 2.0), (0.5, 2.0), (1.0, 2.5)),
            4: (
                (0.0, 1.5),
                (0.0, 2.5),
                (0.0, 1.5, 3.0),
                (0.0, 3.0),
                (0.5, 2.0),
                (0.5, 2.5),
                (1.5, 3.0),
                (1.0, 3.0),
            ),
        },
        longest=1.5,
        pushes=5,
    ),
    Feel(
        BALLAD,
        "brushes, bass in half notes, chords held",
        TWO_FEEL,
        BRUSH_KIT,
        {
            1: ((0.0,),),
            2: ((0.0,),),
            3: ((0.0,), (0.0, 2.0)),
            4: ((0.0,), (0.0, 2.5), (0.0, 2.0), (0.0, 3.0), (0.5, 3.0)),
        },
        longest=4.0,
        softer=6,
    ),
    Feel(
        WALTZ,
        "three in a bar, hi-hat on 2, walking bass",
        WALKING,
        JAZZ_KIT,
        {
            1: ((0.0,),),
            2: ((0.0,), (0.0, 1.5)),
            3: ((0.0, 1.5), (0.0, 2.0), (0.0,), (0.5, 2.0), (1.5,), (1.0, 2.5)),
        },
        longest=1.5,
        pushes=6,
    ),
    Feel(
        BOSSA,
        "even eighths, side stick in two-bar pattern, root and fifth",
        DOTTED,
        JAZZ_KIT,
        {
            1: ((0.0,),),
            2: ((0.0,), (0.0, 1.5), (0.5,)),
            3: ((0.0, 1.5), (0.0, 2.0)),
            4: ((0.0, 1.5, 3.0), (0.0, 1.5), (0.0, 2.5), (0.5, 2.0, 3.0), (0.0, 1.0, 2.5), (0.0, 1.5, 2.5)),
        },
        longest=1.5,
        even=True,
        pushes=4,
    ),
    Feel(
        EIGHTHS,
        "meters of eighth notes, in groups of three or two",
        WALKING,
        JAZZ_KIT,
        {
            1: ((0.0,),),
            2: ((0.0,), (0.0, 1.5), (0.0, 1.0), (0.0, 0.5)),
            3: ((0.0, 2.0), (0.0, 1.5), (0.0, 1.0)),
            4: ((0.0, 2.0), (0.0, 1.5, 3.0), (0.0, 1.0, 2.5), (0.0, 2.5), (0.0, 1.5)),
        },
        longest=1.0,
        even=True,
    ),
    Feel(
        PLAIN,
        "no drums: chords where they begin, root and fifth",
        TWO_FEEL,
        STANDARD_KIT,
        dict.fromkeys(range(1, 5), ((0.0,),)),
        longest=4.0,
    ),
)
FEELS: Mapping[str, Feel] = {feel.name: feel for feel in _FEELS}
"""Every feel by its name."""


def fitting(progression: Progression) -> list[str]:
    """The names of the feels that go with a meter."""
    return [feel.name for feel in _FEELS if feel.fits(progression)]


def check_feel(name: str) -> str:
    """The name of a feel, or ``by-meter``. Raises InputError for any other."""
    known = (BY_METER, *FEELS)
    if name not in known:
        raise InputError(f'feel "{name}"; allowed are {", ".join(known)}.{did_you_mean(name, known)}')
    return name


def feel_of(progression: Progression, tempo: float, wish: str = BY_METER) -> Feel:
    """The feel asked for, or the usual one of a meter and a tempo in beats a minute.

    Meters of eighths have ``eighths``, of threes ``waltz``; others ``ballad`` below 72 quarters a minute, and
    ``swing``. Raises InputError for a feel that does not go with the meter.
    """
    if check_feel(wish) != BY_METER:
        feel = FEELS[wish]
        if not feel.fits(progression):
            there = ", ".join((BY_METER, *fitting(progression)))
            raise InputError(
                f'feel "{wish}" does not go with {progression.meter}; allowed there are {there}.'
            )
        return feel
    if FEELS[EIGHTHS].fits(progression):
        return FEELS[EIGHTHS]
    if FEELS[WALTZ].fits(progression):
        return FEELS[WALTZ]
    quarters = tempo * progression.meter.quarters
    return FEELS[BALLAD if quarters < SLOW else SWING]
