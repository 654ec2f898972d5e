"""Drill sets from the page's rules: chosen and made as on the command line, told as data or printed."""

from __future__ import annotations

import json
from base64 import b64encode
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from everyline.corpora.errors import InputError
from everyline.drill.choose import choose
from everyline.drill.difficulty import difficulty
from everyline.drill.sources import sources_from
from everyline.drill.spec import Spec
from everyline.drill.write import DrillSet, Made
from everyline.page.lines_view import facts
from everyline.rules.annotate import AnnotatedLine
from everyline.rules.breaches import judge
from everyline.spaces.space import Space

if TYPE_CHECKING:
    from everyline.page.operations import Workspace

Tables = dict[str, Any]
TRAITS = ("figure", "ending")
"""What is balanced, and what pairs are made of, by default."""
NAME = "these rules"
"""What remarks call the page's rules."""
PICTURE_WIDTH = 160
"""Millimetres that a picture is wide by default."""


def drill(workspace: Workspace, tables: Tables, wish: dict[str, Any]) -> dict[str, Any]:
    """A drill set as data: exercises, each with rules and number, and what is to be said of the choice."""
    made = _made(workspace, tables, wish)
    width = wish.get("width", PICTURE_WIDTH)
    of = len(made.exercises)
    for done, each in enumerate(made.exercises, 1):
        workspace.tell({"exercise": _told(each, width)})
        workspace.tell_progress("Drawing", done, of)
    return {"remarks": list(made.drawn.chosen.remarks)}


def drill_sheet(
    workspace: Workspace,
    tables: Tables,
    wish: dict[str, Any],
    answers: bool,
    paper: str,
    form: str = "pdf",
    fretboard: str = "none",
) -> dict[str, str]:
    """The same set as a PDF sheet, its answers, or one HTML file with both, as base64. The same wish gives
    the same set."""
    from everyline.paper.sheet import Sheet, SheetOptions, key_pdf, sheet_pdf
    from everyline.paper.sheet import SheetExercise as Printed

    whole = _made(workspace, tables, wish)
    drawn = whole.drawn
    several = len(drawn.sources) > 1
    printed = []
    for made in whole.exercises:
        shown, blanks = _shown(made)
        plain = made.exercise.kind == "play"
        printed.append(
            Printed(
                shown,
                title=f"in {made.source.key}" if several else "",
                task=made.exercise.task,
                blanks=blanks,
                solution=None if plain else made.line,
                answer=" ".join(made.exercise.answer),
                labels=plain,
            )
        )
    workspace.tell_progress("Engraving", 0, 0)
    title = drawn.sources[0].rules.title or "Drill set"
    if form == "html":
        from everyline.handout.write import HandoutOptions, handout
        from everyline.page.sheets import shown_fretboard
        from everyline.paper.score_options import ScoreOptions

        score = ScoreOptions(fretboard=shown_fretboard([each.line for each in printed], fretboard))
        return {"data": b64encode(handout(title, printed, options=HandoutOptions(score))).decode()}
    sheet = Sheet(title, printed)
    options = SheetOptions(paper=paper)
    pdf = key_pdf(sheet, options) if answers else sheet_pdf(sheet, options)
    if pdf is None:
        raise InputError("this set has no answers to print: its lines are there to be played.")
    return {"data": b64encode(pdf).decode()}


@dataclass(frozen=True)
class MadeSet:
    """A drill set with its exercises."""

    drawn: DrillSet
    exercises: tuple[Made, ...]


def _made(workspace: Workspace, tables: Tables, wish: dict[str, Any]) -> MadeSet:
    """The set that a wish describes; the last one is kept, for its sheets."""
    asked = {name: value for name, value in wish.items() if name != "width"}
    key = json.dumps([tables, asked], sort_keys=True)
    found = workspace.drills.get(key)
    if found is None:
        drawn = _drawn(workspace, tables, wish)
        of = len(drawn.chosen.items)
        exercises = []
        for place, item in enumerate(drawn.chosen.items, 1):
            workspace.tell_progress("Making exercises", place - 1, of)
            with workspace.counting():
                exercises.append(drawn.exercise(place, item))
        found = MadeSet(drawn, tuple(exercises))
        workspace.drills.clear()
        workspace.drills[key] = found
    return found


def _drawn(workspace: Workspace, tables: Tables, wish: dict[str, Any]) -> DrillSet:
    """The set that a wish describes. Raises InputError where there is no line to make it from."""
    spec = _spec(wish)
    with workspace.counting():
        sources = sources_from(NAME, tables, spec, workspace.corpus)
        for done, source in enumerate(sources):
            workspace.tell_progress("Counting the lines in each key", done, len(sources))
            # As a cached property's value: what this worker has compiled is not compiled again.
            source.__dict__["diagram"] = workspace.space(dict(source.tables)).diagram
    if not any(source.diagram.count for source in sources):
        raise InputError("there is no line to make a drill set from; loosen a rule first.")
    with workspace.counting():
        workspace.tell_progress("Choosing lines", 0, 0)
        chosen = choose(spec, sources, lambda done, of: workspace.tell_progress("Putting in order", done, of))
    return DrillSet(spec, sources, chosen)


def _spec(wish: dict[str, Any]) -> Spec:
    """A wish as the description of a drill set; in several keys, every key has its share."""
    keys, sampling = wish.get("keys", "home"), wish.get("sampling", "uniform")
    several = keys != "home"
    traits = tuple(wish.get("traits") or TRAITS) if sampling in ("balanced", "pairs") else ()
    return Spec(
        rules=(NAME,),
        lines=wish["how_many"],
        keys=(keys,),
        sampling=sampling,
        traits=("key", *traits) if several and sampling == "pairs" else traits,
        order=wish.get("order", "drawn"),
        by="key" if several else "figure",
        kinds=tuple(wish.get("kinds") or ("play",)),
        blanks=wish.get("blanks", 3),
        completions=wish.get("completions", 8),
        seed=wish.get("seed", 1),
    )


def _shown(made: Made) -> tuple[AnnotatedLine, frozenset[int]]:
    """The line as the student sees it, and which of its notes are left out."""
    exercise = made.exercise
    if exercise.kind == "slip":
        from everyline.spaces.checking import as_read

        space = Space(made.source.rules)
        line = as_read(space, exercise.shown, judge(space.rules, exercise.shown), None)
        assert line is not None  # it has notes
        return line, frozenset()
    if exercise.kind == "continue":
        return made.line, frozenset(range(len(exercise.shown), len(made.line.notes)))
    return made.line, frozenset(exercise.blanks)


def _told(made: Made, width: float) -> dict[str, Any]:
    exercise = made.exercise
    picture = None
    if exercise.kind != "play":
        from everyline.paper.picture import PictureOptions, svg
        from everyline.paper.score_options import ScoreOptions

        shown, blanks = _shown(made)
        score = ScoreOptions(roles=False, degrees=False, numbers=False)
        picture = svg([shown], score, PictureOptions(width=width, legend=False), blanks=[blanks])
    return {
        **facts(made.line),
        "notes": " ".join(note.name for note in made.line.notes),
        "rules": dict(made.source.tables),
        "key": made.source.key,
        "kind": exercise.kind,
        "task": exercise.task,
        "shown": exercise.text(made.line),
        "answer": list(exercise.answer),
        "difficulty": difficulty(made.line),
        "picture": picture,
    }
