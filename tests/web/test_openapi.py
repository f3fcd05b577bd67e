"""Random requests made from the API's own description, on every path: no fault, every refusal in the one
shape, and every answer of a status, a kind and a form that the description announces.
"""

import warnings
from datetime import timedelta
from typing import Any

import httpx
import pytest
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from limbwright.web.app import ROUTERS

with warnings.catch_warnings():
    # The package uses names that others have deprecated; nothing of ours depends on them.
    warnings.simplefilter("ignore")
    import schemathesis
    from schemathesis.checks import not_a_server_error
    from schemathesis.specs.openapi.checks import (
        content_type_conformance,
        response_schema_conformance,
        status_code_conformance,
    )

SHAPE = {"code", "found", "where", "unit", "next", "problems", "differs"}
EXAMPLES = 15
AS_DESCRIBED = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
PATHS = sorted(
    {
        route.path
        for module in ROUTERS
        for route in module.router.routes
        if getattr(route, "include_in_schema", False)
    }
)


@pytest.fixture(scope="module")
def described(shared_app: Any) -> Any:
    return schemathesis.openapi.from_dict(shared_app.openapi())


@pytest.mark.parametrize("path", PATHS)
def test_random_requests_are_answered_as_described(
    described: Any, shared_client: httpx.Client, path: str
) -> None:
    operations = [operation.ok() for operation in described.get_all_operations()]
    strategies = [operation.as_strategy() for operation in operations if operation.path == path]
    assert strategies

    @seed(20260302)
    @settings(
        max_examples=EXAMPLES,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(st.one_of(strategies))
    def walk(case: Any) -> None:
        asked = case.as_transport_kwargs(base_url="http://127.0.0.1:8765")
        asked["headers"] = {**(asked.get("headers") or {}), **shared_client.headers}
        if (asked["method"], path) == ("DELETE", "/api/session"):
            return  # the session is the other paths' too; logging out has a test of its own
        try:
            answer = shared_client.request(
                asked["method"],
                asked["url"],
                headers=asked["headers"],
                params=asked.get("params"),
                json=asked.get("json"),
            )
        except (httpx.InvalidURL, UnicodeEncodeError):
            return
        assert answer.status_code < 500, answer.text
        if answer.status_code >= 400:
            assert set(answer.json()) >= SHAPE, answer.text
        answer.elapsed = timedelta(0)  # the transport without a network measures none
        case.validate_response(answer, checks=AS_DESCRIBED)

    walk()
