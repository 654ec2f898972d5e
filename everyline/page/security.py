"""What every request passes before anything reads it, and what every answer carries.

A page on another site must not be able to talk to this one: a name that is rebound to this machine fails
the check of the Host header, a form or script of another origin that of the Origin header, and what cannot
be sent without asking first (JSON, octet streams) is the only thing that is taken.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from ipaddress import ip_address

from starlette.types import ASGIApp, Message, Receive, Scope, Send

JSON_LIMIT = 1_000_000
"""Bytes of a JSON request: the longest lesson file as JSON text has fewer."""
UPLOAD_LIMIT = 5_000_000
"""Bytes of a MusicXML or MIDI file."""
UPLOAD_TYPE = "application/octet-stream"

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "media-src 'self'",
        "connect-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
    )
)
"""The Content-Security-Policy: everything from this server, nothing inline, nothing from anywhere else."""

HEADERS = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(self), geolocation=(), usb=(), payment=()"),
)


class Refused(Exception):
    """A request that is not answered: an HTTP status and one sentence."""

    def __init__(self, status: int, sentence: str) -> None:
        super().__init__(sentence)
        self.status = status
        self.sentence = sentence


LOOPBACK = ("127.0.0.1", "localhost", "::1")
"""The names that this machine has for itself."""


def is_loopback(address: str) -> bool:
    """Whether an address is one that only this machine can have."""
    try:
        return ip_address(unmapped(address.partition("%")[0])).is_loopback
    except ValueError:
        return False


def unmapped(address: str) -> str:
    """An address as it is written: a socket that listens for both kinds has IPv4 ones in the clothes of
    IPv6."""
    return address.removeprefix("::ffff:") if "." in address else address


def hosts_of(names: Iterable[str], port: int) -> frozenset[str]:
    """Host headers that name this server: each name with its port, and alone where the port is the usual
    one."""
    found = set()
    for name in names:
        name = f"[{name}]" if ":" in name and not name.startswith("[") else name
        found.add(f"{name}:{port}".lower())
        if port == 80:
            found.add(name.lower())
    return frozenset(found)


class Gate:
    """Wraps an application: refuses foreign hosts and origins, bounds bodies, adds the headers.

    ``names`` are those that anybody may use, beside the address at which the connection arrived; the names of
    LOOPBACK are taken only from this machine, since whoever is elsewhere can only have forged them.
    """

    def __init__(self, app: ASGIApp, names: Iterable[str], port: int) -> None:
        self.app = app
        self._port = port
        self._hosts = hosts_of(names, port)
        self._local = hosts_of(LOOPBACK, port)

    def _is_ours(self, host: str, scope: Scope) -> bool:
        here, there = scope.get("server"), scope.get("client")
        names = (
            self._hosts | self._local | (hosts_of((unmapped(here[0]),), self._port) if here else frozenset())
        )
        return host in names and (host not in self._local or there is None or is_loopback(there[0]))

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        started = False

        async def guarded(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                there = {name.lower() for name, _ in message["headers"]}
                added = [pair for pair in HEADERS if pair[0] not in there]
                message["headers"] = [*message["headers"], *added]
            await send(message)

        try:
            limit = self._check(scope)
            await self.app(scope, _bounded(receive, limit), guarded)
        except Refused as refused:
            if started:
                raise
            await _refuse(guarded, refused)

    def _check(self, scope: Scope) -> int:
        """How many bytes the body may have. Raises Refused."""
        headers: dict[str, list[str]] = {}
        for name, value in scope["headers"]:
            headers.setdefault(name.decode("latin-1"), []).append(value.decode("latin-1"))
        host = headers.get("host", [])
        if len(host) != 1 or not self._is_ours(host[0].lower(), scope):
            raise Refused(421, "unknown host name; use the address printed at start.")
        origin = headers.get("origin")
        if origin is not None and (len(origin) != 1 or origin[0].lower() != f"http://{host[0].lower()}"):
            raise Refused(403, "a page of another origin may not use this server.")
        site = headers.get("sec-fetch-site", ["none"])
        reading = scope["method"] in ("GET", "HEAD")
        opening = reading and headers.get("sec-fetch-mode") == ["navigate"]
        if any(each not in ("same-origin", "none") for each in site) and not opening:
            raise Refused(403, "a page of another site may not use this server.")
        if reading:
            return 0
        kind = headers.get("content-type", [""])[0].partition(";")[0].strip().lower()
        limit = {"application/json": JSON_LIMIT, UPLOAD_TYPE: UPLOAD_LIMIT}.get(kind, 0)
        length = headers.get("content-length", ["0"])[0]
        if not length.isdecimal() or int(length) > max(limit, JSON_LIMIT):
            raise Refused(413, _too_large(limit or JSON_LIMIT))
        return limit


def _bounded(receive: Receive, limit: int) -> Receive:
    """Receives the body up to the limit, whatever its header said. Raises Refused beyond it."""
    seen = 0

    async def bounded() -> Message:
        nonlocal seen
        message = await receive()
        if message["type"] == "http.request":
            seen += len(message.get("body", b""))
            if seen > limit:
                raise Refused(413 if limit else 415, _too_large(limit) if limit else _WRONG_TYPE)
        return message

    return bounded


_WRONG_TYPE = f"this server reads application/json and, for files, {UPLOAD_TYPE}."


def _too_large(limit: int) -> str:
    return f"the request is too large; at most {limit // 1000:,} kilobytes are read here."


async def _refuse(send: Send, refused: Refused) -> None:
    body = json.dumps({"error": refused.sentence}).encode()
    headers = [
        (b"content-type", b"application/json"),
        (b"content-length", str(len(body)).encode()),
        (b"connection", b"close"),
    ]
    await send({"type": "http.response.start", "status": refused.status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
