"""The head of a sheet: title, student's line, facts, tempo boxes, remarks, legend; and the quiet line at its
foot.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from xml.etree.ElementTree import Element, tostring

from everyline.paper.layout import score_part, staves_of
from everyline.paper.look import MARKS
from everyline.paper.picture import draw_legend, swing_words
from everyline.paper.score_options import ScoreOptions
from everyline.paper.signs import readable
from everyline.paper.tempo_mark import Beat, beat_of, draw_beat, tempo_words
from everyline.rules.annotate import AnnotatedLine

CAUTION = (
    "Rest often, stop if anything hurts, and keep the sound low enough to talk over. If in doubt ask your "
    "teacher, about pain or ringing ears a doctor."
)
"""The usual cautions, in one quiet line on the first page."""

TEMPO = "Tempo"
"""The fact that has the note value of a beat before it."""

LEGEND_HEIGHT = 4.2


@dataclass(frozen=True, slots=True)
class Heading:
    """What stands at the head of a sheet whose first exercise is ``line``; ``fields`` are for the student to
    fill in, each with what is filled in already."""

    title: str
    line: AnnotatedLine
    subtitle: str = ""
    author: str = ""
    remarks: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()
    tempi: tuple[int, ...] = ()
    fields: tuple[tuple[str, str], ...] = ()
    contents: bool = False


def front_matter(
    front: Heading, score: ScoreOptions, colour: bool, legend: bool
) -> tuple[dict[str, Any], dict[str, str]]:
    """The head as data for the template, and its pictures. Key, meter and tempo come with the exercises,
    since they are said only where they hold for all of them."""
    beat = beat_of(front.line.rules.progression.meter)
    files = {"beat.svg": _beat(beat)}
    matter: dict[str, Any] = {
        "title": front.title,
        "subtitle": readable(front.subtitle),
        "author": front.author,
        "fields": [list(each) for each in front.fields],
        "facts": [[word, readable(what)] for word, what in front.facts],
        "tempi": list(front.tempi),
        "beat": "beat.svg",
        "beat_said": beat.words,
        "tempo_word": TEMPO,
        "remarks": [readable(remark) for remark in front.remarks],
        "rules": [readable(rule) for rule in front.rules],
        "contents": front.contents,
        "legend": None,
        "legend_said": "",
        "legend_width": 0.0,
    }
    if legend and score.roles:
        hand = score.fingers and staves_of(front.line, score)[1]
        files["legend.svg"], matter["legend_width"] = _legend(colour, hand)
        matter["legend"] = "legend.svg"
        said = "; ".join(f"{mark.word}: {mark.meaning}" for mark in MARKS.values())
        fingers = "; Roman figures: position of the left hand; 1 to 4: its fingers" if hand else ""
        matter["legend_said"] = f"What the marks mean. {said}{fingers}"
    return matter, files


def line_facts(line: AnnotatedLine, score: ScoreOptions) -> list[tuple[str, str]]:
    """Key, meter, instrument and tempo of a line, as they are written for the player."""
    rules = line.rules
    part = score_part([line], score)
    facts = []
    if rules.key is not None:
        written = part.written_key(rules.key, part.steps(rules.key))
        sounding = f" (sounds {rules.key})" if part.semitones % 12 else ""
        facts.append(("Key", written + sounding))
    facts.append(("Meter", str(rules.progression.meter)))
    if rules.instrument is not None:
        remark = f", {part.remark}" if part.remark else ""
        facts.append(("For", f"{part.name}{remark}"))
    swing = swing_words(score, rules)
    if score.tempo is not None:
        tempo = tempo_words(score.tempo, rules.progression.meter)
        facts.append((TEMPO, tempo + (f", {swing}" if swing else "")))
    elif swing:
        facts.append(("Feel", swing))
    return facts


def _legend(colour: bool, hand: bool) -> tuple[str, float]:
    """The legend as a picture, and how many millimetres wide it is."""
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg"})
    width = draw_legend(root, MARKS, 300, colour, hand)
    root.set("viewBox", f"0 0 {width:.0f} 420")
    return tostring(root, encoding="unicode"), round(width * LEGEND_HEIGHT / 420, 2)


def _beat(beat: Beat) -> str:
    """The note value of a beat, before the tempo boxes."""
    width = 760 if beat.dotted else 560
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "viewBox": f"-20 -20 {width} 500"})
    group = Element("g", {"fill": "currentColor", "stroke": "currentColor"})
    draw_beat(group, beat, 0, 380)
    root.append(group)
    return tostring(root, encoding="unicode")
