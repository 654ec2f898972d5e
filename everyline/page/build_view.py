"""A line that is built note by note on the page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from everyline.corpora.errors import EverylineError, InputError
from everyline.page.lines_view import draw_line, facts
from everyline.paper.instrument_part import CLEFS, Part, part_for
from everyline.paper.outlines import music_glyph
from everyline.rules.annotate import unexplained
from everyline.rules.line import make_events
from everyline.spaces.building import Built, build, finish
from everyline.spaces.space import Space
from everyline.spaces.why_not import why_not

if TYPE_CHECKING:
    from everyline.page.operations import Workspace

Tables = dict[str, Any]
CLEF_GLYPHS = {
    ("G", 0): "E050", ("G", -1): "E052", ("G", 1): "E053", ("G", -2): "E051", ("G", 2): "E054",
    ("F", 0): "E062", ("F", -1): "E064", ("F", 1): "E065", ("F", -2): "E063", ("F", 2): "E066",
    ("C", 0): "E05C", ("C", -1): "E05D",
}  # fmt: skip
"""Names of the clefs in the music font, by sign and octave (Standard Music Font Layout, clefs)."""


def onward(workspace: Workspace, tables: Tables, notes: list[list[int]]) -> dict[str, Any]:
    """What may come next with its counts, the chord ahead, and how pitches are written where they would come
    next."""
    space = workspace.space(tables)
    with workspace.counting():
        built = build(space, make_events(notes), words=False)
    ahead = built.ahead
    number = space.number(built.beginning) if built.ends else None
    return {
        "names": list(built.names),
        "count": str(built.count),
        "number": None if number is None else str(number),
        "steps": [step.as_row() for step in built.steps],
        "ahead": None
        if ahead is None
        else {"chord": ahead.chord, "place": ahead.place, "names": ahead.names},
        **_written(space, built),
    }


def onward_each(workspace: Workspace, tables: Tables, notes: list[list[int]]) -> dict[str, Any]:
    """For each note that may come next, in the order of their counts, what may come after it: so that whoever
    chooses one need not wait."""
    steps = build(workspace.space(tables), make_events(notes), words=False).steps
    return {"after": [onward(workspace, tables, [*notes, list(step.event)]) for step in steps]}


def _written(space: Space, built: Built) -> dict[str, Any]:
    """The clef, and every pitch of the range by name and as it stands on the staff, an octave sign at the
    clef left out of the latter."""
    rules = space.rules
    part = part_for(rules.instrument, rules.pitches)
    steps = part.steps(rules.key, rules.progression.chords)
    names = {step.event.pitch: step.name for step in built.steps}
    pitches = []
    for pitch in sorted(rules.pitches) if built.steps else ():
        event = built.steps[0].event._replace(pitch=pitch)
        name = names.get(pitch) or rules.called(rules.note(event))[0]
        written = part.written(name, steps)
        octave = written.octave - part.octaves
        pitches.append({"pitch": pitch, "name": name, "written": [written.step, written.alter, octave]})
    return {"clef": part.clef, "sign": _sign(part), "pitches": pitches}


def _sign(part: Part) -> str:
    """The clef with its octave as an SVG path in the units of the music font; nothing where that is not
    installed."""
    sign = CLEFS[part.clef][0]
    try:
        return music_glyph(CLEF_GLYPHS.get((sign, part.octaves), CLEF_GLYPHS[sign, 0]))
    except EverylineError:
        return ""


def onward_words(workspace: Workspace, tables: Tables, notes: list[list[int]]) -> dict[str, Any]:
    """What each next note would be, in the order of the counts."""
    space = workspace.space(tables)
    with workspace.counting():
        built = build(space, make_events(notes))
    return {"steps": [step.as_row() for step in built.steps]}


def begun(workspace: Workspace, tables: Tables, notes: list[list[int]], width: float) -> dict[str, Any]:
    """The first notes of a line on the staff; their roles are open as long as the line is. None for none."""
    space = workspace.space(tables)
    if not notes:
        return {"picture": None}
    line = unexplained(space.rules, space.after(make_events(notes), roles=False).beginning)
    return {"picture": draw_line(line, "auto", width, roles=False)}


def refusal(workspace: Workspace, tables: Tables, notes: list[list[int]], event: list[int]) -> dict[str, Any]:
    """Why a note may not come next."""
    space = workspace.space(tables)
    if not 0 <= event[1] <= 127:
        raise InputError(f"the pitch {event[1]} is none: MIDI numbers go from 0 to 127.")
    with workspace.counting():
        found = why_not(space, make_events(notes), tuple(event))
    return {"name": found.name, "place": found.place, "count": str(found.count), "why": found.sentence}


def finished(
    workspace: Workspace, tables: Tables, notes: list[list[int]], how: str, seed: int
) -> dict[str, Any]:
    """A line that begins with these notes."""
    space = workspace.space(tables)
    with workspace.counting():
        line = finish(space, make_events(notes), how, seed)
    return {**facts(line), "events": [list(event) for event in line.events]}
