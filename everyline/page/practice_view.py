"""Practice as the page shows it: today's rounds out of the plan, a kept line as an exercise, its sound, and
what was heard of a take."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

from everyline.corpora.errors import EverylineError, InputError
from everyline.drill.exercises import Exercise, make
from everyline.drill.exercises import Wishes as Blanks
from everyline.page.lines_view import draw_line, named_line
from everyline.practice.in_key import LineInKey, as_line, in_key
from everyline.practice.kept import OWN_TEXT, RuleFile
from everyline.practice.records import GivenLine, Kind, Student
from everyline.practice.week import Plan, Wishes
from everyline.rules.annotate import AnnotatedLine, spell_each
from everyline.rules.breaches import judge
from everyline.rules.line_text import parse_line
from everyline.rules.rulefile import parse_rules

if TYPE_CHECKING:
    from everyline.listening import Heard
    from everyline.page.operations import Workspace

Tables = dict[str, Any]
MAKERS = {Kind.COMPLETE: "complete", Kind.CONTINUE: "continue", Kind.SLIP: "slip"}
"""The kinds that are made as exercises of a drill set; the others are the line itself."""
TASKS = {
    Kind.PLAY: "Play it.",
    Kind.HEAR: "Hear it, and find it on your instrument.",
}


# -- the plan ------------------------------------------------------------------------------------------------


def practice_plan(workspace: Workspace, student: Student, wishes: Wishes) -> dict[str, Any]:
    """The first day of a plan that begins with it. Where no line can come in time, lines come late, and that
    is told."""
    from everyline.practice.week_days import NoPlan
    from everyline.practice.week_plan import make_plan

    def progress(done: int, of: int) -> None:
        workspace.tell_progress("Planning", done, of)

    workspace.tell_progress("Planning", 0, len(wishes.practice_days()))
    try:
        plan, remark = make_plan(student, wishes, progress), ""
    except NoPlan:
        remark = "Lines come late: there is no plan in which all of them come in time."
        plan = make_plan(student, replace(wishes, let_late=True), progress)
    return {**_today(plan), "remark": remark}


def _today(plan: Plan) -> dict[str, Any]:
    day = next((each for each in plan.days if each.on == plan.wishes.begin), None)
    found: dict[str, Any] = {
        "free": day is None,
        "minutes": 0 if day is None else day.minutes,
        "taken": 0 if day is None else day.taken,
        "rounds": [],
        "rests_after": [] if day is None else list(day.rests),
        "left": [{"line": line.id, "name": line.name, "why": why} for line, why in plan.left],
    }
    reasons = {each.line.id: each.reason for each in day.lines} if day is not None else {}
    for each in () if day is None else day.rounds:
        found["rounds"].append(
            {
                "line": each.line.id,
                "name": each.line.name,
                "kind": each.kind.value,
                "key": each.key,
                "tempo": each.tempo,
                "reason": reasons.get(each.line.id, ""),
            }
        )
    return found


# -- giving --------------------------------------------------------------------------------------------------


def practice_lines(workspace: Workspace, items: list[dict[str, Any]], on: date) -> list[GivenLine]:
    """Lines, each a rule file's tables and a number, as they are kept of a student. Raises InputError."""
    found = []
    for item in items:
        source = RuleFile.of(item["rules"], OWN_TEXT, workspace.corpus, None)
        line = named_line(workspace, item["rules"], item["number"], item.get("notes"))
        found.append(source.line(line, on, item.get("title", "")))
    return found


# -- an exercise ---------------------------------------------------------------------------------------------


def practice_exercise(
    workspace: Workspace,
    kept: GivenLine,
    key: str,
    kind: str,
    seed: int,
    staves: str,
    width: float,
    fretboard: str = "none",
) -> dict[str, Any]:
    """A kept line in a key as an exercise: its picture, its answer, and the tables and notes by which it is
    heard. A line that cannot be made into the kind is there to be played, and ``because`` says so."""
    moved = in_key(kept, key, workspace.corpus)
    wanted = Kind(kind)
    exercise, because = None, ""
    if wanted in MAKERS:
        exercise, because = _made(workspace, moved, wanted, seed)
    shown_as = wanted if exercise is not None or wanted is Kind.HEAR else Kind.PLAY
    line = moved.line
    look = {"staves": staves, "width": width, "fretboard": fretboard}
    progression = moved.rules.progression
    return {
        "tables": dict(moved.tables),
        "text": moved.notes,
        "title": kept.title,
        "key": key,
        "kind": shown_as.value,
        "task": exercise.task if exercise is not None else TASKS[shown_as],
        "because": because,
        "moved_on": moved.why,
        "notes": [note.name for note in line.notes],
        "shown": [] if exercise is None else list(exercise.names(line)),
        "picture": _picture(_as_shown(line, exercise), look, _blanks(line, exercise)),
        "solution": None if exercise is None else _picture(line, look),
        "answer": [] if exercise is None else list(exercise.answer),
        **_to_answer(workspace, moved, exercise),
        "bars": progression.bars,
        "beats_per_bar": progression.beats_per_bar,
    }


def _made(workspace: Workspace, moved: LineInKey, kind: Kind, seed: int) -> tuple[Exercise | None, str]:
    try:
        diagram = workspace.space(dict(moved.tables)).diagram
    except EverylineError as error:
        return None, str(error)
    number = diagram.number(moved.events)
    if number is None:
        return None, f"{kind.value}: the rules in this key have no such line, so it is there to be played."
    with workspace.counting():
        found = make(MAKERS[kind], moved.line, diagram, seed, Blanks())
    if found.kind != MAKERS[kind]:
        return None, f"{kind.value}: {found.key['because']}, so it is there to be played."
    return found, ""


def _as_shown(line: AnnotatedLine, exercise: Exercise | None) -> AnnotatedLine:
    """The line as the student sees it; only a slip shows other notes than the line has."""
    if exercise is None or exercise.kind != "slip":
        return line
    verdict = judge(line.rules, exercise.shown)
    assert not verdict.valid
    return as_line(line.rules, exercise.shown)


def _blanks(line: AnnotatedLine, exercise: Exercise | None) -> frozenset[int]:
    """Which notes are left out."""
    if exercise is None:
        return frozenset()
    if exercise.kind == "continue":
        return frozenset(range(len(exercise.shown), len(line.notes)))
    return frozenset(exercise.blanks)


def _picture(line: AnnotatedLine, look: Mapping[str, Any], blanks: frozenset[int] = frozenset()) -> str:
    """The line as SVG text, without its roles; on a staff alone where it is off the fretboard."""
    for staves in dict.fromkeys((look["staves"], "staff")):
        try:
            return draw_line(line, **{**look, "staves": staves}, roles=False, blanks=blanks)
        except InputError:
            if staves == "staff":
                raise
    raise AssertionError


def _to_answer(workspace: Workspace, moved: LineInKey, exercise: Exercise | None) -> dict[str, Any]:
    """What an answer on the screen is held against: places of blanks with every way to fill them, or the
    note that is wrong. Places count from 0."""
    found: dict[str, Any] = {"blanks": [], "ways": [], "wrong": None}
    if exercise is None:
        return found
    if exercise.kind == "complete":
        space = workspace.space(dict(moved.tables))
        lines = [space.line(number).events for number in exercise.key["answers"]]
        found["blanks"] = [_blank(moved, place) for place in exercise.blanks]
        found["ways"] = [[events[place].pitch for place in exercise.blanks] for events in lines]
    elif exercise.kind == "slip":
        found["wrong"] = exercise.key["note"] - 1
    return found


def _blank(moved: LineInKey, place: int) -> dict[str, Any]:
    """A note that is left out, with the pitches to choose from and what they are called there."""
    event = moved.events[place]
    pitches = sorted(moved.rules.pitches)
    names = [spell_each(moved.rules, (event._replace(pitch=pitch),))[0] for pitch in pitches]
    return {"note": place, "choices": [list(each) for each in zip(pitches, names, strict=True)]}


# -- sound ---------------------------------------------------------------------------------------------------


def _line(workspace: Workspace, tables: Tables, text: str) -> AnnotatedLine:
    rules = parse_rules(tables, workspace.corpus, name="its rules")
    (events,) = parse_line(text, rules)
    return as_line(rules, events)


def practice_timing(
    workspace: Workspace, tables: Tables, text: str, options: dict[str, Any]
) -> dict[str, Any]:
    """When each note of the line sounds."""
    from everyline.page.takeaway import timing_of

    return timing_of(_line(workspace, tables, text), options)


def practice_sound(workspace: Workspace, tables: Tables, text: str, options: dict[str, Any]) -> bytes:
    """The line as WAV. Raises EverylineError where no synthesiser is installed."""
    from everyline.files.formats import FORMATS
    from everyline.page.takeaway import options_of

    return FORMATS[".wav"].write([_line(workspace, tables, text)], options_of(options))


# -- what was heard ------------------------------------------------------------------------------------------


def practice_heard(
    workspace: Workspace,
    tables: Tables,
    text: str,
    notes: list[dict[str, Any]],
    tempo: float,
    width: float,
) -> dict[str, Any]:
    """A take, as a MIDI instrument sent it, against the line that was asked for: what was heard, what of it
    was right, early or late, and how surely."""
    from everyline.listening import hear_notes

    line = _line(workspace, tables, text)
    with workspace.counting():
        heard = hear_notes(notes, line.rules, tempo, asked=line.events)
        return _heard(line, heard, width)


def practice_listened(
    workspace: Workspace, tables: Tables, text: str, data: bytes, tempo: float, since: float, width: float
) -> dict[str, Any]:
    """The same for a recording: the bytes of a WAV file, which counts from the second ``since`` on."""
    from everyline.listening import hear

    line = _line(workspace, tables, text)
    with workspace.counting():
        heard = hear(data, "the take.wav", line.rules, tempo, asked=line.events, since=since)
        return _heard(line, heard, width)


def _heard(line: AnnotatedLine, heard: Heard, width: float) -> dict[str, Any]:
    from everyline.listening.asked import compare

    compared = compare(heard, line.events)
    row = heard.as_row(compared.events)
    look = {"staves": "staff", "width": width, "fretboard": "none"}
    try:
        picture = _picture(as_line(line.rules, compared.events), look)
    except (EverylineError, ValueError):
        # Lengths that no note value shows: the words must do.
        picture = None
    return {
        "summary": compared.summary,
        "as_asked": compared.as_asked,
        "words": compared.lines(),
        "assumed": row["assumed"],
        "sure": row["sure"],
        "tempo": row["tempo"],
        "notes": [each["name"] for each in row["notes"]],
        "remarks": list(heard.line.remarks),
        "picture": picture,
    }
