from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from click.testing import CliRunner

from limbwright.cli import exit_code
from limbwright.cli.main import cli
from limbwright.store.store import Store
from limbwright.store.users import FAILURES_BEFORE_LOCK, Role
from limbwright.web.routes.pages import inner_path

ErrorCheck = Callable[[httpx.Response, int, str], dict[str, Any]]
LogIn = Callable[[str, str], httpx.Client]
PASSWORD = "several plain words"


@pytest.fixture
def users(store: Store) -> dict[Role, str]:
    names = {Role.READ: "nurse", Role.PLAN: "fellow", Role.SIGN: "chief"}
    for role, name in names.items():
        store.users.add(name, PASSWORD, role, by="test")
    return names


def token_of(client: httpx.Client) -> dict[str, str]:
    return {"X-CSRF-Token": client.get("/api/session").json()["csrf"]}


def test_on_loopback_without_users_the_surgeon_at_the_machine_may_do_everything(client: httpx.Client) -> None:
    said = client.get("/api/session").json()
    assert (said["name"], said["role"], said["local"]) == ("surgeon", "sign", True)
    assert "not a medical device" in said["caution"]


@pytest.mark.usefixtures("users")
def test_with_users_nobody_is_in_before_logging_in(stranger: httpx.Client, error: ErrorCheck) -> None:
    said = error(stranger.get("/api/session"), 401, "login")
    assert len(said["csrf"]) == 64
    error(stranger.get("/api/cases/demo-a"), 401, "login")
    page = stranger.get("/cases", headers={"Accept": "text/html"})
    assert page.status_code == 303
    assert page.headers["location"] == "/login?next=/cases"


@pytest.mark.usefixtures("users")
def test_a_login_gives_a_fresh_session_and_a_logout_ends_it(log_in: LogIn, error: ErrorCheck) -> None:
    client = log_in("fellow", PASSWORD)
    assert client.get("/api/session").json()["role"] == "plan"
    assert client.get("/api/cases/demo-a").status_code == 200
    kept = dict(client.cookies)
    assert client.delete("/api/session").status_code == 204
    client.cookies.clear()
    client.cookies.update(kept)
    error(client.get("/api/cases/demo-a"), 401, "login")


@pytest.mark.usefixtures("users")
def test_the_session_of_before_the_login_does_not_become_the_users(stranger: httpx.Client) -> None:
    token = token_of(stranger)
    before = stranger.cookies["limbwright_session"]
    stranger.post("/api/session", json={"name": "chief", "password": PASSWORD}, headers=token)
    assert stranger.cookies["limbwright_session"] != before


@pytest.mark.usefixtures("users")
def test_a_wrong_name_and_a_wrong_password_are_told_alike(stranger: httpx.Client, error: ErrorCheck) -> None:
    token = token_of(stranger)
    wrong = [
        error(stranger.post("/api/session", json=body, headers=token), 401, "login")
        for body in (
            {"name": "chief", "password": "wrong wrong wrong"},
            {"name": "nobody", "password": PASSWORD},
        )
    ]
    assert wrong[0] == wrong[1]


@pytest.mark.usefixtures("users")
def test_a_name_is_locked_after_repeated_failures(stranger: httpx.Client, error: ErrorCheck) -> None:
    token = token_of(stranger)
    for _ in range(FAILURES_BEFORE_LOCK - 1):
        body = {"name": "chief", "password": "wrong wrong wrong"}
        error(stranger.post("/api/session", json=body, headers=token), 401, "login")
    stranger.post("/api/session", json=body, headers=token)
    right = {"name": "chief", "password": PASSWORD}
    error(stranger.post("/api/session", json=right, headers=token), 429, "locked")


@pytest.mark.parametrize(
    ("role", "method", "path", "body", "status"),
    [
        (Role.READ, "POST", "/api/cases/search", {}, 200),
        (Role.READ, "PUT", "/api/cases/demo-a", {"base_version": 1, "case": {}}, 403),
        (Role.READ, "POST", "/api/films", None, 403),
        (Role.PLAN, "POST", "/api/cases/demo-a/accept", {"base_version": 1}, 403),
        (Role.PLAN, "PUT", "/api/profile", {"base_version": 0, "changes": {}}, 403),
        (Role.PLAN, "GET", "/api/audit", None, 403),
        (Role.SIGN, "GET", "/api/audit", None, 200),
        (Role.SIGN, "PUT", "/api/profile", {"base_version": 0, "changes": {}}, 200),
    ],
)
def test_what_each_role_may(
    *,
    users: dict[Role, str],
    log_in: LogIn,
    role: Role,
    method: str,
    path: str,
    body: Any,
    status: int,
) -> None:
    answer = log_in(users[role], PASSWORD).request(method, path, json=body)
    assert answer.status_code == status, answer.text
    if status == 403:
        assert answer.json()["code"] == "role"


@pytest.mark.usefixtures("users")
def test_reads_and_writes_are_in_the_audit_log_without_diagnosis_or_pseudonym(
    log_in: LogIn, store: Store
) -> None:
    fellow = log_in("fellow", PASSWORD)
    document = fellow.get("/api/cases/demo-a").json()["case"]
    document["diagnosis"] = "Somebody Special"
    fellow.put("/api/cases/demo-a", json={"base_version": 1, "case": document})
    lines = [(e.who, e.action.value, e.case_id) for e in store.audit.all()]
    assert ("fellow", "case read", "demo-a") in lines
    assert ("fellow", "case saved", "demo-a") in lines
    assert all("Special" not in str(e) and "INVENTED" not in str(e) for e in store.audit.all())


@pytest.mark.parametrize(
    ("wanted", "shown"),
    [
        ("/cases/demo-a/table", "/cases/demo-a/table"),
        ("//evil.example", "/cases"),
        ("/\\\\evil.example", "/cases"),
        ("https://evil.example", "/cases"),
        ("javascript:alert(1)", "/cases"),
    ],
)
def test_a_login_leads_on_to_our_own_pages_only(shared_client: httpx.Client, wanted: str, shown: str) -> None:
    assert inner_path(wanted) == shown
    assert shared_client.get("/login", params={"next": wanted}).status_code == 200


def test_the_server_does_not_open_to_other_machines_without_a_user(tmp_path: Path) -> None:
    from limbwright.error import Refused

    run = CliRunner().invoke(cli, ["serve", "--home", str(tmp_path), "--host", "0.0.0.0"])
    assert isinstance(run.exception, Refused)
    assert "no user with a password" in str(run.exception)
    assert exit_code.REFUSED == 3
