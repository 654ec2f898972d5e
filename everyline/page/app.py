"""The application: routes, static files, errors, behind the gate that every request passes.

Who asked may go away before the answer is there, as a page does whose rules have changed: then the work for
it is stopped.
"""

from __future__ import annotations

import asyncio
import contextlib
import gzip
import hashlib
from collections.abc import AsyncIterator, Callable, Iterable
from dataclasses import dataclass, field
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route as StarletteRoute
from starlette.types import ASGIApp, Receive, Scope, Send

from everyline.corpora.errors import EverylineError, InputError
from everyline.page.calls import Call, Route, Server, json_body
from everyline.page.pool import Broken, Pool, Worker
from everyline.page.practice_file import Practice
from everyline.page.routes import ROUTES
from everyline.page.schemas import check, read_query
from everyline.page.script import joined
from everyline.page.security import UPLOAD_TYPE, Gate, Refused

MEDIA = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}


@dataclass(frozen=True)
class Settings:
    """How the page runs.

    ``names`` are the host names it goes by, beside those that this machine has for itself; ``memory`` bounds
    a worker, in megabytes; ``seconds`` is the longest that one request may take; ``practice`` has the
    students' file; ``begun`` is a worker that was started already (see ``everyline.page.pool.begin``).
    """

    port: int
    names: tuple[str, ...] = ()
    seconds: float = 20.0
    workers: int = 3
    memory: int | None = 4096
    corpora_folder: Path | None = None
    practice: Practice = field(default_factory=Practice)
    begun: Worker | None = None


class App(Gate):
    """The application behind its gate."""

    def __init__(self, app: ASGIApp, settings: Settings, shared: dict[str, Server]) -> None:
        super().__init__(app, settings.names, settings.port)
        self._shared = shared

    async def end(self) -> None:
        """End all work. What was asked for and is not answered yet is told so."""
        if "server" in self._shared:
            await self._shared["server"].pool.close()

    def kill(self) -> None:
        """The same at once, where nothing can be awaited any more."""
        if "server" in self._shared:
            self._shared["server"].pool.kill()


def make_app(settings: Settings) -> App:
    """The application, not started yet."""
    shared: dict[str, Server] = {}

    @contextlib.asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        pool = Pool(settings.workers, settings.corpora_folder, settings.memory, settings.begun)
        pool.start()
        shared["server"] = Server(pool, settings.seconds, practice=settings.practice)
        try:
            yield
        finally:
            await pool.close()
            shared["server"].sounds.close()

    app = Starlette(
        routes=[*_static(), *(_route(route, shared) for route in ROUTES)],
        lifespan=lifespan,
        middleware=[Middleware(Packed, minimum_size=1000, compresslevel=4)],
        exception_handlers={
            Refused: _refused,
            InputError: _wrong,
            EverylineError: _stopped,
            HTTPException: _http,
            ClientDisconnect: _nobody,
        },
    )
    app.router.redirect_slashes = False  # an address is as the table has it, or there is nothing at it
    return App(app, settings, shared)


def _static() -> Iterable[StarletteRoute]:
    """The page, its script, its style and its icon: what is not in this table cannot be asked for."""
    folder = resources.files("everyline.page") / "static"
    texts = {entry.name: entry.read_text("utf-8") for entry in folder.iterdir() if _suffix(entry) in MEDIA}
    files = {
        "": texts["index.html"],
        "page.js": joined(texts, "main.js"),
        "page.css": "".join(text for name, text in sorted(texts.items()) if name.endswith(".css")),
        "icon.svg": texts["icon.svg"],
    }
    for name, text in files.items():
        media = MEDIA[Path(name).suffix or ".html"]
        yield StarletteRoute(f"/{name}", _serve(text.encode(), media), methods=["GET"])


def _suffix(entry: Traversable) -> str:
    return Path(entry.name).suffix


def _serve(data: bytes, media: str) -> Callable[[Request], Any]:
    packed = gzip.compress(data, mtime=0)
    tag = f'"{hashlib.sha256(data).hexdigest()[:16]}"'
    headers = {"cache-control": "no-cache", "etag": tag, "vary": "accept-encoding"}

    async def serve(request: Request) -> Response:
        if request.headers.get("if-none-match") == tag:
            return Response(status_code=304, headers=headers)
        if "gzip" in request.headers.get("accept-encoding", ""):
            return Response(packed, media_type=media, headers={**headers, "content-encoding": "gzip"})
        return Response(data, media_type=media, headers=headers)

    return serve


class Packed(GZipMiddleware):
    """Answers are packed, but for sound, which is asked for in pieces, and answers that come line by line."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        path = scope.get("path", "")
        if path.startswith("/api/") and not path.endswith(NOT_PACKED):
            await super().__call__(scope, receive, send)
        else:
            await self.app(scope, receive, send)


NOT_PACKED = ("/sound.wav", "/take/wav", "/take/pdf", "/drill", "/drill/sheet", "/lesson/take")
"""Ends of addresses of the interface whose answers go out as they are."""


def _route(route: Route, shared: dict[str, Server]) -> StarletteRoute:
    async def answer(request: Request) -> Response:
        call = Call(shared["server"], *await _read(route, request))
        return await _unless_gone(request, asyncio.ensure_future(route.handler(call)))

    return StarletteRoute(route.path, answer, methods=[route.method], name=route.name)


async def _unless_gone(request: Request, work: asyncio.Future[Response]) -> Response:
    """The answer, unless whoever asked goes away first: then the work is stopped."""
    gone = asyncio.ensure_future(_gone(request))
    try:
        both: set[asyncio.Future[Any]] = {work, gone}
        await asyncio.wait(both, return_when=asyncio.FIRST_COMPLETED)
        if work.done():
            return work.result()
        gone.result()  # raises Refused for a body where none is read
        return await _nobody(request)
    finally:
        for task in (work, gone):
            task.cancel()


async def _gone(request: Request) -> None:
    """Waits until the connection is closed from the other side."""
    while (await request.receive())["type"] != "http.disconnect":
        pass


async def _read(route: Route, request: Request) -> tuple[dict[str, Any], dict[str, Any], Any]:
    """The checked parameters and body of a request. Raises InputError or Refused."""
    path: dict[str, Any] = dict(request.path_params)
    for name, schema in route.in_path.items():
        check(path[name], schema, name)
    query: dict[str, Any] = {}
    for name, value in request.query_params.multi_items():
        if name not in route.query:
            raise InputError(
                f"there is no parameter {name[:60]!r} here; there are: {', '.join(route.query) or 'none'}."
            )
        if name in query:
            raise InputError(f"the parameter {name} is given twice.")
        query[name] = read_query(value, route.query[name], name)
    for name in route.needed:
        if name not in query:
            raise InputError(f"the parameter {name} is missing.")
    if route.method == "GET":
        return path, query, None
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    wanted = UPLOAD_TYPE if route.raw else "application/json"
    if kind != wanted:
        raise Refused(415, f"this address reads {wanted}.")
    data = await request.body()
    if route.raw:
        return path, query, data
    body = json_body(data)
    check(body, route.body or {}, "the request")
    return path, query, body


def _say(status: int, sentence: str) -> Response:
    sentence = " ".join(sentence.encode("utf-8", "replace").decode().split())
    return JSONResponse({"error": sentence}, status, {"cache-control": "no-store"})


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, Refused)
    return _say(error.status, error.sentence)


async def _wrong(request: Request, error: Exception) -> Response:
    return _say(400, str(error))


async def _stopped(request: Request, error: Exception) -> Response:
    return _say(500 if isinstance(error, Broken) else 503, str(error))


async def _nobody(request: Request, error: Exception | None = None) -> Response:
    """For whoever has gone away, in the middle of a request or before its answer."""
    return Response(status_code=503)


async def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    said = {404: "there is nothing at this address.", 405: "this address does not take that method."}
    answer = _say(error.status_code, said.get(error.status_code, "the request cannot be read."))
    for name, value in (error.headers or {}).items():
        answer.headers[name] = value
    return answer
