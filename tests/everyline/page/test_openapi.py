"""The interface under schemathesis: requests made from its own description, right and wrong ones."""

from __future__ import annotations

import pytest
import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from everyline.page.openapi import document
from everyline.page.routes import ROUTES
from tests.everyline.page.served import Served
from tests.sweeps import sweep

FEW, MOST = 6, 101
"""Exercises of a drill set that are made here, and more than the description allows."""

SMALL = {
    "changes": "Dm7 | G7 | Cmaj7",
    "range": {"lowest": "A3", "highest": "G4"},
    "approach": {"figures": ["above-below"], "count": ["0-1"]},
    "ending": {"use": ["plain"]},
}
"""A space whose sets of pairs are found at once; a larger one makes no other answer, only a later one."""

schema = schemathesis.openapi.from_dict(document(ROUTES))


@pytest.mark.filterwarnings("ignore")
@schema.parametrize()
@settings(max_examples=sweep(small=2, full=25), deadline=None, suppress_health_check=list(HealthCheck))
def test_no_request_brings_it_down(case: schemathesis.Case, served: Served) -> None:
    if "rules" in case.path_parameters and case.meta and not case.meta.generation.mode.is_negative:
        # A name of rules that the server knows, so that more than "not found" is tried.
        case.path_parameters["rules"] = served.rules(SMALL)["id"]
    if isinstance(case.body, dict) and case.body.get("how_many") in range(FEW, MOST):
        # Larger sets are no other code, only more of it.
        case.body["how_many"] = FEW
    if isinstance(case.query, dict) and case.query.get("repeats") in range(2, 17):
        # So with longer sounds.
        case.query["repeats"] = 1
    answer = case.call(base_url=served.address, timeout=60)
    case.validate_response(
        answer,
        checks=(
            not_a_server_error_but_a_limit,
            status_code_conformance,
            content_type_conformance,
            response_schema_conformance,
            what_is_wrong_is_refused,
        ),
    )
    assert b"Traceback" not in answer.content


def what_is_wrong_is_refused(context, response, case):  # type: ignore[no-untyped-def]
    """A request whose body breaks the description gets one of the stated refusals."""
    parts = {kind.value: part for kind, part in case.meta.components.items()} if case.meta else {}
    if "body" in parts and parts["body"].mode.is_negative:
        assert response.status_code in (400, 403, 404, 405, 413, 415, 421, 503), response.status_code
    return True


def not_a_server_error_but_a_limit(context, response, case):  # type: ignore[no-untyped-def]
    """503 is the stated answer to what takes too long; anything else from 500 on is a fault."""
    return True if response.status_code == 503 else not_a_server_error(context, response, case)
