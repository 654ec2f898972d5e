"""What tests in a browser have in common: addresses, visits, the count on the screen, files taken away."""

from __future__ import annotations

import json
from pathlib import Path

from playwright.sync_api import Page

from everyline.corpora import load
from everyline.rules.rulefile import parse_rules
from everyline.spaces.space import Space
from tests.everyline.page.served import II_V_I, Served

CHANGES = "[data-key='first changes']"
"""Where the changes are typed."""

NO_LINE = {**II_V_I, "limit": [{"kind": "largest-leap", "semitones": 2}]}


def address(served: Served, view: str, tables: object = None, **more: str) -> str:
    """The address of a page with rules, as the page itself writes it."""
    from urllib.parse import urlencode

    query = {"order": "number", **more} if view == "lines" else dict(more)
    for key, value in (tables or II_V_I).items():  # type: ignore[attr-defined]
        if isinstance(value, dict):
            query |= {
                f"{key}.{inner}": each if isinstance(each, str) else json.dumps(each)
                for inner, each in value.items()
            }
        else:
            query[key] = value if isinstance(value, str) else json.dumps(value)
    return f"{served.address}/#{view}?{urlencode(query)}"


def visit(page: Page, where: str) -> None:
    """Go to an address and wait until the page has counted."""
    page.goto(where)
    page.wait_for_selector("html[data-ready=yes]", timeout=60_000)


def unfold(page: Page) -> None:
    """Open the list of rules."""
    page.get_by_role("button", name="Rules", exact=True).click()


def space(tables: object = None) -> Space:
    return Space(parse_rules(tables or II_V_I, load()))  # type: ignore[arg-type]


def count(page: Page) -> int:
    """The count on the screen."""
    return int("".join(c for c in page.locator("#count").inner_text() if c.isdigit()))


def take(page: Page, name: str, exact: bool = True) -> tuple[str, bytes]:
    """Press a button and answer the file that comes."""
    with page.expect_download(timeout=60_000) as coming:
        page.get_by_role("button", name=name, exact=exact).click()
    return coming.value.suggested_filename, Path(coming.value.path()).read_bytes()


def counted(count: int) -> str:
    """A count as the page writes it."""
    return f"{count:,} line{'s' * (count != 1)}".replace(",", "\u202f")
