"""The head of a sheet: title, student's line, facts, tempo boxes, remarks, legend; and the quiet line at its
foot.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from xml.etree.ElementTree import Element, tostring

from everyline.paper.layout import score_part
from everyline.paper.look import MARKS
from everyline.paper.picture import draw_beat, draw_legend, swing_words
from everyline.paper.score_options import ScoreOptions
from everyline.paper.signs import readable
from everyline.rules.annotate import AnnotatedLine

CAUTION = (
    "Rest often, stop if anything hurts, and keep the sound low enough to talk over. If in doubt ask your "
    "teacher, about pain or ringing ears a doctor."
)
"""The usual cautions, in one quiet line on every page."""

TEMPO = "Tempo"
"""The fact that has the note value of a beat before it."""

LEGEND_HEIGHT = 4.2


@dataclass(frozen=True, slots=True)
class Heading:
    """What stands at the head of a sheet; ``line`` is its first, which gives key, meter and instrument."""

    title: str
    subtitle: str
    remarks: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    tempi: tuple[int, ...]
    student: bool
    line: AnnotatedLine


def front_matter(
    front: Heading, score: ScoreOptions, colour: bool, legend: bool
) -> tuple[dict[str, Any], dict[str, str]]:
    """The head as data for the template, and its pictures."""
    files = {"beat.svg": _beat(front.line.rules.progression.meter[1])}
    matter: dict[str, Any] = {
        "title": front.title,
        "subtitle": readable(front.subtitle),
        "student": front.student,
        "words": {"name": "Name", "date": "Date"},
        "facts": [[word, readable(what)] for word, what in (*_facts(front.line, score), *front.facts)],
        "tempi": list(front.tempi),
        "beat": "beat.svg",
        "tempo_word": TEMPO,
        "remarks": [readable(remark) for remark in front.remarks],
        "legend": None,
        "legend_height": LEGEND_HEIGHT,
    }
    if legend and score.roles:
        files["legend.svg"] = _legend(colour)
        matter["legend"] = "legend.svg"
    return matter, files


def _facts(line: AnnotatedLine, score: ScoreOptions) -> list[tuple[str, str]]:
    """Key, meter and instrument of the sheet's first line, as they are written for the player."""
    rules = line.rules
    part = score_part([line], score)
    facts = []
    if rules.key is not None:
        written = part.written_key(rules.key, part.steps(rules.key))
        sounding = f" (sounds {rules.key})" if part.semitones % 12 else ""
        facts.append(("Key", written + sounding))
    facts.append(("Meter", f"{rules.progression.meter[0]}/{rules.progression.meter[1]}"))
    if rules.instrument is not None:
        remark = f", {part.remark}" if part.remark else ""
        facts.append(("For", f"{part.name}{remark}"))
    swing = swing_words(score, rules)
    if score.tempo is not None:
        facts.append((TEMPO, f"{score.tempo:g}" + (f", {swing}" if swing else "")))
    elif swing:
        facts.append(("Feel", swing))
    return facts


def _legend(colour: bool) -> str:
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg"})
    width = draw_legend(root, MARKS, 300, colour)
    root.set("viewBox", f"0 0 {width:.0f} 420")
    return tostring(root, encoding="unicode")


def _beat(unit: int) -> str:
    """The note value of a beat, before the tempo boxes."""
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "viewBox": "-20 -20 560 500"})
    group = Element("g", {"fill": "currentColor", "stroke": "currentColor"})
    draw_beat(group, unit, 0, 380)
    root.append(group)
    return tostring(root, encoding="unicode")
