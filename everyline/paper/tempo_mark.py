"""The note value in which a meter is counted, for tempo marks: a quarter in 4/4, a dotted quarter in 6/8.

Tempi are given in beats of the rules: in 6/8 eighths, three of which are one dotted quarter, or dotted
quarters where the rules say so.
"""

from __future__ import annotations

from dataclasses import dataclass
from xml.etree.ElementTree import Element, SubElement

from everyline.paper.note_values import TYPES, WHOLE
from everyline.paper.outlines import music_glyph
from everyline.rules.meter import Meter

_HEADS = {2: "E0A3", 4: "E0A4", 8: "E0A4"}


@dataclass(frozen=True, slots=True)
class Beat:
    """A beat as it is felt: its undotted note value as ``unit`` (4 a quarter), whether it is ``dotted``, and
    how many beats of the rules it takes."""

    unit: int
    dotted: bool
    of: int

    @property
    def type(self) -> str:
        """MusicXML's name of the undotted value."""
        return TYPES[WHOLE // self.unit]

    @property
    def words(self) -> str:
        """The value in words."""
        return f"dotted {self.type} note" if self.dotted else f"{self.type} note"


def beat_of(meter: Meter) -> Beat:
    """The beat in which a meter is felt: dotted quarters where eighths go in threes."""
    if meter.dotted:
        return Beat(4, True, 1)
    if meter.in_threes and meter.count > 3:
        return Beat(4, True, 3)
    return Beat(meter.unit, False, 1)


def felt_tempo(tempo: float, meter: Meter) -> float:
    """A tempo in beats of the rules as one in beats as they are felt."""
    return tempo / beat_of(meter).of


def tempo_words(tempo: float, meter: Meter) -> str:
    """A tempo's figure, in beats as they are felt, to a tenth where it is not whole.

    >>> tempo_words(180, Meter(6, 8)), tempo_words(60, Meter(6, 8, per_beat=3))
    ('60', '60')
    """
    return f"{round(felt_tempo(tempo, meter), 1):g}"


def draw_beat(parent: Element, beat: Beat, x: float, y: float) -> float:
    """The note value of a beat, small; answers its width."""
    group = SubElement(parent, "g", {"transform": f"translate({x:.0f} {y:.0f})"})
    head = {"d": music_glyph(_HEADS[beat.unit]), "transform": "scale(.5 -.5)", "stroke": "none"}
    SubElement(group, "path", head)
    SubElement(group, "path", {"d": "M150 -8V-330", "stroke-width": "16"})
    if beat.unit == 8:
        move = "translate(143 -334) scale(.42 -.42)"
        SubElement(group, "path", {"d": music_glyph("E240"), "transform": move, "stroke": "none"})
    if beat.dotted:
        dot = {"d": "M215 0a32 32 0 1 0 64 0a32 32 0 1 0 -64 0Z", "stroke": "none"}
        SubElement(group, "path", dot)
        return 320
    return 230
