"""Facts of a stock ending that are read off what is written: how hard it is, on what it comes to rest."""

from __future__ import annotations

from itertools import pairwise

from everyline.corpora import Ending
from everyline.corpora.progressions import LEVELS
from everyline.rules.chords import parse_chord
from everyline.rules.degrees import parse_degree
from everyline.rules.endings import LEADS, USUAL_LEAD
from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.scales import default_scale

EASY_LENGTHS = (3, 5, 7)
"""Numbers of notes beyond each of which an ending is one level harder."""
OUTSIDE_TONES = (0, 2)
"""The same for different tones from outside the chord scale."""
TRITONE = 6
HELD_DEGREES = ("1", "b9", "9", "b3", "3", "11", "#11", "5", "b13", "6", "b7", "7")
"""Names over a last chord whose quality is left open, by semitones above its root."""


def ending_level(ending: Ending) -> int:
    """The level of an ending, from 1 (first lessons) to 5.

    One level more for each of these: more than three, five and seven notes; one tone and three tones from
    outside the scale of the chord before the last; a leap wider than a tritone; notes that begin elsewhere
    than on halves of a beat; a rest, or a note held over the bar line; a colour tone at the end.
    """
    outside = _outside_tones(ending)
    points = (
        *(len(ending.events) > most for most in EASY_LENGTHS),
        *(outside > most for most in OUTSIDE_TONES),
        any(abs(interval) > TRITONE for interval in _intervals(ending)),
        any(event.offset % (TICKS_PER_BEAT // 2) for event in ending.events),
        ending.held or any(beat.rest for beat in (*ending.beats.before, *ending.beats.after)),
        ending.colour,
    )
    return min(LEVELS[-1], LEVELS[0] + sum(points))


def rests_on(ending: Ending) -> str:
    """Degree of the last note over the last chord; that of a note held into it is worked out from where the
    chord before the last usually leads."""
    if ending.events[-1].after:
        return ending.resolves_to
    lead = LEADS.get(ending.over[0], USUAL_LEAD)
    return f"{HELD_DEGREES[(parse_degree(ending.resolves_to) - lead) % 12]}, held over the bar line"


def _outside_tones(ending: Ending) -> int:
    scale = default_scale(parse_chord(f"C({ending.over[0]})"))
    return len({parse_degree(note.degree) for note in ending.before}.difference(scale))


def _intervals(ending: Ending) -> tuple[int, ...]:
    """Signed semitones between neighbouring notes: the nearest pitch of each degree, a tritone up."""
    lead = LEADS.get(ending.over[0], USUAL_LEAD)
    classes = [parse_degree(event.degree) + (lead if event.after else 0) for event in ending.events]
    steps = ((after - before) % 12 for before, after in pairwise(classes))
    return tuple(
        (step if step <= TRITONE else step - 12) + 12 * event.octave
        for step, event in zip(steps, ending.events[1:], strict=True)
    )
