"""One request to the interface: its route, its checked parameters, and the server that answers it."""

from __future__ import annotations

import asyncio
import hashlib
import json
from collections import OrderedDict
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from math import isinf
from typing import Any

from starlette.responses import JSONResponse, Response, StreamingResponse

from everyline.corpora.errors import EverylineError, InputError
from everyline.corpora.numbers import refuse_long_numbers
from everyline.page.lanes import OPERATIONS
from everyline.page.pool import Pool
from everyline.page.practice_file import Practice
from everyline.page.schemas import Schema
from everyline.page.security import Refused
from everyline.page.sounds import Sounds

REMEMBERED_SETS = 2000
DEEPEST = 50
"""Levels of a JSON request: a lesson has six, and each function that looks into it needs some of its own."""


class Sets:
    """Rules that were sent, under short names, so that a line has an address. The oldest are forgotten."""

    def __init__(self) -> None:
        self._tables: OrderedDict[str, dict[str, Any]] = OrderedDict()

    def keep(self, tables: dict[str, Any]) -> str:
        """The name of these tables: the start of the SHA-256 of their JSON text."""
        data = json.dumps(tables, sort_keys=True).encode()
        name = hashlib.sha256(data).hexdigest()[:24]
        self._tables[name] = tables
        self._tables.move_to_end(name)
        while len(self._tables) > REMEMBERED_SETS:
            self._tables.popitem(last=False)
        return name

    def __getitem__(self, name: str) -> dict[str, Any]:
        found = self._tables.get(name)
        if found is None:
            raise Refused(404, "the server has forgotten these rules; send them again.")
        return found


@dataclass
class Server:
    """What all requests share. ``lines`` are those that are practised: their rules' tables and their text."""

    pool: Pool
    seconds: float
    sets: Sets = field(default_factory=Sets)
    lines: Sets = field(default_factory=Sets)
    sounds: Sounds = field(default_factory=Sounds)
    practice: Practice = field(default_factory=Practice)


@dataclass
class Call:
    """A request whose parameters and body are already checked against its route."""

    server: Server
    path: Mapping[str, Any]
    query: Mapping[str, Any]
    body: Any

    @property
    def tables(self) -> dict[str, Any]:
        """The rules that the address names."""
        return self.server.sets[self.path["rules"]]

    async def run(self, operation: str, /, **arguments: Any) -> Any:
        """An operation on a worker."""
        _, lane = OPERATIONS[operation]
        subject = _subject(arguments)
        return await self.server.pool.run(operation, arguments, self.server.seconds, lane, subject)

    def stream(self, operation: str, /, made: Made | None = None, **arguments: Any) -> Response:
        """The same for work that may take minutes: an answer in lines of JSON, first what the operation tells
        on the way, last ``{"result": ...}`` or ``{"error": ...}``. Whoever goes away ends the work. ``made``
        makes the result of what the operation answers."""
        lines = _lines(self.server.pool, operation, arguments, made)
        return StreamingResponse(lines, media_type=LINES, headers={"cache-control": "no-store"})


Made = Callable[[Any], Awaitable[Any]]

LINES = "application/x-ndjson"
"""JSON texts, one to a line."""
HEARTBEAT = 1.0
"""Seconds after which an empty line is sent, by which it is noticed that nobody reads any more."""


def _subject(arguments: dict[str, Any]) -> str:
    tables = arguments.get("tables")
    return json.dumps(tables, sort_keys=True) if tables is not None else ""


async def _lines(
    pool: Pool, operation: str, arguments: dict[str, Any], made: Made | None
) -> AsyncIterator[str]:
    loop = asyncio.get_running_loop()
    told: asyncio.Queue[Any] = asyncio.Queue()

    def tell(word: Any) -> None:
        loop.call_soon_threadsafe(told.put_nowait, word)

    _, lane = OPERATIONS[operation]
    work = asyncio.ensure_future(pool.run(operation, arguments, None, lane, _subject(arguments), tell))
    work.add_done_callback(lambda _: told.put_nowait(_DONE))
    try:
        while True:
            try:
                word = await asyncio.wait_for(told.get(), HEARTBEAT)
            except TimeoutError:
                yield "\n"
                continue
            if word is _DONE:
                break
            yield json.dumps(word) + "\n"
        last = _last(work)
        if made is not None and "result" in last:
            last = {"result": await made(last["result"])}
        yield json.dumps(last) + "\n"
    finally:
        work.cancel()


_DONE = object()


def _last(work: asyncio.Future[Any]) -> dict[str, Any]:
    try:
        return {"result": work.result()}
    except EverylineError as error:
        return {"error": str(error)}


Handler = Callable[[Call], Awaitable[Response]]


@dataclass(frozen=True)
class Route:
    """One row of the table of routes, from which routing, checking and OpenAPI are made.

    ``answers`` is the media type of a good answer (or several), ``raw`` marks a body that is a file.
    """

    method: str
    path: str
    name: str
    words: str
    handler: Handler
    in_path: Mapping[str, Schema] = field(default_factory=dict)
    query: Mapping[str, Schema] = field(default_factory=dict)
    needed: tuple[str, ...] = ()
    body: Schema | None = None
    raw: bool = False
    answers: str | tuple[str, ...] = "application/json"
    reply: Schema = field(default_factory=lambda: {"type": "object"})


def as_json(value: Any) -> Response:
    """An answer that no cache keeps."""
    return JSONResponse(value, headers={"cache-control": "no-store"})


def attachment(data: bytes, media: str, name: str) -> Response:
    """A file to keep. ``name`` is ASCII of our own making."""
    headers = {"content-disposition": f'attachment; filename="{name}"', "cache-control": "no-store"}
    return Response(data, media_type=media, headers=headers)


def json_body(data: bytes) -> Any:
    """A JSON body. Raises InputError for what is none; NaN and infinities are none.

    JSON knows numbers, not kinds of them: 1.0 is the whole number 1 (JSON Schema 2020-12, validation, 6.1.1).
    """

    def refuse(word: str) -> Any:
        raise ValueError(word)

    def number(digits: str) -> int | float:
        found = float(digits)
        if isinf(found):
            refuse(digits)
        return int(found) if found.is_integer() and abs(found) < 2**53 else found

    try:
        words = data.decode("utf-8")
        refuse_long_numbers(words)
        found = json.loads(words, parse_constant=refuse, parse_float=number)
        # An escape can write half a character, which no text can hold.
        json.dumps(found, ensure_ascii=False).encode("utf-8")
    except (UnicodeDecodeError, ValueError):
        raise InputError("the request is not JSON in UTF-8.") from None
    except RecursionError:
        raise InputError(_TOO_DEEP) from None
    _check_depth(found)
    return found


_TOO_DEEP = f"the request is nested too deeply to be read; at most {DEEPEST} levels are."


def _check_depth(found: Any) -> None:
    """Raises InputError where something else would run out of levels on the way."""
    level: list[Any] = [[found]]
    depth = 0
    while level:
        depth += 1
        if depth > DEEPEST:
            raise InputError(_TOO_DEEP)
        inner = [each.values() if isinstance(each, dict) else each for each in level]
        level = [each for some in inner for each in some if isinstance(each, dict | list)]
