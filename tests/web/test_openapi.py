"""Random requests made from the API's own description: no fault, and every refusal in the one shape."""

import warnings
from typing import Any

import httpx
import pytest
from fastapi import FastAPI
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

with warnings.catch_warnings():
    # The package uses names that others have deprecated; nothing of ours depends on them.
    warnings.simplefilter("ignore")
    import schemathesis

SHAPE = {"code", "found", "where", "unit", "next", "problems", "differs"}
PATHS = (
    "/api/cases",
    "/api/cases/search",
    "/api/cases/{case_id}",
    "/api/cases/{case_id}/accept",
    "/api/cases/{case_id}/compare",
    "/api/cases/{case_id}/course",
    "/api/cases/{case_id}/course/diary",
    "/api/cases/{case_id}/course/prescription",
    "/api/cases/{case_id}/course/visits",
    "/api/cases/{case_id}/course/visits/{seen_on}",
    "/api/cases/{case_id}/course/what-if",
    "/api/cases/{case_id}/diary.pdf",
    "/api/cases/{case_id}/operation",
    "/api/cases/{case_id}/outcome",
    "/api/cases/{case_id}/patient-sheet.pdf",
    "/api/cases/{case_id}/restore",
    "/api/catalogue",
    "/api/profile",
    "/api/profile/reset",
    "/api/results",
    "/api/results/{name}.csv",
    "/api/work/candidates",
    "/api/work/days",
    "/api/work/drag",
    "/api/work/draw",
    "/api/work/measure",
    "/api/work/plan",
    "/films/{sha256}/tiles/{level}/{x}_{y}.jpg",
)


@pytest.fixture(scope="module")
def described(shared_app: FastAPI) -> Any:
    return schemathesis.openapi.from_dict(shared_app.openapi())


@pytest.mark.parametrize("path", PATHS)
def test_random_requests_are_answered_as_described(
    described: Any, shared_client: httpx.Client, path: str
) -> None:
    strategies = [
        operation.ok().as_strategy()
        for operation in described.get_all_operations()
        if operation.ok().path == path
    ]
    assert strategies

    @seed(20260302)
    @settings(max_examples=12, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(st.one_of(strategies))
    def walk(case: Any) -> None:
        asked = case.as_transport_kwargs(base_url="http://127.0.0.1:8765")
        asked["headers"] = {**(asked.get("headers") or {}), **shared_client.headers}
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

    walk()
