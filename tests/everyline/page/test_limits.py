"""What the server takes from whom, how long it waits, and what is left when it is killed."""

from __future__ import annotations

import asyncio
import logging
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterable
from pathlib import Path

import psutil
import pytest
import uvicorn
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from everyline.cli.main import main
from everyline.corpora.errors import InputError
from everyline.page import patience
from everyline.page.calls import json_body
from everyline.page.operations import Workspace
from everyline.page.security import Gate
from everyline.page.sounds import PREFIX, Sounds
from tests.everyline.page.served import II_V_I, apart, started
from tests.sweeps import sweep

STATIC = Path(__file__).parents[3] / "everyline" / "page" / "static"


async def nothing(scope: Scope, receive: Receive, send: Send) -> None:
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b""})


def status(host: str, server: str, client: str) -> int:
    """What a server of the name studio answers to a Host header of a client; addresses are those of the
    connection."""
    told: list[Message] = []

    async def send(message: Message) -> None:
        told.append(message)

    async def receive() -> Message:
        return {"type": "http.disconnect"}

    scope = {"type": "http", "method": "GET", "headers": [(b"host", host.encode())]}
    scope |= {"server": (server, 8462), "client": (client, 40_000)}
    apart(Gate(nothing, ("studio",), 8462)(scope, receive, send))
    code: int = told[0]["status"]
    return code


@pytest.mark.parametrize(
    ("host", "server", "client", "code"),
    [
        ("studio:8462", "192.0.2.7", "192.0.2.9", 200),
        ("192.0.2.7:8462", "192.0.2.7", "192.0.2.9", 200),  # the address where the connection arrived
        ("192.0.2.8:8462", "192.0.2.7", "192.0.2.9", 421),
        ("127.0.0.1:8462", "192.0.2.7", "192.0.2.9", 421),  # forged
        ("localhost:8462", "192.0.2.7", "192.0.2.9", 421),
        ("[::1]:8462", "2001:db8::7", "2001:db8::9", 421),
        ("[2001:db8::7]:8462", "2001:db8::7", "2001:db8::9", 200),
        ("localhost:8462", "127.0.0.1", "127.0.0.1", 200),
        ("127.0.0.1:8462", "::ffff:127.0.0.1", "::ffff:127.0.0.1", 200),
        ("192.0.2.7:8462", "::ffff:192.0.2.7", "::ffff:192.0.2.9", 200),
        ("[::1]:8462", "::1", "::1", 200),
        ("evil.example:8462", "127.0.0.1", "127.0.0.1", 421),
    ],
)
def test_names_of_this_machine_are_for_this_machine(host: str, server: str, client: str, code: int) -> None:
    assert status(host, server, client) == code


@pytest.mark.parametrize("host", ["0.0.0.0", "::1"][: sweep(small=1, full=2)])
def test_the_address_that_is_printed_opens(host: str) -> None:
    with started("--host", host, "--workers", "2") as (_, address):
        name, port = address.removeprefix("http://").rsplit(":", 1)
        assert name == (socket.gethostname() if host == "0.0.0.0" else f"[{host}]")
        # Whatever the name leads to from here, the server itself listens there.
        with socket.create_connection(("127.0.0.1" if host == "0.0.0.0" else host, int(port))) as made:
            made.sendall(f"GET / HTTP/1.1\r\nHost: {name}:{port}\r\nConnection: close\r\n\r\n".encode())
            assert made.recv(12) == b"HTTP/1.1 200"


@pytest.mark.parametrize("host", ["a\0b", "caf\udce9", "x" * 300, "a..b", "256.0.0.1", "-", "/"], ids=repr)
def test_odd_hosts_are_one_sentence(host: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["serve", "--port", "0", "--host", host]) == 2
    said = capsys.readouterr().err
    assert "cannot listen there" in said and said.count("\n") == 1


HALF = {
    "nothing at all": b"",
    "half a head": b"GET / HTTP/1.1\r\nHost: x\r\n",
    "half a body": b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 10\r\n\r\nhalf",
    "half of the next": b"GET / HTTP/1.1\r\nHost: x\r\n\r\nGET / HT",
}


async def body(scope: Scope, receive: Receive, send: Send) -> None:
    """Reads a request to its end and answers it."""
    while (await receive()).get("more_body"):
        pass
    await nothing(scope, receive, send)


async def held(requests: Iterable[bytes], app: ASGIApp) -> list[bytes]:
    """What a server sends on a connection for each of these bytes, until it closes it."""
    config = uvicorn.Config(app, http=patience.PatientProtocol, ws="none", lifespan="off", log_config=None)
    config.load()
    state = uvicorn.server.ServerState()
    loop = asyncio.get_running_loop()
    made = await loop.create_server(lambda: patience.PatientProtocol(config, state, {}), "127.0.0.1", 0)
    port = made.sockets[0].getsockname()[1]
    ends = []
    pairs = [(data, *await asyncio.open_connection("127.0.0.1", port)) for data in requests]
    for data, _, writer in pairs:
        writer.write(data)
    for _, reader, writer in pairs:
        try:
            ends.append(await asyncio.wait_for(reader.read(), 20))
        except ConnectionResetError:
            ends.append(b"")
        writer.close()
    made.close()
    return ends


def test_connections_that_are_half_open_are_closed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(patience, "SECONDS", 0.3)
    ends = apart(held(HALF.values(), body))
    assert [end[:12] for end in ends[:3]] == [b"", b"", b""]


def test_a_request_whose_rest_is_no_http_is_refused_once(caplog: pytest.LogCaptureFixture) -> None:
    request = b"POST / HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\nno length\r\n"
    with caplog.at_level(logging.ERROR, "uvicorn.error"):
        (end,) = apart(held([request], nothing))
    assert end.startswith(b"HTTP/1.1 400") and end.count(b"HTTP/1.1") == 1
    assert not caplog.records


def test_a_number_without_end_is_refused_before_it_is_read() -> None:
    for text in (b'{"most": %s}' % (b"9" * 990_000), b'["%s"]' % (b"1" * 2000), b"[1.%s]" % (b"1" * 2000)):
        with pytest.raises(InputError, match="digits is too long"):
            json_body(text)


def test_a_dropped_file_that_is_damaged_is_one_sentence_and_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    from everyline.page.check_view import check_file

    for kind, data in (("mxl", b"PK\x03\x04" + bytes(200)), ("mid", b"MThd"), ("musicxml", b"<a")):
        with pytest.raises(InputError, match=r"^the file: "):
            check_file(Workspace(), II_V_I, data, kind, 1, 160)
    assert not list(tmp_path.iterdir())


def test_folders_of_servers_that_were_killed_are_removed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    dead = subprocess.run(
        [sys.executable, "-c", "import os; print(os.getpid())"], capture_output=True, text=True
    )
    for owner in (dead.stdout.strip(), str(os.getpid()), "nobody"):
        (tmp_path / f"{PREFIX}{owner}-x").mkdir()
    sounds = Sounds()
    left = {path.name for path in tmp_path.iterdir()}
    sounds.close()
    assert f"{PREFIX}{dead}-x" not in left
    assert left >= {f"{PREFIX}{os.getpid()}-x", f"{PREFIX}nobody-x"}


SIGNALS = [signal.SIGKILL, signal.SIGTERM, signal.SIGHUP, signal.SIGINT]


@pytest.mark.skipif(os.name != "posix", reason="signals of Unix")
@pytest.mark.parametrize("number", SIGNALS[: sweep(small=2, full=4)])
def test_workers_go_with_their_server_and_say_nothing(number: signal.Signals, tmp_path: Path) -> None:
    environment = {**os.environ, "TMPDIR": str(tmp_path)}
    with open(tmp_path / "err", "w+") as err, started(stderr=err, env=environment) as (process, _):
        family = psutil.Process(process.pid).children(recursive=True)
        while len(family) < 3:  # ended in the middle of the workers' start
            time.sleep(0.02)
            family = psutil.Process(process.pid).children(recursive=True)
        process.send_signal(number)
        assert process.wait(30) == (-number if number == signal.SIGKILL else 0)
        _, alive = psutil.wait_procs(family, 30)
        assert not alive
        err.seek(0)
        assert "Traceback" not in err.read()
    left = {path.name for path in tmp_path.iterdir()} - {"err"}
    assert not left or number == signal.SIGKILL
