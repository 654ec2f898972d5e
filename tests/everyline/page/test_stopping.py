"""Work that nobody waits for stops, and the server ends in silence whatever it is doing."""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
import threading
import time
from collections.abc import Callable, Coroutine
from typing import Any

import httpx2
import pytest
from playwright.sync_api import Page, expect

from everyline.page.lanes import COUNT, LONG
from everyline.page.operations import Abandoned, Workspace
from everyline.page.pool import Pool, ShuttingDown, TookTooLong
from tests.everyline.page.served import II_V_I, Served, apart, asked, started
from tests.everyline.page.test_security import HEAVY
from tests.everyline.page.visiting import CHANGES, unfold
from tests.sweeps import sweep

LONGEST = 120
"""Seconds that no test waits for, long enough for a machine that does other work too."""
MANY = [{**HEAVY, **dict.fromkeys(("range", "approach", "ending")), "title": str(n)} for n in range(8)]
"""Changes of II_V_I, each of which takes longer than any request may."""


def with_pool(act: Callable[[Pool], Coroutine[Any, Any, None]]) -> None:
    """Do something with two real workers."""

    async def run() -> None:
        pool = Pool(2)
        pool.start()
        try:
            while len(pool._idle) < 2:  # the one for counts comes a little later
                await asyncio.sleep(0.05)
            for lane in (LONG, COUNT):
                await pool.run("summary", {"tables": II_V_I}, LONGEST, lane)
            await act(pool)
        finally:
            await pool.close()

    apart(run())


def processes(pool: Pool) -> set[int | None]:
    return {worker.process.pid for worker in pool._all}


def test_a_cancelled_count_stops_and_its_worker_goes_on() -> None:
    """The second request of the long lane needs the very worker that was busy: it was told, not replaced."""

    async def act(pool: Pool) -> None:
        before = processes(pool)
        for operation, arguments in (
            ("choices", {"tables": II_V_I, "changes": MANY, "seconds": LONGEST}),
            ("facets", {"tables": HEAVY}),
            ("conflicts", {"tables": HEAVY, "seconds": LONGEST}),
        ):
            work = asyncio.ensure_future(pool.run(operation, arguments, LONGEST, LONG))
            await asyncio.sleep(0.3)
            work.cancel()
            with pytest.raises(asyncio.CancelledError):
                await work
            found = await pool.run(
                "choices", {"tables": II_V_I, "changes": [{}], "seconds": 9}, LONGEST, LONG
            )
            assert int(found[0]["count"]) > 0
        assert processes(pool) == before

    with_pool(act)


def test_what_takes_too_long_is_stopped_without_a_new_process() -> None:
    async def act(pool: Pool) -> None:
        before = processes(pool)
        with pytest.raises(TookTooLong, match=r"more than 0\.2 seconds"):
            await pool.run("summary", {"tables": HEAVY}, 0.2, COUNT)
        assert int((await pool.run("summary", {"tables": II_V_I}, LONGEST, COUNT))["count"]) > 0
        assert processes(pool) == before

    with_pool(act)


def test_a_worker_that_does_not_stop_is_replaced(monkeypatch: pytest.MonkeyPatch) -> None:
    """As one that is in the middle of what cannot be broken off; here it is held by a signal."""
    monkeypatch.setattr("everyline.page.pool.GRACE", 0.2)

    async def act(pool: Pool) -> None:
        held = next(worker for worker in pool._all if not worker.counts)
        assert held.process.pid is not None
        os.kill(held.process.pid, signal.SIGSTOP)
        with pytest.raises(TookTooLong):
            await pool.run("facets", {"tables": II_V_I}, 0.2, LONG)
        found = await pool.run("facets", {"tables": II_V_I}, LONGEST, LONG)
        assert found and held not in pool._all

    with_pool(act)


def test_whoever_waits_while_the_pool_closes_is_told() -> None:
    async def act(pool: Pool) -> None:
        asked = [
            asyncio.ensure_future(pool.run("facets", {"tables": HEAVY}, LONGEST, LONG)) for _ in range(3)
        ]
        await asyncio.sleep(0.2)
        await pool.close()
        for each in await asyncio.gather(*asked, return_exceptions=True):
            assert isinstance(each, ShuttingDown)

    with_pool(act)


def test_counting_is_broken_off_only_where_nothing_is_left_half_done() -> None:
    workspace = Workspace()
    workspace.abandon()
    workspace.interrupt(None)  # outside of counting: nothing happens
    with pytest.raises(Abandoned), workspace.counting():
        pytest.fail("an abandoned answer is not begun")
    workspace.wanted()
    with pytest.raises(Abandoned), workspace.counting():
        workspace.interrupt(None)  # still wanted: nothing happens
        workspace.abandon()
        workspace.interrupt(None)
    workspace.wanted()
    workspace.rest()
    assert workspace.space(II_V_I).count > 0


def test_a_client_that_goes_away_frees_the_worker(served: Served) -> None:
    """More clients than the long lane has places, and all go away: the next one finds a place at once."""
    rules = served.rules(II_V_I)
    for _ in range(6):
        body = {"changes": [{**each, "title": "gone"} for each in MANY[:1]]}
        with asked(served, f"/api/rules/{rules['id']}/choices", body):
            time.sleep(0.1)
    # Six requests of more than half of the time limit each would take longer than this one may.
    answer = served.client.post(f"/api/rules/{rules['id']}/choices", json={"changes": [{}]}, timeout=LONGEST)
    assert answer.status_code == 200
    assert answer.json()["choices"][0]["count"] == rules["count"]


@pytest.mark.browser
def test_changed_rules_stop_what_was_asked_for_the_old_ones(page: Page, served: Served) -> None:
    """Every request for the old rules' choices that was under way is aborted by the page."""
    failed: list[str] = []
    page.on("requestfailed", lambda request: failed.append(request.url))
    page.route("**/choices", lambda route: None)  # never answered: only the page itself can end it
    page.goto(f"{served.address}/")
    page.wait_for_selector("html[data-ready=yes]")
    unfold(page)
    with page.expect_request("**/choices"):
        page.click("#part-handoff summary")
    page.fill(CHANGES, "Gm7 | C7 | Fmaj7")
    with page.expect_event("requestfailed"):
        page.press(CHANGES, "Enter")
    expect(page.locator("#over")).to_contain_text("Gm7")
    assert any(url.endswith("/choices") for url in failed)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM][: sweep(small=1, full=2)])
def test_the_server_ends_in_silence_while_it_works(number: signal.Signals) -> None:
    """SIGINT goes to the whole group of processes, as Ctrl-C in a terminal sends it."""
    with started(stderr=subprocess.PIPE, start_new_session=True) as (process, address):
        client = httpx2.Client(base_url=address, timeout=LONGEST)
        rules = client.post("/api/rules", json={"tables": II_V_I}).json()["id"]
        answers: list[httpx2.Response] = []

        def ask(path: str, body: dict[str, Any]) -> None:
            answers.append(httpx2.post(f"{address}{path}", json=body, timeout=LONGEST))

        asked = [("/api/rules", {"tables": HEAVY}), *[(f"/api/rules/{rules}/choices", {"changes": MANY})] * 3]
        threads = [threading.Thread(target=ask, args=each) for each in asked]
        for thread in threads:
            thread.start()
        time.sleep(1)
        if number == signal.SIGINT:
            os.killpg(process.pid, number)
        else:
            process.send_signal(number)
        said, complained = process.communicate(timeout=LONGEST)
        for thread in threads:
            thread.join()
        client.close()
    assert process.returncode == 0
    assert "Traceback" not in said and complained == ""
    assert [each.status_code for each in answers] == [503] * 4
    assert all("shutting down" in each.json()["error"] for each in answers)


def test_workers_end_with_their_server() -> None:
    """Even where the server was killed and could tell them nothing."""
    with started(start_new_session=True) as (process, address):
        with httpx2.Client(base_url=address, timeout=LONGEST) as client:
            assert client.post("/api/rules", json={"tables": II_V_I}).status_code == 200
            with pytest.raises(httpx2.TimeoutException):
                client.post("/api/rules", json={"tables": HEAVY}, timeout=0.5)
        process.kill()
        process.wait(LONGEST)
        until = time.monotonic() + LONGEST
        while members(process.pid):
            assert time.monotonic() < until
            time.sleep(0.1)


def members(group: int) -> list[str]:
    """The living processes of a group."""
    listed = subprocess.run(["ps", "-eo", "pgid=,stat="], capture_output=True, text=True, check=True).stdout
    rows = (row.split() for row in listed.splitlines())
    return [stat for number, stat in rows if int(number) == group and not stat.startswith("Z")]
