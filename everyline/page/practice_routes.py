"""Addresses for practice: who the students are, today's rounds, one exercise, its sound, how it went, and
what a MIDI instrument played."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

from starlette.responses import FileResponse, Response

from everyline.corpora.errors import InputError
from everyline.page.calls import LINES, Call, Route, as_json
from everyline.page.params import FRETBOARD, KEPT_NOTES, NUMBER, RULES_ID, SOUND, STAVES, WIDTH, sound_of
from everyline.page.practice_file import before, day_of, has_been, standing, wishes_of
from everyline.page.schemas import FREE, LESSON_WORDS, MOST_LINES, Schema, choice, many, table, text, whole
from everyline.practice.copies import mark
from everyline.practice.folder import LONGEST_NAME
from everyline.practice.kept import key_name
from everyline.practice.records import FASTEST, SLOWEST, GivenLine, Grade, Kind, Practised, Student
from everyline.practice.store import Store
from everyline.practice.week import MOST_MINUTES

STUDENT: Schema = text(LONGEST_NAME, least=1, example="Ada")
LINE: Schema = text(16, pattern="^[0-9a-f]{16}$", example="0123456789abcdef")
KEY: Schema = text(4, least=1, example="Bb")
KIND: Schema = choice(*(kind.value for kind in Kind))
DAY: Schema = text(10, pattern="^[0-9]{4}-[0-9]{2}-[0-9]{2}$", example="2026-11-26")
TEMPO: Schema = whole(SLOWEST, FASTEST)
SETTINGS: Schema = table(
    {},
    {
        "weekdays": many(whole(0, 6), 6, 1),
        "minutes": whole(1, MOST_MINUTES),
        "round_minutes": whole(1, 30),
        "stretch": whole(1, 60),
        "rest": whole(1, 60),
        "keys": whole(1, 12),
        "new_a_week": whole(0, 7),
        "tempo": TEMPO,
        "step": whole(1, 60),
        "goal": TEMPO,
    },
)
"""How a student practises: what a plan keeps to, as ``everyline plan`` has it. Weekday 0 is Monday."""
ROUND: Schema = table(
    {
        "id": text(32, pattern="^[0-9a-f]{16,32}$", example="0123456789abcdef"),
        "line": LINE,
        "key": KEY,
        "kind": KIND,
        "grade": choice(*(grade.value for grade in Grade)),
    },
    {"tempo": TEMPO},
)
GIVEN: Schema = table(
    {"rules": FREE, "number": NUMBER}, {"title": LESSON_WORDS["title"], "notes": KEPT_NOTES}
)
"""A line that is given: a rule file's tables, its number under them, and the notes it was kept with."""
MOST_NOTES = 2000
PLAYED: Schema = table(
    {
        "pitch": whole(0, 127),
        "onset": {"type": "number", "minimum": 0, "maximum": 3600},
        "length": {"type": "number", "minimum": 0, "maximum": 3600},
    },
    {"velocity": whole(1, 127)},
)
"""A note as an instrument sent it; onset and length in seconds."""
_WHO: dict[str, Schema] = {"student": STUDENT}
_WHEN: dict[str, Schema] = {"day": DAY, "settings": SETTINGS}


async def _students(call: Call) -> Response:
    practice = call.server.practice
    if practice.off:
        return as_json({"students": [], "file": "", "remark": practice.off})
    if not practice.file.exists():
        return as_json({"students": [], "file": str(practice.file), "remark": ""})
    found = await practice.run(lambda store: (store.students(), store.remark))
    students = [
        {
            "name": each.name,
            "instrument": each.instrument,
            "lines": each.lines,
            "rounds": each.rounds,
            "last": None if each.last is None else each.last.isoformat(),
        }
        for each in found[0]
    ]
    return as_json({"students": students, "file": str(practice.file), "remark": found[1]})


async def _begin(call: Call) -> Response:
    name = call.body["name"]
    is_new = await call.server.practice.run(
        lambda store: name.strip() not in {each.name for each in store.students()} and store.begin(name),
        create=True,
    )
    return as_json({"new": is_new})


async def _give(call: Call) -> Response:
    lines = await call.run("practice_lines", items=call.body["items"], on=day_of(None))
    giving = await call.server.practice.run(
        lambda store: store.give(store.student(call.body["student"]).name, lines)
    )
    assert giving is not None  # nothing was asked about what was there before
    return as_json({"given": len(giving.given), "already": len(giving.already)})


def _folder(call: Call, store: Store) -> Student:
    return store.student(call.body["student"])


async def _plan(call: Call) -> Response:
    practice, body = call.server.practice, call.body
    day = day_of(body.get("day"))
    wishes = wishes_of(body.get("settings", {}), day)
    student = await practice.run(lambda store: _folder(call, store))
    if body.get("again"):
        practice.forget(student.name, wishes)
    kept = practice.plan(student.name, wishes)

    async def told(plan: dict[str, Any]) -> dict[str, Any]:
        # The day may have gone on while the plan was made.
        now = await practice.run(lambda store: _folder(call, store))
        return {**practice.keep(student.name, wishes, plan), **standing(now, day, wishes)}

    if kept is not None:
        return Response(json.dumps({"result": await told(kept)}) + "\n", media_type=LINES)
    return call.stream("practice_plan", made=told, student=before(student, day), wishes=wishes)


async def _standing(call: Call) -> Response:
    day = day_of(call.body.get("day"))
    wishes = wishes_of(call.body.get("settings", {}), day)
    student = await call.server.practice.run(lambda store: _folder(call, store))
    return as_json(standing(student, day, wishes))


def _line_of(student: Student, id: str) -> GivenLine:
    found = next((each for each in student.lines if each.id == id), None)
    if found is None:
        raise InputError(f"{student.name} was given no line {id}.")
    return found


async def _exercise(call: Call) -> Response:
    body = call.body
    student = await call.server.practice.run(lambda store: _folder(call, store))
    key, kind = key_name(body["key"]), body["kind"]
    day = day_of(body.get("day"))
    # The same exercise all day, another one on another day.
    seed = int(mark(f"{day} {body['line']} {kind} {key}"), 16) % 2**31
    look = {"staves": body.get("staves", "auto"), "width": body.get("width", 160)}
    found = await call.run(
        "practice_exercise",
        kept=_line_of(student, body["line"]),
        key=key,
        kind=kind,
        seed=seed,
        fretboard=body.get("fretboard", "none"),
        **look,
    )
    heard_by = call.server.lines.keep({"tables": found.pop("tables"), "text": found["text"]})
    return as_json({"id": heard_by, **found})


async def _record(call: Call) -> Response:
    body, practice = call.body, call.server.practice
    day = day_of(body.get("day"))
    wishes = wishes_of(body.get("settings", {}), day)
    practised = _practised(body["round"], day)

    def record(store: Store) -> tuple[bool, Student]:
        student = _folder(call, store)
        known = has_been(student, practised) and not body.get("again")
        if not known:
            store.record(student.name, practised)
        return known, store.student(student.name)

    # One at a time, so that two windows that end the same round do not both record it.
    async with practice.lock:
        known, student = await practice.run(record)
    return as_json({"recorded": not known, **standing(student, day, wishes)})


def _practised(row: dict[str, Any], day: date) -> Practised:
    return Practised(
        id=row["id"],
        line=row["line"],
        on=day,
        key=key_name(row["key"]),
        kind=Kind(row["kind"]),
        tempo=row.get("tempo"),
        grade=Grade(row["grade"]),
    )


async def _take_back(call: Call) -> Response:
    body = call.body
    day = day_of(body.get("day"))
    wishes = wishes_of(body.get("settings", {}), day)

    def take_back(store: Store) -> Student:
        student = _folder(call, store)
        store.take_back_round(student.name, body["round"])
        return store.student(student.name)

    student = await call.server.practice.run(take_back)
    return as_json(standing(student, day, wishes))


# -- one line ------------------------------------------------------------------------------------------------


async def _timing(call: Call) -> Response:
    kept = call.server.lines[call.path["line"]]
    return as_json(await call.run("practice_timing", **kept, options=sound_of(call.query)))


async def _sound(call: Call) -> Response:
    kept, options = call.server.lines[call.path["line"]], sound_of(call.query)
    key = json.dumps(["practice", call.path["line"], options])
    path = call.server.sounds.find(key)
    if path is None:
        data = await call.run("practice_sound", **kept, options=options)
        path = call.server.sounds.keep(key, data)
    return FileResponse(path, media_type="audio/wav", headers={"cache-control": "no-store"})


async def _heard(call: Call) -> Response:
    kept, body = call.server.lines[call.path["line"]], call.body
    asked = {"notes": body["notes"], "tempo": body["tempo"], "width": body.get("width", 160)}
    return as_json(await call.run("practice_heard", **kept, **asked))


async def _listened(call: Call) -> Response:
    kept, query = call.server.lines[call.path["line"]], call.query
    asked = {"tempo": query["tempo"], "since": query.get("since", 0), "width": query.get("width", 160)}
    return as_json(await call.run("practice_listened", **kept, data=call.body, **asked))


BY_ID: dict[str, Schema] = {"line": RULES_ID}

PRACTICE_ROUTES: tuple[Route, ...] = (
    Route("GET", "/api/students", "students", "The students, and the file that they are in.", _students),
    Route(
        "POST",
        "/api/students",
        "begin_student",
        "Begin a student's folder; one that is there stays as it is.",
        _begin,
        body=table({"name": STUDENT}),
    ),
    Route(
        "POST",
        "/api/practice/lines",
        "give_lines",
        "Give lines to a student; one that is in the folder already stays as it is.",
        _give,
        body=table({**_WHO, "items": many(GIVEN, MOST_LINES, 1)}),
    ),
    Route(
        "POST",
        "/api/practice/plan",
        "practice_plan",
        "Today's rounds, planned once a day, and the day so far, in lines of JSON: first how far it is.",
        _plan,
        body=table(_WHO, {**_WHEN, "again": {"type": "boolean"}}),
        answers=LINES,
    ),
    Route(
        "POST",
        "/api/practice/standing",
        "practice_standing",
        "The day so far: its rounds, and each line with the tempo of its next round.",
        _standing,
        body=table(_WHO, _WHEN),
    ),
    Route(
        "POST",
        "/api/practice/exercise",
        "practice_exercise",
        "A line of a student as an exercise in a key, with a name by which it is heard.",
        _exercise,
        body=table(
            {**_WHO, "line": LINE, "key": KEY, "kind": KIND},
            {"day": DAY, "staves": STAVES, "width": WIDTH, "fretboard": FRETBOARD},
        ),
    ),
    Route(
        "POST",
        "/api/practice/rounds",
        "record_round",
        "Record how a round went. What was recorded today already is not recorded twice, except again.",
        _record,
        body=table({**_WHO, "round": ROUND}, {**_WHEN, "again": {"type": "boolean"}}),
    ),
    Route(
        "POST",
        "/api/practice/rounds/take-back",
        "take_back_round",
        "Take a round back.",
        _take_back,
        body=table({**_WHO, "round": ROUND["properties"]["id"]}, _WHEN),
    ),
    Route(
        "GET",
        "/api/practice/lines/{line}/timing",
        "practice_timing",
        "When each note of an exercise's line sounds, in seconds.",
        _timing,
        BY_ID,
        SOUND,
    ),
    Route(
        "GET",
        "/api/practice/lines/{line}/sound.wav",
        "practice_sound",
        "The same line as sound.",
        _sound,
        BY_ID,
        SOUND,
        answers="audio/wav",
    ),
    Route(
        "POST",
        "/api/practice/lines/{line}/heard",
        "practice_heard",
        "What a MIDI instrument played, held against the line.",
        _heard,
        BY_ID,
        body=table({"tempo": TEMPO, "notes": many(PLAYED, MOST_NOTES, 1)}, {"width": WIDTH}),
    ),
    Route(
        "POST",
        "/api/practice/lines/{line}/heard/recording",
        "practice_listened",
        "The same for a recording as WAV, sent as it is, which counts from a second on.",
        _listened,
        BY_ID,
        {"tempo": TEMPO, "since": {"type": "number", "minimum": 0, "maximum": 3600}, "width": WIDTH},
        needed=("tempo",),
        raw=True,
    ),
)
