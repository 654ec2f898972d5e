"""A lesson as files: paper of every size, and second parts."""

from __future__ import annotations

import io
import json
from base64 import b64decode
from typing import Any

import pypdf
import pytest

from everyline.paper.sheet_options import MOST_PER_PAGE, PAPERS
from tests.everyline.page.served import II_V_I, Served, streamed


def test_a_lesson_is_printed_on_the_papers_that_the_command_line_has(served: Served) -> None:
    """The page offers the sizes by their names; large print and lines a page are those of sheets."""
    offered = served.client.get("/api/vocabulary").json()["sheet"]
    assert offered == {"papers": list(PAPERS), "most_per_page": MOST_PER_PAGE}
    items = [{"rules": II_V_I, "number": str(number)} for number in (7, 8)]
    looks: list[dict[str, Any]] = [{"paper": paper} for paper in ("A5", "Letter")] + [
        {"large": True, "per_page": 1}
    ]
    for look in looks:
        body = {"lesson": {"items": items}, "format": "pdf", "staves": "staff", "sheet": look}
        _, last = streamed(served.client.post("/api/lesson/take", json=body))
        pages = pypdf.PdfReader(io.BytesIO(b64decode(last["result"]["data"]))).pages
        wide, high = (float(side) / 72 * 25.4 for side in pages[0].mediabox[2:])
        assert (wide, high) == pytest.approx(PAPERS[look.get("paper", "A4")], abs=0.1)
        assert len(pages) == look.get("per_page", 0) + 1
    assert served.client.post("/api/lesson/take", json={**body, "sheet": {"paper": "A7"}}).status_code == 400


def test_a_lesson_has_second_parts_where_the_rules_of_each_line_allow_them(served: Served) -> None:
    guitar = {"changes": "Dm7 | G7 | Cmaj7", "key": "C", "range": {"instrument": "guitar"}}
    alto = {**guitar, "range": {"instrument": "alto-saxophone"}}

    def taken(form: str, wish: str, *items: tuple[dict[str, Any], int]) -> dict[str, Any]:
        lesson = {"items": [{"rules": rules, "number": str(number)} for rules, number in items]}
        body = {"lesson": lesson, "format": form, "sheet": {"second_part": wish}}
        return streamed(served.client.post("/api/lesson/take", json=body))[1]

    def data(form: str, wish: str, *items: tuple[dict[str, Any], int]) -> bytes:
        return b64decode(taken(form, wish, *items)["result"]["data"])

    duet, alone = (guitar, 11391329), (guitar, 7590197)
    assert b"Guitar 2" in data("musicxml", "third", duet, alone)
    assert b'id="x1w-m1-0"' in data("html", "third", duet, alone)
    reader = pypdf.PdfReader(io.BytesIO(data("pdf", "third", duet, alone)))
    said = " ".join(" ".join(page.extract_text().split()) for page in reader.pages)
    assert "a third below the first on 11 of 17 notes" in said and "no second part that stays" in said
    assert b"Concert pitch" in data("musicxml", "concert", (alto, 40))
    assert "transposing" in json.dumps(taken("musicxml", "concert", duet))
