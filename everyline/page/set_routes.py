"""Addresses that are about whole sets of lines: lessons and drills."""

from __future__ import annotations

from starlette.responses import Response

from everyline.drill.exercises import KINDS
from everyline.drill.spec import KEY_ORDERS, ORDERS, SAMPLINGS
from everyline.page.calls import LINES, Call, Route, as_json, attachment
from everyline.page.params import (
    BY_RULES,
    FRETBOARD,
    KEPT_NOTES,
    KEYS,
    MEDIA_TYPES,
    NUMBER,
    OCTAVES,
    SOUND,
    STAVES,
    WIDTH,
    sound_of,
)
from everyline.page.schemas import (
    FREE,
    LESSON_WORDS,
    LONGEST_LESSON,
    MOST_LINES,
    Schema,
    choice,
    many,
    table,
    text,
    whole,
)
from everyline.paper.score_options import SECOND_PARTS
from everyline.paper.sheet_options import MOST_PER_PAGE, PAPERS
from everyline.solver.properties.table import TRAITS

ITEM = table({"rules": FREE, "number": NUMBER}, {**LESSON_WORDS, "notes": KEPT_NOTES})
"""A line in a lesson: a rule file's tables, the line's number under them, and the notes it was kept with."""

LESSON = table({"items": many(ITEM, MOST_LINES)}, LESSON_WORDS)

PAPER = choice(*PAPERS, default="A4")
"""Sizes of paper, by the names that the command line has."""

_SHEET = table(
    {},
    {
        "paper": PAPER,
        "large": {"type": "boolean"},
        "per_page": whole(1, MOST_PER_PAGE),
        "second_part": choice("none", *SECOND_PARTS, default="none"),
        "answers": {"type": "boolean"},
        "words": {"type": "boolean"},
        "fretboard": FRETBOARD,
    },
)
_WISH: dict[str, Schema] = {
    "sampling": choice(*SAMPLINGS),
    "traits": many(choice(*TRAITS), 4),
    "kinds": many(choice(*KINDS), 4, 1),
    "keys": choice(*KEY_ORDERS),
    "order": choice(*ORDERS),
    "blanks": whole(1, 8),
    "completions": whole(1, 1000),
    "seed": whole(0, 2**31 - 1),
}
_MANY: dict[str, Schema] = {"how_many": whole(1, 100)}
_DRILL = table(_MANY, _WISH)
"""What a drill set is made from."""


async def _lesson_text(call: Call) -> Response:
    made: str = await call.run("lesson_write", lesson=call.body)
    return attachment(made.encode(), "application/toml", "lesson.toml")


async def _lesson_read(call: Call) -> Response:
    return as_json(await call.run("lesson_read", text=call.body["text"]))


async def _lesson_move(call: Call) -> Response:
    return as_json(await call.run("lesson_move", item=call.body["item"], to=call.body["to"]))


async def _lesson_take(call: Call) -> Response:
    form = call.body["format"]
    options = sound_of(call.body.get("sound", {}))
    return call.stream(
        "lesson_take",
        lesson=call.body["lesson"],
        form=form,
        staves=call.body.get("staves", "auto"),
        options=options,
        sheet=call.body.get("sheet", {}),
    )


async def _drill(call: Call) -> Response:
    return call.stream("drill", tables=call.tables, wish=call.body)


async def _drill_sheet(call: Call) -> Response:
    answers, paper = call.body.get("answers", False), call.body.get("paper", "A4")
    look = {"form": call.body.get("format", "pdf"), "fretboard": call.body.get("fretboard", "none")}
    wish = call.body["wish"]
    return call.stream("drill_sheet", tables=call.tables, wish=wish, answers=answers, paper=paper, **look)


SET_ROUTES: tuple[Route, ...] = (
    Route(
        "POST",
        "/api/lesson/file",
        "lesson_file",
        "A lesson as a lesson file.",
        _lesson_text,
        body=LESSON,
        answers="application/toml",
    ),
    Route(
        "POST",
        "/api/lesson/read",
        "lesson_read",
        "A lesson file read.",
        _lesson_read,
        body=table({"text": text(LONGEST_LESSON)}),
    ),
    Route(
        "POST",
        "/api/lesson/move",
        "lesson_move",
        "A line of a lesson in another octave, or with its rules in another key.",
        _lesson_move,
        body=table({"item": ITEM, "to": choice(*OCTAVES, *KEYS)}),
    ),
    Route(
        "POST",
        "/api/lesson/take",
        "lesson_take",
        "A lesson as a file: how far it is, and the file as base64 last.",
        _lesson_take,
        body=table(
            {"lesson": LESSON, "format": choice(*MEDIA_TYPES)},
            {"staves": STAVES, "sound": table({}, SOUND), "sheet": _SHEET},
        ),
        answers=LINES,
    ),
    Route(
        "POST",
        "/api/rules/{rules}/drill",
        "drill",
        "A drill set from these rules, in lines of JSON: how far it is, each exercise, and the remarks last.",
        _drill,
        BY_RULES,
        body=table(_MANY, {**_WISH, "width": WIDTH}),
        answers=LINES,
    ),
    Route(
        "POST",
        "/api/rules/{rules}/drill/sheet",
        "drill_sheet",
        "The same set as a PDF sheet, its answers, or one HTML file: how far it is, and the file as base64.",
        _drill_sheet,
        BY_RULES,
        body=table(
            {"wish": _DRILL},
            {
                "answers": {"type": "boolean"},
                "paper": PAPER,
                "format": choice("pdf", "html", default="pdf"),
                "fretboard": FRETBOARD,
            },
        ),
        answers=LINES,
    ),
)
