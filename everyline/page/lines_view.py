"""Lines as the page shows them: rows, pictures, and one line with everything about it."""

from __future__ import annotations

import json
from collections.abc import Iterable
from itertools import islice
from typing import TYPE_CHECKING, Any

from everyline.corpora.counted import plural
from everyline.corpora.errors import InputError
from everyline.files.lessons import LessonLine, kept_line, line_notes, moved_on
from everyline.page.rules_view import HANDOFF_WORDS, limits_in_words, one_line_of
from everyline.rules.analysis import APPROACH, ARPEGGIO, ENDING, ENTRY, HANDOFF, TARGET
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.breaches import judge
from everyline.rules.line import Events
from everyline.rules.line_text import format_line, parse_line
from everyline.rules.pitch import HIGHEST
from everyline.rules.words import bar_by_bar
from everyline.solver.picking import MOST_PICKED, POOL
from everyline.spaces.space import Space

if TYPE_CHECKING:
    from everyline.page.operations import Workspace

Tables = dict[str, Any]
MOST_RANKED = {"good": MOST_PICKED, "smooth": 1000, "varied": POOL}
"""Lines that the page offers in the orders that rank; by number there is no bound."""
OCTAVE = 12
RANKINGS = 4
"""Orders that a worker keeps for whoever scrolls on."""
WIDTH_OF_BAR = 46.0
"""Millimetres that a bar takes in a row."""


def rows(workspace: Workspace, tables: Tables, first: int, most: int) -> dict[str, Any]:
    """Lines number ``first`` to ``first + most - 1``."""
    space = workspace.space(tables)
    return _told(space, space.count, space[first - 1 : first - 1 + most])


def ranked(workspace: Workspace, tables: Tables, first: int, most: int, order: str) -> dict[str, Any]:
    """The same places of an order that ranks, "smooth" or "varied"."""
    space = workspace.space(tables)
    key = f"{order} {json.dumps(tables, sort_keys=True)}"
    # Taken out while it is worked on: one that was broken off in the middle is not kept.
    ranking = workspace.rankings.pop(key, None) or Ranking(space, order)
    with workspace.counting():
        lines = ranking.upto(min(first - 1 + most, MOST_RANKED[order]))
    workspace.rankings[key] = ranking
    while len(workspace.rankings) > RANKINGS:
        workspace.rankings.popitem(last=False)
    return _told(space, ranking.length, lines[first - 1 :], copies=order == "varied")


def good(workspace: Workspace, tables: Tables, first: int, most: int, draw: int) -> dict[str, Any]:
    """A few lines to hand out, picked by taste; another ``draw`` gives others."""
    space = workspace.space(tables)
    key = f"good {draw} {json.dumps(tables, sort_keys=True)}"
    lines = workspace.picks.pop(key, None)
    if lines is None:
        with workspace.counting():
            lines = space.pick(seed=draw)
    workspace.picks[key] = lines
    while len(workspace.picks) > RANKINGS:
        workspace.picks.popitem(last=False)
    return _told(space, len(lines), lines[first - 1 : first - 1 + most], copies=True)


class Ranking:
    """An order that is gone through as somebody scrolls, each line worked out once.

    ``length`` is how many lines it has: of lines that are the same in different octaves, the varied order
    has the first.
    """

    def __init__(self, space: Space, order: str) -> None:
        self._found: list[AnnotatedLine] = []
        if order == "smooth":
            self._more = space.smoothest()
            self.length = min(space.count, MOST_RANKED[order])
            return
        lines: dict[Events, tuple[int, Events]] = {}
        for line in space.varied_ranked():
            lines.setdefault(lowered(line.events), (line.number, line.events))
        self._more = space.shown(lines.values())
        self.length = len(lines)

    def upto(self, last: int) -> list[AnnotatedLine]:
        """The first ``last`` lines, or all that there are."""
        self._found.extend(islice(self._more, max(0, last - len(self._found))))
        return self._found[:last]


def _told(space: Space, length: int, lines: Iterable[AnnotatedLine], copies: bool = False) -> dict[str, Any]:
    found = [_row(line) for line in lines] if not copies else [_grouped(space, line) for line in lines]
    return {"count": str(space.count), "length": str(length), "lines": found}


def _row(line: AnnotatedLine) -> dict[str, Any]:
    return {**facts(line), "notes": " ".join(note.name for note in line.notes)}


def _grouped(space: Space, line: AnnotatedLine) -> dict[str, Any]:
    return {**_row(line), "octaves": octave_copies(space, line.events)}


def lowered(events: Events) -> Events:
    """The line moved by octaves so that its lowest note is as low as it can be: the same for all its copies
    in other octaves."""
    by = min(event.pitch for event in events) // OCTAVE * OCTAVE
    return tuple(event._replace(pitch=event.pitch - by) for event in events)


def octave_copies(space: Space, events: Events) -> list[dict[str, Any]]:
    """The same line in the other octaves in which it is one of these: how many octaves up (down below 0), and
    its number."""
    lowest = min(event.pitch for event in events)
    found = []
    for octaves in range(-(lowest // OCTAVE), (HIGHEST - lowest) // OCTAVE + 1):
        moved = tuple(event._replace(pitch=event.pitch + OCTAVE * octaves) for event in events)
        number = space.diagram.number(moved) if octaves else None
        if number is not None:
            found.append({"octaves": octaves, "number": str(number)})
    return found


def facts(line: AnnotatedLine) -> dict[str, Any]:
    """Number (in digits), roughness, ending, and the line as text that can be typed, also as it is kept: with
    the place where it starts."""
    names = [note.name for note in line.notes]
    return {
        "number": None if line.number is None else str(line.number),
        "roughness": line.roughness,
        "ending": line.ending,
        "text": format_line(line.rules, line.events, names),
        "kept_as": line_notes(line),
    }


def named_line(workspace: Workspace, tables: Tables, number: str, notes: str | None = None) -> AnnotatedLine:
    """A line by its number, or by the notes that it was kept with: then it is that line whatever has become
    of its rules. Raises InputError."""
    space = workspace.space(tables)
    if notes is None:
        return space.line(one_line_of(space, number))
    return kept_line(_kept(number, notes), space.rules, space.diagram)


def _kept(number: str, notes: str) -> LessonLine:
    return LessonLine("its set of rules", int(number), notes)


def draw_line(
    line: AnnotatedLine,
    staves: str,
    width: float | None = None,
    roles: bool = True,
    fretboard: str = "none",
    blanks: frozenset[int] = frozenset(),
) -> str:
    """The line as SVG text, four bars to a system unless a width in millimetres is given; ``fretboard`` as in
    ``shown_fretboard``, ``blanks`` as in ``everyline.paper.picture.svg``."""
    from everyline.page.sheets import shown_fretboard
    from everyline.paper.picture import PictureOptions, svg
    from everyline.paper.score_options import ScoreOptions

    bars = max(2, min(4, line.rules.progression.bars))
    score = ScoreOptions(
        staves=staves, roles=roles, degrees=roles, numbers=False, fretboard=shown_fretboard([line], fretboard)
    )
    look = PictureOptions(width=width or 22 + bars * WIDTH_OF_BAR, legend=False)
    return svg([line], score, look, blanks=[blanks])


def line(workspace: Workspace, tables: Tables, number: str) -> dict[str, Any]:
    """One line with its notes, its explanation and the rule that each note answers to."""
    space = workspace.space(tables)
    found = space.line(one_line_of(space, number))
    bars = bar_by_bar(found)
    words = {note.index: note for bar in bars for note in bar.notes}
    return {
        **facts(found),
        "count": str(space.count),
        "explanation": [bar.text for bar in bars],
        "limits": limits_in_words(space.rules),
        "notes": [
            {
                **note.as_row(),
                "bar": words[place].bar,
                "beat": words[place].beat,
                "words": words[place].text,
                "rule": _rule(found, place),
            }
            for place, note in enumerate(found.notes)
        ],
    }


def _rule(line: AnnotatedLine, place: int) -> str:
    """The rule that a note answers to, in words."""
    rules, note = line.rules, line.notes[place]
    if note.role == ENTRY:
        return "Entry: the line starts on a chord tone of the first chord."
    if note.role == ARPEGGIO:
        way = "one way, up or down" if not rules.arpeggio.turns else "up or down, with turns allowed"
        return f"Arpeggio: the next chord tone, {way}."
    if note.role in (APPROACH, TARGET):
        figure = next(each for each in line.figures if each.first <= place <= each.target)
        if note.role == APPROACH:
            steps = next((each.text for each in rules.approach.figures if each.name == figure.name), "")
            return f"Approach: the figure {figure.name} ({steps}) toward its target."
        slot = note.onset // rules.slot_ticks
        also = f" It is also the handoff: {HANDOFF_WORDS[rules.handoff]}." if _changes(line, slot) else ""
        return f"Target: a chord tone on a beat, where {figure.name} lands.{also}"
    if note.role == HANDOFF:
        return f"Handoff ({rules.handoff}): {HANDOFF_WORDS[rules.handoff]}."
    assert note.role == ENDING
    return f"Ending: {line.ending}, within {plural(rules.lead_in, 'semitone')} of the note before it."


def _changes(line: AnnotatedLine, slot: int) -> bool:
    return slot in line.rules.progression.starts[1:]


def number(workspace: Workspace, tables: Tables, notes: str) -> dict[str, Any]:
    """The number of a line given as text; raises InputError with the reason where it is none of these."""
    space = workspace.space(tables)
    candidates = parse_line(notes, space.rules)
    for events in candidates:
        found = space.diagram.number(events)
        if found is not None:
            return {"number": str(found)}
    reasons = judge(space.rules, candidates[0]).breaches
    raise InputError("; ".join(each.message for each in reasons[:3]) or "it is not one of these lines.")


def picture(
    workspace: Workspace,
    tables: Tables,
    number: str,
    staves: str,
    width: float,
    fretboard: str = "none",
    notes: str | None = None,
) -> dict[str, str]:
    """One line (see ``named_line``) as SVG text at a width in millimetres, and what is to be said of one
    whose rules have moved on since it was kept."""
    line = named_line(workspace, tables, number, notes)
    moved = "" if notes is None else moved_on(_kept(number, notes), line)
    explained = line.number is not None
    drawn = draw_line(line, staves, width, roles=explained, fretboard=fretboard)
    return {"picture": drawn, "moved": moved}
