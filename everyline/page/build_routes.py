"""Addresses that are about a line being built: what may come next, what it would be, why a note may not come.

The counts have an address of their own, for a player waits for them after every note; what each note would
be, and the picture of what stands so far, follow.
"""

from __future__ import annotations

from starlette.responses import Response

from everyline.page.calls import Call, Route, as_json
from everyline.page.params import BY_RULES, WIDTH
from everyline.page.schemas import Schema, choice, many, table, whole
from everyline.spaces.building import FINISHES

EVENT: Schema = many(whole(-(10**6), 10**7), 3, 3)
"""A note: onset and length in ticks, 480 a beat, with the MIDI pitch between them."""
BEGINNING: Schema = many(EVENT, 2000)
"""The first notes of a line."""


async def _next(call: Call) -> Response:
    return as_json(await call.run("onward", tables=call.tables, notes=call.body["notes"]))


async def _each(call: Call) -> Response:
    return as_json(await call.run("onward_each", tables=call.tables, notes=call.body["notes"]))


async def _words(call: Call) -> Response:
    return as_json(await call.run("onward_words", tables=call.tables, notes=call.body["notes"]))


async def _begun(call: Call) -> Response:
    width = call.body.get("width", 160)
    return as_json(await call.run("begun", tables=call.tables, notes=call.body["notes"], width=width))


async def _why_not(call: Call) -> Response:
    notes, event = call.body["notes"], call.body["event"]
    return as_json(await call.run("refusal", tables=call.tables, notes=notes, event=event))


async def _finish(call: Call) -> Response:
    how, seed = call.body.get("how", "strange"), call.body.get("seed", 1)
    notes = call.body["notes"]
    return as_json(await call.run("finished", tables=call.tables, notes=notes, how=how, seed=seed))


BUILD_ROUTES: tuple[Route, ...] = (
    Route(
        "POST",
        "/api/rules/{rules}/next",
        "next",
        "What may follow the first notes of a line, each note with how many lines go on from it.",
        _next,
        BY_RULES,
        body=table({"notes": BEGINNING}),
    ),
    Route(
        "POST",
        "/api/rules/{rules}/next/each",
        "next_each",
        "What may follow after each of these notes, so that it is known before one is chosen.",
        _each,
        BY_RULES,
        body=table({"notes": BEGINNING}),
    ),
    Route(
        "POST",
        "/api/rules/{rules}/next/words",
        "next_words",
        "What each of these notes would be, and which figures begin on it.",
        _words,
        BY_RULES,
        body=table({"notes": BEGINNING}),
    ),
    Route(
        "POST",
        "/api/rules/{rules}/next/why-not",
        "why_not",
        "Why a note may not come next, in one sentence.",
        _why_not,
        BY_RULES,
        body=table({"notes": BEGINNING, "event": EVENT}),
    ),
    Route(
        "POST",
        "/api/rules/{rules}/begun",
        "begun",
        "The first notes of a line engraved, as SVG text at a width in millimetres.",
        _begun,
        BY_RULES,
        body=table({"notes": BEGINNING}, {"width": WIDTH}),
    ),
    Route(
        "POST",
        "/api/rules/{rules}/finish",
        "finish",
        "A line that begins with these notes.",
        _finish,
        BY_RULES,
        body=table({"notes": BEGINNING}, {"how": choice(*FINISHES), "seed": whole(0, 2**31 - 1)}),
    ),
)
