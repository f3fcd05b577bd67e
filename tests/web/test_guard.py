from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from limbwright.web.guard import COOKIE, csrf_token
from limbwright.web.settings import Limits, Settings

ErrorCheck = Callable[[httpx.Response, int, str], dict[str, Any]]
CREATE = {"side": "left", "patient": {"id": "P-1", "sex": "female", "age_years": 30}}


@pytest.fixture
def app(shared_app: FastAPI) -> FastAPI:
    """One application for the whole file."""
    return shared_app


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "127.0.0.1:80", "localhost.evil:8765", ""])
def test_only_the_servers_own_host_is_answered(stranger: httpx.Client, error: ErrorCheck, host: str) -> None:
    error(stranger.get("/api/health", headers={"Host": host}), 421, "host")


@pytest.mark.parametrize("host", ["127.0.0.1:8765", "localhost:8765", "LOCALHOST:8765", "[::1]:8765"])
def test_names_of_this_machine_are_answered(stranger: httpx.Client, host: str) -> None:
    assert stranger.get("/api/health", headers={"Host": host}).json()["ready"] is True


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "http://127.0.0.1:9999"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_changes_from_other_pages_are_refused(
    client: httpx.Client, error: ErrorCheck, headers: dict[str, str]
) -> None:
    error(client.post("/api/cases", json=CREATE, headers=headers), 403, "origin")


def test_a_change_from_our_own_page_is_taken(client: httpx.Client) -> None:
    headers = {"Origin": "http://127.0.0.1:8765", "Sec-Fetch-Site": "same-origin"}
    assert client.post("/api/cases", json=CREATE, headers=headers).status_code == 201


@pytest.mark.parametrize("token", [b"", b"0" * 64, b"\xfc"])
def test_a_change_without_the_sessions_token_is_refused(
    client: httpx.Client, error: ErrorCheck, token: bytes
) -> None:
    headers = httpx.Headers([(b"X-CSRF-Token", token)])
    error(client.post("/api/cases", json=CREATE, headers=headers), 403, "csrf")


def test_the_token_of_another_session_does_not_open_this_one(client: httpx.Client, error: ErrorCheck) -> None:
    other = csrf_token("another-session-token-of-40-characters--")
    error(client.post("/api/cases", json=CREATE, headers={"X-CSRF-Token": other}), 403, "csrf")


def test_every_unsafe_route_asks_for_the_token(stranger: httpx.Client, error: ErrorCheck) -> None:
    paths = stranger.get("/api/openapi.json").json()["paths"]
    unsafe = [(m, p) for p, item in paths.items() for m in item if m not in {"get", "head", "options"}]
    assert len(unsafe) > 12
    for method, path in unsafe:
        error(stranger.request(method.upper(), path.replace("{", "").replace("}", "")), 403, "csrf")


def test_the_session_cookie_is_out_of_reach_of_scripts_and_other_sites(stranger: httpx.Client) -> None:
    cookie = stranger.get("/api/session").headers["set-cookie"]
    assert cookie.startswith(f"{COOKIE}=")
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie


@pytest.mark.parametrize("value", [b"short", b"x" * 200, b'quote"and;semicolon' * 3, b"\x80" * 40])
def test_a_cookie_that_we_did_not_give_is_replaced(stranger: httpx.Client, value: bytes) -> None:
    headers = httpx.Headers([(b"Cookie", COOKIE.encode() + b"=" + value)])
    answer = stranger.get("/api/session", headers=headers)
    assert f"{COOKIE}=" in answer.headers["set-cookie"]
    assert value.decode("latin-1") not in answer.headers["set-cookie"]


@pytest.mark.parametrize("path", ["/api/health", "/cases", "/nothing", "/api/nothing", "/static/nothing.js"])
def test_security_headers_are_everywhere(client: httpx.Client, path: str) -> None:
    headers = client.get(path).headers
    policy = headers["content-security-policy"]
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert "http" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert "cache-control" in headers


def test_a_body_larger_than_the_limit_is_refused_by_its_declared_length(
    client: httpx.Client, error: ErrorCheck
) -> None:
    body = b"x" * (Limits().request_bytes + 1)
    error(client.put("/api/profile", content=body), 413, "too-large")


def test_a_body_larger_than_the_limit_is_cut_off_when_its_length_is_not_declared(
    client: httpx.Client, error: ErrorCheck
) -> None:
    def chunks() -> Iterator[bytes]:
        for _ in range(Limits().request_bytes // 1000 + 2):
            yield b" " * 1000

    error(client.put("/api/profile", content=chunks()), 413, "too-large")


def test_a_length_that_is_no_number_is_refused(client: httpx.Client, error: ErrorCheck) -> None:
    error(client.put("/api/profile", content=b"{}", headers={"Content-Length": "-5"}), 413, "too-large")


def test_hosts_of_a_server_that_others_can_reach() -> None:
    settings = Settings(home=Path(), host="10.0.0.5", port=80, other_hosts=("films", "films.example:443"))
    assert settings.hosts() == {"10.0.0.5:80", "films:80", "films.example:443", "films"}
    assert "https://films.example:443" in settings.origins()
    assert not settings.on_loopback
