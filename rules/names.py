"""What the notes of a line are called: by their chord and its scale, and else by where they go.

A tone of the chord that holds at a note has the chord's name for it, a tone of that chord's scale the
scale's. Every other note is named by what follows it: a half step or a whole step before the note that it
leads to it takes the next letter on that side, so that one which goes up is a raised letter and one which
goes down a lowered letter (G# before A, Ab before G), and three semitones in a row take two letters in the
direction of motion (G G# A, A Ab G). A note of an approach figure leads to the figure's target, unless the
next note is a half step away. Two tones of a scale on one letter (altered, diminished,
bebop) are left to the motion too, unless chord or key has them.

Cb, Fb, E# and B# are written only where the key, the chord or its scale has them, double accidentals never;
the plain name of the same key of the piano stands for them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from everyline.rules.acceptor import Notes
from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.pitch import letter_above
from everyline.rules.spelling import Palette, palette, spell_degree, with_octave

if TYPE_CHECKING:
    from everyline.rules.ruleset import Rules

LONGEST_FIGURE = 4
"""Notes before its target in which a note is still heard as leading to it, where no analysis says so."""


def line_names(
    rules: Rules,
    notes: Notes,
    targets: Mapping[int, int] | None = None,
    degrees: Sequence[str | None] | None = None,
) -> tuple[str, ...]:
    """The name of each note, with its octave.

    ``targets`` gives, for the place of each approach note, that of its target; without it targets are guessed
    from the notes alone. ``degrees`` gives for each note the degree as a stock ending writes it, or None; it
    names a note that is left by a leap.
    """
    palettes = [
        palette(chord, scale, rules.key)
        for chord, scale in zip(rules.progression.chords, rules.scales, strict=True)
    ]
    names = [""] * len(notes)
    for place in range(len(notes) - 1, -1, -1):
        note = notes[place]
        own = palettes[note.chord]
        name = own.fixed.get(note.pitch % 12)
        if name is None:
            wanted = degrees[place] if degrees else None
            named = spell_degree(own.root, wanted) if wanted else own.usual[note.pitch % 12]
            target = targets.get(place) if targets is not None else _guess(notes, place)
            goal = _goal(notes, place, target)
            beyond = own if goal is None else palettes[notes[goal].chord]
            name = _toward(note.pitch, named, (own, beyond), goal, notes, names)
        names[place] = with_octave(name, note.pitch)
    return tuple(names)


def _toward(
    pitch: int,
    usual: str,
    palettes: tuple[Palette, Palette],
    goal: int | None,
    notes: Notes,
    names: Sequence[str],
) -> str:
    """A note's name before its goal, whose own name is known; the usual one where it has none."""
    allowed = [name for each in palettes for name in each.options(pitch % 12)]
    if goal is not None:
        distance = pitch - notes[goal].pitch
        letter = letter_above(names[goal][0], (distance > 0) - (distance < 0))
        found = next((name for name in allowed if name[0] == letter), None)
        if found is not None:
            return found
    return usual if usual in allowed else palettes[0].usual[pitch % 12]


def _goal(notes: Notes, place: int, target: int | None) -> int | None:
    """The place of the note that one leads to: a step away at most. None where it is left by a leap."""
    after = place + 1 if place + 1 < len(notes) else None
    for goal, widest in ((after, 1), (target, 2), (after, 2)):
        if goal is not None and abs(notes[goal].pitch - notes[place].pitch) <= widest:
            return goal
    return None


def _guess(notes: Notes, place: int) -> int | None:
    """The place of the chord tone, on a beat if there is one, that the notes from this one on close in on."""
    found = None
    for target in range(place + 1, min(place + LONGEST_FIGURE + 1, len(notes))):
        note = notes[target]
        if notes[target - 1].end != note.onset:
            break
        if note.chord_tone and all(0 < abs(each.pitch - note.pitch) <= 2 for each in notes[place:target]):
            if note.onset % TICKS_PER_BEAT == 0:
                return target
            found = found or target
    return found
