"""A real server on a free port, for the tests of the page."""

from __future__ import annotations

import asyncio
import json
import re
import socket
import subprocess
import sys
from collections.abc import Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, TypeVar
from urllib.parse import urlsplit

import httpx2


def streamed(answer: httpx2.Response) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """The exercises in an answer in lines of JSON, and its last line."""
    assert answer.status_code == 200, answer.text
    *told, last = [json.loads(line) for line in answer.text.splitlines() if line]
    return [each["exercise"] for each in told if "exercise" in each], last


T = TypeVar("T")

II_V_I = {
    "changes": "Dm7 | G7 | Cmaj7",
    "range": {"lowest": "E3", "highest": "E5"},
    "approach": {"figures": ["enclosure-2", "enclosure-3"], "count": ["0-1"]},
    "ending": {"use": ["plain"]},
}
"""A small space that is quick to ask about."""


@dataclass(frozen=True)
class Served:
    """A running server: its address, a client for it, and its students' file."""

    address: str
    client: httpx2.Client
    students: Path

    def rules(self, tables: dict[str, Any]) -> dict[str, Any]:
        """Send rules; the server's answer."""
        answer = self.client.post("/api/rules", json={"tables": tables})
        assert answer.status_code == 200, answer.text
        found: dict[str, Any] = answer.json()
        return found


@contextmanager
def started(*options: str, **more: Any) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """A server's process and its address, ended with the block. Its students are of its own, unless the
    options name a file: never those of whoever runs the tests."""
    with TemporaryDirectory(prefix="everyline-students-") as folder:
        students = [] if "--students" in options else ["--students", str(Path(folder) / "students.db")]
        command = [sys.executable, "-m", "everyline.cli.main", "serve", "--port", "0", *students, *options]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, **more) as process:
            try:
                assert process.stdout is not None
                found = re.search(r"http://\S+", process.stdout.readline())
                assert found is not None
                yield process, found[0].rstrip("/")
            finally:
                process.terminate()
                process.wait(20)


@contextmanager
def serving(*options: str, **more: Any) -> Iterator[Served]:
    """A server of its own, ended with the block; ``more`` goes to its process."""
    with TemporaryDirectory(prefix="everyline-students-") as folder:
        students = Path(folder) / "students.db"
        with (
            started("--students", str(students), *options, **more) as (_, address),
            httpx2.Client(base_url=address, timeout=60) as client,
        ):
            assert client.get("/api/ready").text == "ready"
            yield Served(address, client, students)


def asked(served: Served, path: str, body: object) -> socket.socket:
    """A request that nobody reads the answer of, as an open connection: whoever closes it goes away."""
    at = urlsplit(served.address)
    assert at.hostname and at.port
    request = httpx2.Request("POST", f"{served.address}{path}", json=body)
    head = "".join(f"{name}: {value}\r\n" for name, value in request.headers.items())
    client = socket.create_connection((at.hostname, at.port))
    client.sendall(f"POST {request.url.path} HTTP/1.1\r\n{head}\r\n".encode() + request.content)
    return client


def apart(coroutine: Coroutine[Any, Any, T]) -> T:
    """The result of a coroutine, run in a thread of its own: where a browser is open too, this one has a loop
    already."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, coroutine).result()
