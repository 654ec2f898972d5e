"""A server for all tests of the page, and a real browser."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

from tests.everyline.page.served import Served, serving

# How long a machine that does other work too may take; what is there sooner is found sooner.
LONGEST = 60_000
expect.set_options(timeout=LONGEST)


@pytest.fixture(scope="session")
def served() -> Iterator[Served]:
    """The page, served for all tests of a session, with more time than is usual: the machine may be busy."""
    with serving("--time-limit", "45") as made:
        yield made


@pytest.fixture(scope="session")
def browser(chromium_path: str, chromium_args: list[str]) -> Iterator[Browser]:
    """Chromium without a window."""
    with sync_playwright() as playwright:
        made = playwright.chromium.launch(executable_path=chromium_path, args=chromium_args)
        yield made
        made.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A fresh page; what its console complains of fails the test."""
    context = browser.new_context(viewport={"width": 1280, "height": 900}, accept_downloads=True)
    context.set_default_timeout(LONGEST)
    made = context.new_page()
    complaints: list[str] = []
    made.on("pageerror", lambda error: complaints.append(str(error)))
    made.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    yield made
    context.close()
    # A refused request (400) is an answer that the page shows; anything else is a fault of the page.
    assert [each for each in complaints if "status of 400" not in each] == []


@pytest.fixture
def downloads(tmp_path: Path) -> Path:
    """A folder for what is taken away."""
    folder = tmp_path / "downloads"
    folder.mkdir()
    return folder
