"""Students of our own invention for the tests of practice on the page, in its server's students' file."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

from playwright.sync_api import BrowserContext

from everyline.corpora import load
from everyline.practice.kept import RuleFile
from everyline.practice.records import GivenLine, Practised
from everyline.practice.store import Store
from everyline.spaces.space import Space
from tests.everyline.page.served import II_V_I, Served

NUMBERS = (200, 900, 1700)
"""Lines of ``II_V_I`` that are given."""


def given(served: Served, name: str, tables: dict[str, Any] = II_V_I) -> tuple[GivenLine, ...]:
    """A student who was given three lines today."""
    source = RuleFile.of(tables, "made-up", load(None), None)
    space = Space(source.rules)
    lines = [source.line(space.line(number), date.today(), "Over and back") for number in NUMBERS]
    with Store(served.students, create=True) as store:
        store.begin(name)
        store.give(name, lines)
        return store.student(name).lines


def rounds(served: Served, name: str) -> tuple[Practised, ...]:
    """What is recorded of a student."""
    with Store(served.students) as store:
        return store.student(name).rounds


def settings(**more: Any) -> dict[str, Any]:
    """How a student practises who practises today, whatever day it is."""
    return {"weekdays": [date.today().weekday()], "minutes": 20, "tempo": 60, **more}


def practises(context: BrowserContext, name: str, **more: Any) -> None:
    """Have the page know how a student practises."""
    kept = json.dumps({name: settings(**more)})
    context.add_init_script(f"localStorage.setItem('practice', {json.dumps(kept)});")
