"""The interface, one row a route: what may be asked of the server, and what answers."""

from __future__ import annotations

from starlette.responses import JSONResponse, PlainTextResponse, Response

from everyline.page.build_routes import BUILD_ROUTES
from everyline.page.calls import Call, Route
from everyline.page.line_routes import LINE_ROUTES
from everyline.page.plan_routes import PLAN_ROUTES
from everyline.page.practice_routes import PRACTICE_ROUTES
from everyline.page.rules_routes import RULES_ROUTES
from everyline.page.set_routes import SET_ROUTES


async def _openapi(call: Call) -> Response:
    from everyline.page.openapi import document

    return JSONResponse(document(ROUTES))


async def _alive(call: Call) -> Response:
    return PlainTextResponse("ready")


ROUTES: tuple[Route, ...] = (
    Route("GET", "/api/openapi.json", "openapi", "This description.", _openapi),
    Route("GET", "/api/ready", "ready", "Whether the server is up.", _alive, answers="text/plain"),
    *RULES_ROUTES,
    *LINE_ROUTES,
    *BUILD_ROUTES,
    *PLAN_ROUTES,
    *PRACTICE_ROUTES,
    *SET_ROUTES,
)
