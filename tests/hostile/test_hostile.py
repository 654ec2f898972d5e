"""The contract for hostile input, on a sample; ``python -m tests.hostile N`` goes as far as one likes."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import httpx2
import pytest

from everyline.cli.main import COMMANDS
from tests.everyline.page.served import Served, serving
from tests.hostile.commands import BEGINNINGS, Case, case
from tests.hostile.contract import answer, broken
from tests.hostile.files import NAMES, sound
from tests.hostile.requests import asked
from tests.hostile.wire import complaint, exchanged, written
from tests.sweeps import sweep

COMMAND_LINES, REQUESTS, WIRES = sweep(8, 40), sweep(60, 400), sweep(20, 400)
"""How many: batches of 25 command lines, requests, requests that are oddly written."""
PATIENCE = 0.2
"""Seconds for which whoever sent half a request waits."""
TABLES = {"changes": "Dm7 | G7", "entry": {"start": ["D4"]}, "ending": {"use": ["plain"]}}
ANSWERS = (200, 206, 400, 404, 405, 413, 415, 416, 503)


def test_every_command_begins_somewhere() -> None:
    assert BEGINNINGS.keys() == COMMANDS.keys()


@pytest.mark.parametrize("command", [name for name in COMMANDS if name != "serve"])
def test_nothing_is_wrong_with_what_command_lines_begin_with(command: str, tmp_path: Path) -> None:
    """Else every case would be refused for one reason."""
    files = {name: sound(name, random.Random(1)) for name in NAMES}
    for place, words in enumerate(BEGINNINGS[command]):
        (tmp_path / str(place)).mkdir()
        code, _, said = answer(Case((command, *words), files), tmp_path / str(place))
        assert code in (0, 1), (words, said)


@pytest.mark.slow
@pytest.mark.parametrize("batch", range(COMMAND_LINES))
def test_command_lines(batch: int, tmp_path: Path) -> None:
    found = []
    for number in range(25 * batch, 25 * batch + 25):
        folder = tmp_path / str(number) / "in"
        folder.mkdir(parents=True)
        made = case(random.Random(number))
        problem = broken(made, folder)
        if problem:
            found.append(f"seed {number}: {made.words!r}: {problem}")
    assert not found, "\n".join(found)


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A server whose terminal is looked at in the end: what goes wrong in the middle of an answer is told
    there."""
    path = tmp_path_factory.mktemp("server") / "terminal"
    with (
        path.open("w") as terminal,
        serving("--time-limit", "10", "--workers", "2", stderr=terminal) as made,
    ):
        while made.client.get("/api/vocabulary").status_code != 200:  # the workers are still starting
            pass
        yield made
    assert "Traceback" not in path.read_text()


@pytest.mark.slow
def test_requests(server: Served) -> None:
    rules = server.rules(TABLES)["id"]
    for number in range(REQUESTS):
        made = asked(random.Random(number), rules, TABLES)
        if isinstance(made.body, bytes) or made.body is None:
            sent = {"content": made.body} if made.body is not None else {}
            headers = {"content-type": made.kind} if made.body is not None else {}
        else:
            try:
                sent = {"content": httpx2.Request("POST", "http://x", json=made.body).content}
            except (UnicodeEncodeError, ValueError):  # no JSON that a client could send
                continue
            headers = {"content-type": made.kind}
        answer = server.client.request(made.method, made.path, headers=headers, **sent)
        assert answer.status_code in ANSWERS, (number, made, answer.text[:500])
        if answer.status_code >= 400 and made.method != "HEAD":
            said = answer.json()["error"]
            assert said and "\n" not in said, (number, made)


@pytest.mark.slow
def test_requests_that_are_oddly_written(server: Served) -> None:
    rules = server.rules(TABLES)["id"]
    for number in range(WIRES):
        chance = random.Random(number)
        data = written(asked(chance, rules, TABLES), urlsplit(server.address).netloc, chance)
        answer = exchanged(server.address, data, PATIENCE, chance)
        assert not complaint(answer), (number, data[:500])
    assert server.client.get("/api/ready").text == "ready"
