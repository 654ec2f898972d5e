"""The command ``serve``: the page on this machine."""

from __future__ import annotations

import argparse
import logging
import os
import signal
import socket
from ipaddress import ip_address
from pathlib import Path
from typing import TYPE_CHECKING

from everyline.cli.messages import say
from everyline.corpora.errors import EverylineError, InputError, reason

if TYPE_CHECKING:
    import uvicorn

    from everyline.page.app import App
    from everyline.page.practice_file import Practice

PORT = 8462


def options(name: str, parser: argparse.ArgumentParser) -> None:
    """The options of ``serve``."""
    parser.add_argument("--port", type=int, default=PORT, help=f"the port (default: {PORT}; 0: any free one)")
    parser.add_argument(
        "--host",
        default="127.0.0.1",
        help="the address to listen on (default: this machine alone)",
    )
    parser.add_argument(
        "--name", action="append", default=[], help="a further name under which the page may be opened"
    )
    parser.add_argument("--workers", type=int, help="processes that count and engrave")
    parser.add_argument(
        "--time-limit", type=float, default=20.0, metavar="SECONDS", help="the longest that one request takes"
    )
    parser.add_argument(
        "--memory-limit", type=int, default=4096, metavar="MB", help="the most memory that one process takes"
    )
    parser.add_argument(
        "--corpora", metavar="FOLDER", type=Path, help="a folder of your own figures, endings and so on"
    )
    parser.add_argument(
        "--students",
        metavar="PATH",
        type=Path,
        help="the students' file for practice (default: as for everyline student; where other machines can "
        "reach the page, none unless it is named)",
    )
    parser.add_argument("--open", action="store_true", help="open the page in the browser of this machine")


def run(name: str, arguments: argparse.Namespace) -> int:
    """Serve until interrupted."""
    try:
        import uvicorn
    except ImportError:
        raise EverylineError(
            'the page needs packages that are not installed: pip install "everyline[page,paper,sound]".'
        ) from None
    from everyline.corpora import load
    from everyline.page.pool import begin

    _check(arguments)
    load(arguments.corpora)  # a folder that cannot be read is said now, not at the first request
    listening = _listen(arguments.host, arguments.port)
    begun = begin(False, arguments.corpora, arguments.memory_limit)
    # Loaded while the worker loads what it needs.
    from everyline.page.app import Settings, make_app
    from everyline.page.patience import PatientProtocol
    from everyline.page.security import is_loopback

    bound, port = listening.getsockname()[:2]
    names = tuple(dict.fromkeys((*_named(arguments.host, bound), *arguments.name)))
    settings = Settings(
        port,
        names,
        arguments.time_limit,
        arguments.workers or max(3, min(8, os.cpu_count() or 2)),
        arguments.memory_limit,
        arguments.corpora,
        _practice(arguments.students, is_loopback(bound)),
        begun,
    )
    address = f"http://{_shown(bound if is_loopback(bound) else names[0])}:{port}/"
    app = make_app(settings)
    config = uvicorn.Config(
        app,
        http=PatientProtocol,
        ws="none",
        log_level="warning",
        access_log=False,
        server_header=False,
        date_header=False,
        h11_max_incomplete_event_size=64_000,
        limit_concurrency=400,
        timeout_keep_alive=30,
        timeout_graceful_shutdown=2,
    )
    _announce(address, is_loopback(bound))
    if arguments.open:
        import webbrowser

        webbrowser.open(address)
    try:
        server = _server(config, app)
        if hasattr(signal, "SIGHUP"):  # the window was closed: the same as Ctrl-C
            signal.signal(signal.SIGHUP, server.handle_exit)
        server.run(sockets=[listening])
    except KeyboardInterrupt:
        # Ctrl-C is how one ends it, so nothing is said of that.
        pass
    finally:
        app.kill()
    return 0


def _server(config: uvicorn.Config, app: App) -> uvicorn.Server:
    """A server that ends its work before it ends itself, so that no request is cut off in the middle."""
    import uvicorn

    class Server(uvicorn.Server):
        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            # A connection that is cut off while its answer is being sent is nobody's fault.
            logging.getLogger("uvicorn.error").setLevel(logging.CRITICAL + 1)
            await app.end()
            await super().shutdown(sockets)

    return Server(config)


def _practice(students: Path | None, for_this_machine_alone: bool) -> Practice:
    """The students' file. Who the students are is not shown to other machines unasked."""
    from everyline.page.practice_file import Practice

    if students is None and not for_this_machine_alone:
        return Practice(
            off="other machines can reach this page, so it opens no students' file unless it is "
            "started with --students PATH."
        )
    return Practice(students)


def _check(arguments: argparse.Namespace) -> None:
    if not arguments.host:  # to the system that is every address of this machine
        raise InputError('--host "": name an address to listen on, or leave it out for this machine alone.')
    if not 0 <= arguments.port <= 65535:
        raise InputError(f"--port {arguments.port}: a port is from 0 to 65535.")
    if arguments.time_limit <= 0:
        raise InputError(f"--time-limit {arguments.time_limit:g}: the limit must be above 0 seconds.")
    if arguments.memory_limit < 512:
        raise InputError(f"--memory-limit {arguments.memory_limit}: at least 512 MB are needed.")
    if arguments.workers is not None and not 2 <= arguments.workers <= 64:
        raise InputError(f"--workers {arguments.workers}: from 2 to 64 processes.")


def _named(host: str, bound: str) -> tuple[str, ...]:
    """The names under which the page is opened from elsewhere; where it listens on every interface, that of
    this machine."""
    return (socket.gethostname(),) if ip_address(bound.partition("%")[0]).is_unspecified else (host, bound)


def _shown(name: str) -> str:
    return f"[{name}]" if ":" in name else name


def _listen(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # With the protocol named, asyncio sends small answers at once instead of waiting 40 ms for more.
    made = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.bind((host, port))
        made.listen(128)
    except (OSError, TypeError, ValueError) as error:  # the last two for what can be no name
        made.close()
        said = reason(error) if isinstance(error, OSError) else "it can be no name of a machine"
        raise InputError(
            f"--host {host} --port {port}: cannot listen there ({said}); "
            "try another port, or --port 0 for any that is free."
        ) from None
    return made


def _announce(address: str, for_this_machine_alone: bool) -> None:
    print(f"The page is at {address}", flush=True)
    print("Ctrl-C ends it. Keep the sound low, and rest hands and ears often.", flush=True)
    if not for_this_machine_alone:
        say(
            "other machines on this network can reach the page. It opens only under the address above and "
            "names given with --host or --name."
        )
