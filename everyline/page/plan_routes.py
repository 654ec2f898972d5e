"""The address that is about a chorus plan. Its choruses are asked for like lines, under the plan's name."""

from __future__ import annotations

import json

from starlette.responses import Response

from everyline.corpora.errors import InputError
from everyline.page.calls import Call, Route, as_json
from everyline.page.rules_routes import LONGEST_RULES
from everyline.page.schemas import FREE, table


async def _plan(call: Call) -> Response:
    tables = call.body["tables"]
    if len(json.dumps(tables)) > LONGEST_RULES:
        raise InputError(f"the plan is longer than {LONGEST_RULES} characters, which no plan needs.")
    found = await call.run("plan", tables=tables)
    return as_json({"id": call.server.sets.keep(tables), **found})


PLAN_ROUTES: tuple[Route, ...] = (
    Route(
        "POST",
        "/api/plan",
        "plan",
        "A chorus plan: its form bar by bar, its phrases with their counts, and a name for its choruses.",
        _plan,
        body=table({"tables": FREE}),
    ),
)
