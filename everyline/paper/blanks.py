"""What stands where a note is left for the student: a box to fill, a slash to play over, or nothing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from xml.etree.ElementTree import Element, SubElement

from everyline.paper.look import BLANK_COLOUR
from everyline.rules.analysis import ARPEGGIO, PLAIN
from everyline.rules.annotate import AnnotatedLine, AnnotatedNote
from everyline.rules.line import TICKS_PER_BEAT
from everyline.rules.ruleset import Rules

BLANK_LOOKS = ("box", "slashes", "bare")
"""A dashed box, a slash as rhythm sections read them, or the bare staff."""

Lines = Iterable[tuple[float, float, float]]
"""Staff lines: left and right end, and y."""


def own_line(rules: Rules) -> AnnotatedLine:
    """Room for a line of one's own under the changes: a note on each beat, every one of them to be left
    blank."""
    progression = rules.progression
    pitch = min(rules.pitches)
    notes = []
    for beat in range(progression.bars * progression.beats_per_bar):
        chord = progression.chords[progression.chord_index(beat * progression.subdivision)]
        at = beat * TICKS_PER_BEAT
        notes.append(AnnotatedNote(at, TICKS_PER_BEAT, pitch, "C4", ARPEGGIO, "1", chord.symbol))
    plain = replace(rules, position=None, limits=(), must_targets=())
    return AnnotatedLine(plain, tuple(notes), (), PLAIN, None)


def draw_blank(parent: Element, look: str, x: float, lines: Lines, with_staff: bool) -> None:
    """Draw what stands at x, over the first staff of a system (or its tablature, if it has no staff)."""
    found = sorted({y for left, right, y in lines if left - 1 <= x <= right + 1})
    if not found or look == "bare":
        return
    top, bottom = found[0], found[4 if with_staff else -1]
    if look == "slashes":
        middle, half = (top + bottom) / 2, 190
        path = f"M{x - 170:.0f} {middle + half:.0f}L{x + 90:.0f} {middle - half:.0f}h80L{x - 90:.0f} "
        path += f"{middle + half:.0f}Z"
        SubElement(parent, "path", {"class": "slash", "d": path, "stroke": "none"})
        return
    frame = {
        "x": f"{x - 150:.0f}",
        "y": f"{top - 110:.0f}",
        "width": "300",
        "height": f"{bottom - top + 220:.0f}",
        "rx": "60",
        "fill": "none",
        "stroke": BLANK_COLOUR,
        "stroke-width": "16",
        "stroke-dasharray": "50 40",
    }
    SubElement(parent, "rect", frame)
