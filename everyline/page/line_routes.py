"""Addresses that are about lines: rows, one line, its picture, sound and files, and lines to be checked."""

from __future__ import annotations

import json

from starlette.responses import FileResponse, Response

from everyline.page.calls import Call, Route, as_json, attachment
from everyline.page.params import (
    BY_LINE,
    BY_RULES,
    FRETBOARD,
    KEPT_NOTES,
    LONGEST_LINE,
    MEDIA_TYPES,
    NUMBER,
    SOUND,
    STAVES,
    WIDTH,
    sound_of,
)
from everyline.page.schemas import Schema, choice, table, text, whole

ORDER: Schema = choice("number", "good", "smooth", "varied", default="number")


async def _rows(call: Call) -> Response:
    query = call.query
    order = query.get("order", "number")
    place = {"tables": call.tables, "first": int(query.get("from", "1")) or 1, "most": query.get("most", 10)}
    if order == "number":
        return as_json(await call.run("rows", **place))
    if order == "good":
        return as_json(await call.run("good", **place, draw=query.get("draw", 1)))
    return as_json(await call.run("ranked", **place, order=order))


async def _line(call: Call) -> Response:
    return as_json(await call.run("line", tables=call.tables, number=call.path["number"]))


async def _picture(call: Call) -> Response:
    staves, width = call.query.get("staves", "auto"), call.query.get("width", 160)
    asked = {"number": call.path["number"], "staves": staves, "width": width}
    fretboard = call.query.get("fretboard", "none")
    asked["notes"] = call.query.get("notes")
    return as_json(await call.run("picture", tables=call.tables, **asked, fretboard=fretboard))


async def _number(call: Call) -> Response:
    return as_json(await call.run("number", tables=call.tables, notes=call.query["notes"]))


async def _timing(call: Call) -> Response:
    line = {"number": call.path["number"], "notes": call.query.get("notes")}
    return as_json(await call.run("timing", tables=call.tables, **line, options=sound_of(call.query)))


async def _hear(call: Call) -> Response:
    options = sound_of(call.query)
    line = {"number": call.path["number"], "notes": call.query.get("notes")}
    key = json.dumps([call.path["rules"], line, options])
    path = call.server.sounds.find(key)
    if path is None:
        data = await call.run("sound", tables=call.tables, **line, options=options)
        path = call.server.sounds.keep(key, data)
    return FileResponse(path, media_type="audio/wav", headers={"cache-control": "no-store"})


async def _take(call: Call) -> Response:
    form, number = call.path["format"], call.path["number"]
    staves = call.query.get("staves", "auto")
    options = sound_of(call.query)
    look = {"staves": staves, "fretboard": call.query.get("fretboard", "none")}
    data = await call.run("take", tables=call.tables, number=number, form=form, options=options, **look)
    name = f"line-{number}.{form}" if len(number) < 40 else f"line.{form}"
    return attachment(data, MEDIA_TYPES[form], name)


async def _check(call: Call) -> Response:
    near, width = call.body.get("nearest", 3), call.body.get("width", 160)
    notes = call.body["notes"]
    return as_json(await call.run("check", tables=call.tables, notes=notes, nearest=near, width=width))


async def _check_file(call: Call) -> Response:
    asked = {"kind": call.query["kind"], "width": call.query.get("width", 160), "nearest": 3}
    return as_json(await call.run("check_file", tables=call.tables, data=call.body, **asked))


LINE_ROUTES: tuple[Route, ...] = (
    Route(
        "GET",
        "/api/rules/{rules}/lines",
        "lines",
        "Lines in an order, from a place in it.",
        _rows,
        BY_RULES,
        {
            "from": NUMBER,
            "most": whole(1, 40, default=10),
            "order": ORDER,
            "draw": whole(1, 10**6, default=1),
        },
    ),
    Route(
        "GET",
        "/api/rules/{rules}/lines/{number}",
        "line",
        "One line: roles, explanation, rules.",
        _line,
        BY_LINE,
    ),
    Route(
        "GET",
        "/api/rules/{rules}/lines/{number}/picture",
        "picture",
        "A line engraved, as SVG text at a width in millimetres.",
        _picture,
        BY_LINE,
        {"staves": STAVES, "width": WIDTH, "fretboard": FRETBOARD, "notes": KEPT_NOTES},
    ),
    Route(
        "GET",
        "/api/rules/{rules}/number",
        "number",
        "The number of a line given as text.",
        _number,
        BY_RULES,
        {"notes": text(LONGEST_LINE, least=1)},
        needed=("notes",),
    ),
    Route(
        "GET",
        "/api/rules/{rules}/lines/{number}/timing",
        "timing",
        "When each note of a line sounds, in seconds.",
        _timing,
        BY_LINE,
        {**SOUND, "notes": KEPT_NOTES},
    ),
    Route(
        "GET",
        "/api/rules/{rules}/lines/{number}/sound.wav",
        "sound",
        "A line as sound, in pieces where asked.",
        _hear,
        BY_LINE,
        {**SOUND, "notes": KEPT_NOTES},
        answers="audio/wav",
    ),
    Route(
        "GET",
        "/api/rules/{rules}/lines/{number}/take/{format}",
        "take",
        "A line as a file.",
        _take,
        {**BY_LINE, "format": choice(*MEDIA_TYPES)},
        {**SOUND, "staves": STAVES, "fretboard": FRETBOARD},
        answers=tuple(MEDIA_TYPES.values()),
    ),
    Route(
        "POST",
        "/api/rules/{rules}/check",
        "check",
        "Whether typed notes are a line, what is wrong where, and the nearest lines.",
        _check,
        BY_RULES,
        body=table({"notes": text(LONGEST_LINE, least=1)}, {"nearest": whole(1, 10), "width": WIDTH}),
    ),
    Route(
        "POST",
        "/api/rules/{rules}/check/file",
        "check_file",
        "The same for a MusicXML or MIDI file, sent as it is.",
        _check_file,
        BY_RULES,
        {"kind": choice("musicxml", "mxl", "mid"), "width": WIDTH},
        needed=("kind",),
        raw=True,
    ),
)
