"""Requests as bytes with something wrong in how they are written: lines, headers, lengths, ends."""

from __future__ import annotations

import json
import socket
from contextlib import suppress
from urllib.parse import urlsplit

from tests.hostile.requests import Asked
from tests.hostile.values import TEXTS, Chance

METHODS = (
    "GET",
    "HEAD",
    "POST",
    "PUT",
    "PATCH",
    "DELETE",
    "OPTIONS",
    "TRACE",
    "CONNECT",
    "PRI",
    "get",
    "",
    "X" * 300,
)
KINDS = (
    *(
        "",
        "application/json",
        "application/json; charset=utf-16",
        "APPLICATION/JSON",
        "application/octet-stream",
    ),
    *(
        "text/plain",
        "multipart/form-data; boundary=x",
        "application/x-www-form-urlencoded",
        "x" * 5000,
        "\xff",
        ",",
    ),
)
PATHS = (
    *("*", "/", "//", "/%", "/%zz", "/%00", "/%ff%fe", "/..%2f..", "/api", "/api/", "/api/vocabulary/"),
    *("/page.js?%ff", "http://x/", "/api/ready#x", "/ api", "/\xe9", "/" + "a" * 70_000, "/" + "../" * 3000),
    "/api/students?" + "&" * 9000,
)
HEADERS = (
    *("Range: bytes=0-", "Range: bytes=-1", "Range: bytes=9-3,1-2", "Range: lines=1"),
    *("Range: bytes=" + "0-1," * 5000, "Accept-Encoding: gzip;q=x", "Accept-Encoding: \xff"),
    *("If-None-Match: *", "If-Range: x", "Cookie: " + "a=b;" * 9000, "Expect: 100-continue"),
    *("Upgrade: websocket\r\nConnection: Upgrade", "Upgrade: h2c", "Transfer-Encoding: chunked"),
    *("Transfer-Encoding: gzip", "Content-Length: 5", "Content-Length: -1", "Content-Length: 1e3"),
    *("Content-Length: \xb2", "Content-Length: " + "9" * 5000, "Host: evil.example", "Host:"),
    *("Origin: null", "Sec-Fetch-Site: cross-site", "X: a\r\n folded", "X : y", ": y", "no colon"),
    *("X: \0", "X: " + "y" * 90_000, "\r\n".join(["X: y"] * 3000)),
)


def nested(chance: Chance) -> bytes:
    """JSON that is deep, wide or odd, and that sound JSON is around."""
    depth = chance.choice((3, 60, 900, 5000, 90_000))
    inner = chance.choice(
        (
            "[" * depth + "]" * depth,
            '{"a":' * depth + "1" + "}" * depth,
            json.dumps([0] * depth),
            '"' + "x" * depth + '"',
        )
    )
    changes = '{"tables": {"changes": "Dm7 | G7", "limit": %s}}'
    around = chance.choice((changes, '{"tables": %s}', '{"tables": {"scales": %s}}', "%s"))
    made = (around % inner).encode()
    act = chance.random()
    if act < 0.1:
        return b"\xef\xbb\xbf" + made
    if act < 0.2:
        return made.decode().encode("utf-16")
    return made.replace(b"{", b'{"tables": 1, ', 1) if act < 0.3 else made


def written(made: Asked, host: str, chance: Chance) -> bytes:
    """A request as it goes over the wire, sound but for a few things."""
    method, path, body, kind = made.method, made.path, b"", made.kind
    if made.body is not None:
        body = made.body if isinstance(made.body, bytes) else json.dumps(made.body).encode()
    if chance.random() < 0.2:
        method, path, body, kind = "POST", "/api/rules", nested(chance), "application/json"
    elif chance.random() < 0.3:
        method = chance.choice(METHODS)
    if chance.random() < 0.2:
        path = chance.choice(PATHS)
    elif chance.random() < 0.1:
        path += chance.choice("?&") + str(chance.choice(TEXTS)).replace("\n", "")
    if chance.random() < 0.2:
        kind = chance.choice(KINDS)
    lines = [f"{method} {path} HTTP/{chance.choice(('1.1',) * 9 + ('1.0', '2.0', '9'))}", f"Host: {host}"]
    lines += [f"Content-Type: {kind}", f"Content-Length: {len(body)}"] if body else []
    for _ in range(chance.choice((0, 0, 1, 1, 2))):
        lines.insert(chance.randrange(1, len(lines) + 1), chance.choice(HEADERS))
    head = "\r\n".join([*lines, "Connection: close"]).encode("latin-1", "replace")
    end = chance.choice((b"\r\n\r\n",) * 9 + (b"\n\n", b"\r\n", b""))
    data = head + end + body
    act = chance.random()
    if act < 0.1:
        return data[: chance.randrange(len(data) + 1)]
    return data + data if act < 0.15 else data


def exchanged(address: str, data: bytes, patience: float, chance: Chance) -> bytes:
    """What a server answers to bytes. Whoever sent them goes away at once sometimes, else when nothing has
    come for so many seconds: a request need not be whole."""
    at = urlsplit(address)
    assert at.hostname and at.port
    found: list[bytes] = []
    with socket.create_connection((at.hostname, at.port), patience) as client, suppress(OSError):
        client.sendall(data)
        if chance.random() < 0.9:
            while piece := client.recv(65536):
                found.append(piece)
    return b"".join(found)


def complaint(answer: bytes) -> str:
    """What is wrong with an answer, or nothing: no answer at all is right where the request is none."""
    if not answer:
        return ""
    head, _, body = answer.partition(b"\r\n\r\n")
    words = head.split(b" ", 2)
    if not head.startswith(b"HTTP/1.1 ") or not words[1].isdigit():
        return f"no answer of HTTP: {answer[:200]!r}"
    if words[1][:1] == b"5" and words[1] != b"503":
        return f"{answer[:400]!r}"
    if words[1][:1] == b"4" and b"application/json" in head and b'"error"' not in body and body:
        return f"no sentence: {answer[:400]!r}"
    return ""
