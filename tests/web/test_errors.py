"""Every route answers bad input in the one shape, and a fault says nothing about anybody."""

import json
import logging
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from limbwright.store.store import Store

SHAPE = {"code", "found", "where", "unit", "next", "problems", "differs"}
BAD_BODIES: tuple[bytes, ...] = (
    b"",
    b"{",
    b"null",
    b"[]",
    b'"text"',
    b"{}",
    b'{"session": "../../x", "base": "zz", "case": 5, "change": {"kind": "nothing"}}',
    b'{"base_version": -1, "case": {}, "changes": {"overlap_mm": NaN}, "toml": 5, "record": []}',
    b"\xff\xfe" * 50,
    json.dumps({"case": {"films": [[[[]]]]}, "session": "s", "base_version": 1}).encode(),
    b'{"a":' * 3000 + b"1" + b"}" * 3000,
)
BAD_PARTS = ("none", "..", "%00", "'; DROP TABLE case_record; --", "9" * 30, "ä" * 100)


@pytest.fixture
def app(shared_app: FastAPI) -> FastAPI:
    """One application for the whole file."""
    return shared_app


@pytest.fixture
def store(shared_app: FastAPI) -> Store:
    """Its store."""
    found: Store = shared_app.state.workbench.store
    return found


def routes(client: httpx.Client) -> list[tuple[str, str]]:
    paths = client.get("/api/openapi.json").json()["paths"]
    return [(method.upper(), path) for path, item in paths.items() for method in item]


def filled(path: str, part: str) -> str:
    for name in ("case_id", "sha256", "number", "session", "level", "x", "y"):
        path = path.replace(f"{{{name}}}", part)
    return path


def test_the_walk_covers_every_route(client: httpx.Client) -> None:
    known = routes(client)
    assert len(known) >= 29
    assert ("POST", "/api/work/drag") in known


def test_bad_bodies_are_answered_in_one_shape_on_every_route(client: httpx.Client, store: Store) -> None:
    for method, path in routes(client):
        if method in {"GET", "DELETE"}:
            continue
        for body in BAD_BODIES:
            headers = {"Content-Type": "application/json"}
            answer = client.request(method, filled(path, "demo-a"), content=body, headers=headers)
            if answer.status_code < 400:
                assert path == "/api/cases/search", (method, path, body)
                continue
            assert answer.status_code < 500, (method, path, body, answer.text)
            assert set(answer.json()) >= SHAPE, (method, path, answer.text)
    assert store.cases.newest("demo-a") == 1


def test_bad_parts_of_addresses_are_answered_in_one_shape_on_every_route(client: httpx.Client) -> None:
    for method, path in routes(client):
        if "{" not in path:
            continue
        for part in BAD_PARTS:
            answer = client.request(method, filled(path, part), json={})
            assert answer.status_code < 500, (method, path, part, answer.text)
            if answer.status_code >= 400:
                assert set(answer.json()) >= SHAPE, (method, path, answer.text)


@pytest.mark.parametrize(
    ("method", "path", "status", "code"),
    [
        ("GET", "/api/nothing", 404, "not-found"),
        ("GET", "/films/nothing", 404, "not-found"),
        ("GET", "/static/nothing.js", 404, "not-found"),
        ("DELETE", "/api/profile", 405, "method"),
        ("PATCH", "/api/cases/demo-a", 405, "method"),
    ],
)
def test_addresses_and_methods_that_are_not_there(
    *,
    client: httpx.Client,
    error: Callable[[httpx.Response, int, str], dict[str, Any]],
    method: str,
    path: str,
    status: int,
    code: str,
) -> None:
    error(client.request(method, path), status, code)


def test_a_fault_of_ours_is_told_without_the_case_it_happened_to(
    app: FastAPI, client: httpx.Client, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_args: Any, **_more: Any) -> None:
        raise RuntimeError("Doe, Jane has a short leg")

    monkeypatch.setattr(app.state.workbench.store.cases, "current", broken)
    with caplog.at_level(logging.ERROR):
        answer = client.get("/api/cases/demo-a")
    assert answer.status_code == 500
    assert set(answer.json()) >= SHAPE
    assert answer.json()["code"] == "fault"
    assert "Jane" not in answer.text
    assert "/api/cases/{case_id}" in caplog.text
    assert "demo-a" not in caplog.text
    assert "Jane" not in caplog.text


def test_a_full_disk_is_told_as_busy_and_nothing_is_lost(
    app: FastAPI, client: httpx.Client, document: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    from limbwright.store.trouble import Unavailable

    def full(*_args: Any, **_more: Any) -> None:
        raise Unavailable("the disk is full.", where="database", next_step="Make room.")

    monkeypatch.setattr(app.state.workbench.store.cases, "save", full)
    answer = client.put("/api/cases/demo-a", json={"base_version": 1, "case": document})
    assert (answer.status_code, answer.json()["code"]) == (503, "busy")
    assert client.get("/api/cases/demo-a").json()["version"] == 1


def test_errors_of_requests_do_not_repeat_long_input(client: httpx.Client) -> None:
    answer = client.post("/api/cases/search", json={"text": "x" * 100_000})
    assert answer.status_code == 422
    assert len(answer.text) < 2000


def test_the_description_names_every_page_action(client: httpx.Client) -> None:
    described = client.get("/api/openapi.json").json()
    assert "not a medical device" in described["info"]["description"]
    for item in described["paths"].values():
        for operation in item.values():
            assert operation.get("description"), operation
    documented = Path(__file__).parents[2].joinpath("docs/server.md").read_text()
    for path in described["paths"]:
        assert path in documented, f"docs/server.md lacks {path}"
