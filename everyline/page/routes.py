"""The interface, one row a route: what may be asked of the server, and what answers."""

from __future__ import annotations

import json
from typing import Any

from starlette.responses import FileResponse, JSONResponse, PlainTextResponse, Response

from corpora.errors import InputError
from everyline.drill.exercises import KINDS
from everyline.drill.spec import KEY_ORDERS, ORDERS, SAMPLINGS
from everyline.page.calls import SLOW, Call, Route, attachment
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
from solver.traits import TRAITS

RULES_ID: Schema = text(24, pattern="^[0-9a-f]{24}$", example="0123456789abcdef01234567")
NUMBER: Schema = text(400, pattern="^[0-9]{1,400}$", example="17")
STAVES: Schema = choice("auto", "staff", "tab", "both", default="auto")
ORDER: Schema = choice("number", "smooth", "varied", default="number")
WIDTH: Schema = whole(60, 400, default=160)
LONGEST_RULES = 100_000
LONGEST_LINE = 10_000
FORMATS = {
    "pdf": "application/pdf",
    "musicxml": "application/vnd.recordare.musicxml+xml",
    "mid": "audio/midi",
    "wav": "audio/wav",
    "txt": "text/plain; charset=utf-8",
    "svg": "image/svg+xml",
}
"""What a line can be taken away as, and its media type."""

SOUND: dict[str, Schema] = {
    "tempo": whole(30, 400, default=120),
    "swing": text(12, pattern="^(by-tempo|straight|[0-9.]{1,6}(:1)?)$", default="by-tempo", example="2:1"),
    "count_in": whole(0, 4, default=1),
    "repeats": whole(1, 16, default=1),
    "mute": {
        "type": "array",
        "items": choice("line", "chords", "bass", "click"),
        "maxItems": 4,
        "default": [],
    },
}
"""How a line sounds."""

ITEM = table({"rules": FREE, "number": NUMBER}, LESSON_WORDS)
"""A line in a lesson: a rule file's tables and the line's number under them."""

LESSON = table({"items": many(ITEM, MOST_LINES)}, LESSON_WORDS)

COUNT_REPLY = table({"id": RULES_ID, "count": NUMBER}, {})
COUNT_REPLY["additionalProperties"] = True


def _json(value: Any) -> Response:
    return JSONResponse(value, headers={"cache-control": "no-store"})


def _sound(call: Call, at: Any) -> dict[str, Any]:
    return {name: at.get(name, schema["default"]) for name, schema in SOUND.items()}


async def _vocabulary(call: Call) -> Response:
    return _json(await call.run("vocabulary"))


async def _corpus_rules(call: Call) -> Response:
    return _json(await call.run("corpus_rules", name=call.path["name"]))


async def _send_rules(call: Call) -> Response:
    if ("tables" in call.body) == ("text" in call.body):
        raise InputError("send the rules either as tables or as text.")
    tables = call.body.get("tables")
    if tables is None:
        tables = await call.run("read_rules", text=call.body["text"])
    elif len(json.dumps(tables)) > LONGEST_RULES:
        raise InputError(f"the rules are longer than {LONGEST_RULES} characters, which no rule file needs.")
    found = await call.run("summary", tables=tables)
    return _json({"id": call.server.sets.keep(tables), "tables": tables, **found})


async def _rules(call: Call) -> Response:
    found = await call.run("summary", tables=call.tables)
    return _json({"id": call.path["rules"], "tables": call.tables, **found})


async def _toml(call: Call) -> Response:
    made: str = await call.run("toml", tables=call.tables)
    return attachment(made.encode(), "application/toml", "rules.toml")


async def _choices(call: Call) -> Response:
    seconds = call.server.seconds * 0.6
    found = await call.run("choices", SLOW, tables=call.tables, changes=call.body["changes"], seconds=seconds)
    return _json({"choices": found})


async def _facets(call: Call) -> Response:
    only = call.query.get("only") or None
    return _json({"facets": await call.run("facets", SLOW, tables=call.tables, only=only)})


async def _conflicts(call: Call) -> Response:
    seconds = call.server.seconds * 0.8
    return _json(await call.run("conflicts", SLOW, tables=call.tables, seconds=seconds))


async def _rows(call: Call) -> Response:
    query = call.query
    return _json(
        await call.run(
            "rows",
            tables=call.tables,
            first=int(query.get("from", "1")) or 1,
            most=query.get("most", 10),
            order=query.get("order", "number"),
        )
    )


async def _line(call: Call) -> Response:
    return _json(await call.run("line", tables=call.tables, number=call.path["number"]))


async def _picture(call: Call) -> Response:
    staves, width = call.query.get("staves", "auto"), call.query.get("width", 160)
    number = call.path["number"]
    return _json(await call.run("picture", tables=call.tables, number=number, staves=staves, width=width))


async def _number(call: Call) -> Response:
    return _json(await call.run("number", tables=call.tables, notes=call.query["notes"]))


async def _timing(call: Call) -> Response:
    options = _sound(call, call.query)
    return _json(await call.run("timing", tables=call.tables, number=call.path["number"], options=options))


async def _hear(call: Call) -> Response:
    options = _sound(call, call.query)
    key = json.dumps([call.path["rules"], call.path["number"], options])
    path = call.server.sounds.find(key)
    if path is None:
        data = await call.run("sound", SLOW, tables=call.tables, number=call.path["number"], options=options)
        path = call.server.sounds.keep(key, data)
    return FileResponse(path, media_type="audio/wav", headers={"cache-control": "no-store"})


async def _take(call: Call) -> Response:
    form, number = call.path["format"], call.path["number"]
    staves = call.query.get("staves", "auto")
    options = _sound(call, call.query)
    data = await call.run(
        "take", SLOW, tables=call.tables, number=number, form=form, staves=staves, options=options
    )
    name = f"line-{number}.{form}" if len(number) < 40 else f"line.{form}"
    return attachment(data, FORMATS[form], name)


async def _check(call: Call) -> Response:
    near, width = call.body.get("nearest", 3), call.body.get("width", 160)
    notes = call.body["notes"]
    return _json(await call.run("check", SLOW, tables=call.tables, notes=notes, nearest=near, width=width))


async def _check_file(call: Call) -> Response:
    asked = {"kind": call.query["kind"], "width": call.query.get("width", 160), "nearest": 3}
    return _json(await call.run("check_file", SLOW, tables=call.tables, data=call.body, **asked))


async def _lesson_text(call: Call) -> Response:
    made: str = await call.run("lesson_write", lesson=call.body)
    return attachment(made.encode(), "application/toml", "lesson.toml")


async def _lesson_read(call: Call) -> Response:
    return _json(await call.run("lesson_read", SLOW, text=call.body["text"]))


async def _lesson_take(call: Call) -> Response:
    form = call.body["format"]
    options = _sound(call, call.body.get("sound", {}))
    data = await call.run(
        "lesson_take",
        SLOW,
        lesson=call.body["lesson"],
        form=form,
        staves=call.body.get("staves", "auto"),
        options=options,
        sheet=call.body.get("sheet", {}),
    )
    return attachment(data, FORMATS[form], f"lesson.{form}")


async def _drill(call: Call) -> Response:
    return _json(await call.run("drill", SLOW, tables=call.tables, wish=call.body))


async def _drill_sheet(call: Call) -> Response:
    answers, paper = call.body.get("answers", False), call.body.get("paper", "a4").capitalize()
    wish = call.body["wish"]
    data = await call.run("drill_sheet", SLOW, tables=call.tables, wish=wish, answers=answers, paper=paper)
    return attachment(data, FORMATS["pdf"], "answers.pdf" if answers else "drill.pdf")


async def _openapi(call: Call) -> Response:
    from everyline.page.openapi import document

    return JSONResponse(document(ROUTES))


async def _alive(call: Call) -> Response:
    return PlainTextResponse("ready")


_BY_RULES = {"rules": RULES_ID}
_BY_LINE = {"rules": RULES_ID, "number": NUMBER}
_SHEET = table(
    {}, {"paper": choice("a4", "letter"), "answers": {"type": "boolean"}, "words": {"type": "boolean"}}
)
_DRILL = table(
    {"how_many": whole(1, 100)},
    {
        "sampling": choice(*SAMPLINGS),
        "traits": many(choice(*TRAITS), 4),
        "kinds": many(choice(*KINDS), 4, 1),
        "keys": choice(*KEY_ORDERS),
        "order": choice(*ORDERS),
        "blanks": whole(1, 8),
        "completions": whole(1, 1000),
        "seed": whole(0, 2**31 - 1),
    },
)

ROUTES: tuple[Route, ...] = (
    Route("GET", "/api/openapi.json", "openapi", "This description.", _openapi),
    Route("GET", "/api/ready", "ready", "Whether the server is up.", _alive, answers="text/plain"),
    Route("GET", "/api/vocabulary", "vocabulary", "Keys, limits, figures, endings and so on.", _vocabulary),
    Route(
        "GET",
        "/api/corpus/rules/{name}",
        "corpus_rules",
        "A rule file of the corpora, as text and as tables.",
        _corpus_rules,
        in_path={"name": text(100, least=1)},
    ),
    Route(
        "POST",
        "/api/rules",
        "send_rules",
        "Send rules, as tables or as the text of a rule file; the answer counts their lines.",
        _send_rules,
        body=table({}, {"tables": FREE, "text": text(LONGEST_RULES)}),
        reply=COUNT_REPLY,
    ),
    Route("GET", "/api/rules/{rules}", "rules", "The rules again.", _rules, _BY_RULES, reply=COUNT_REPLY),
    Route(
        "GET",
        "/api/rules/{rules}/rules.toml",
        "rule_file",
        "The rule file.",
        _toml,
        _BY_RULES,
        answers="application/toml",
    ),
    Route(
        "POST",
        "/api/rules/{rules}/choices",
        "choices",
        "How many lines each of several changes to the rules would leave.",
        _choices,
        _BY_RULES,
        body=table({"changes": many(FREE, 32, 1)}),
    ),
    Route(
        "GET",
        "/api/rules/{rules}/facets",
        "facets",
        "How many lines have each start note, figure, target, ending and so on.",
        _facets,
        _BY_RULES,
        {"only": {"type": "array", "items": text(40), "maxItems": 16}},
    ),
    Route(
        "GET",
        "/api/rules/{rules}/conflicts",
        "conflicts",
        "Why there is no line: rules that exclude each other, and the least changes that bring lines back.",
        _conflicts,
        _BY_RULES,
    ),
    Route(
        "GET",
        "/api/rules/{rules}/lines",
        "lines",
        "Lines in an order, from a place in it.",
        _rows,
        _BY_RULES,
        {"from": NUMBER, "most": whole(1, 40, default=10), "order": ORDER},
    ),
    Route(
        "GET",
        "/api/rules/{rules}/lines/{number}",
        "line",
        "One line: roles, explanation, rules.",
        _line,
        _BY_LINE,
    ),
    Route(
        "GET",
        "/api/rules/{rules}/lines/{number}/picture",
        "picture",
        "A line engraved, as SVG text at a width in millimetres.",
        _picture,
        _BY_LINE,
        {"staves": STAVES, "width": WIDTH},
    ),
    Route(
        "GET",
        "/api/rules/{rules}/number",
        "number",
        "The number of a line given as text.",
        _number,
        _BY_RULES,
        {"notes": text(LONGEST_LINE, least=1)},
        needed=("notes",),
    ),
    Route(
        "GET",
        "/api/rules/{rules}/lines/{number}/timing",
        "timing",
        "When each note of a line sounds, in seconds.",
        _timing,
        _BY_LINE,
        SOUND,
    ),
    Route(
        "GET",
        "/api/rules/{rules}/lines/{number}/sound.wav",
        "sound",
        "A line as sound, in pieces where asked.",
        _hear,
        _BY_LINE,
        SOUND,
        answers="audio/wav",
    ),
    Route(
        "GET",
        "/api/rules/{rules}/lines/{number}/take/{format}",
        "take",
        "A line as a file.",
        _take,
        {**_BY_LINE, "format": choice(*FORMATS)},
        {**SOUND, "staves": STAVES},
        answers=tuple(FORMATS.values()),
    ),
    Route(
        "POST",
        "/api/rules/{rules}/check",
        "check",
        "Whether typed notes are a line, what is wrong where, and the nearest lines.",
        _check,
        _BY_RULES,
        body=table({"notes": text(LONGEST_LINE, least=1)}, {"nearest": whole(1, 10), "width": WIDTH}),
    ),
    Route(
        "POST",
        "/api/rules/{rules}/check/file",
        "check_file",
        "The same for a MusicXML or MIDI file, sent as it is.",
        _check_file,
        _BY_RULES,
        {"kind": choice("musicxml", "mxl", "mid"), "width": WIDTH},
        needed=("kind",),
        raw=True,
    ),
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
        "/api/lesson/take",
        "lesson_take",
        "A lesson as a file.",
        _lesson_take,
        body=table(
            {"lesson": LESSON, "format": choice("pdf", "musicxml", "mid", "wav", "txt")},
            {"staves": STAVES, "sound": table({}, SOUND), "sheet": _SHEET},
        ),
        answers=tuple(FORMATS.values()),
    ),
    Route(
        "POST",
        "/api/rules/{rules}/drill",
        "drill",
        "A drill set from these rules.",
        _drill,
        _BY_RULES,
        body=_DRILL,
    ),
    Route(
        "POST",
        "/api/rules/{rules}/drill/sheet",
        "drill_sheet",
        "The same drill set as a PDF sheet, or its answers.",
        _drill_sheet,
        _BY_RULES,
        body=table({"wish": _DRILL}, {"answers": {"type": "boolean"}, "paper": choice("a4", "letter")}),
        answers="application/pdf",
    ),
)
