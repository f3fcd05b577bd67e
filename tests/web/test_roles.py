"""Who may ask what: every route of the server walked by nobody and by each role, against the described table.

The walk is made from the routes themselves, so that a route without a line in docs/server.md, or without a
check of its own, fails here.
"""

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest
from fastapi import FastAPI
from fastapi.routing import APIRoute

from limbwright.store.store import open_store
from limbwright.store.users import Role
from limbwright.web.app import ROUTERS, create_app
from limbwright.web.settings import Settings

ClientFor = Callable[[FastAPI], httpx.Client]
PASSWORD = "several plain words"
NAMES = {Role.READ: "nurse", Role.PLAN: "fellow", Role.SIGN: "chief"}
LINE = re.compile(r"^\| ([A-Z ]+) `(/[^`]*)` \|.*\| ([a-z, ]*) ?\|$", re.MULTILINE)
DOCS = Path(__file__).parents[2] / "docs" / "server.md"


def described() -> dict[tuple[str, str], Role | None]:
    """Method and address to the role that the documentation names; None for anybody."""
    found: dict[tuple[str, str], Role | None] = {}
    for methods, path, roles in LINE.findall(DOCS.read_text(encoding="utf-8")):
        named = [Role(role.strip()) for role in roles.split(",") if role.strip()]
        each = methods.split()
        for index, method in enumerate(each):
            found[(method, path)] = named[min(index, len(named) - 1)] if named else None
    return found


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    from argon2 import PasswordHasher

    home = tmp_path_factory.mktemp("roles")
    with open_store(home, hasher=PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)) as store:
        for role, name in NAMES.items():
            store.users.add(name, PASSWORD, role, by="test")
        yield create_app(Settings(home=home), store=store)


def routes() -> list[tuple[str, str]]:
    """Every route but the API's description and the static files, which ask for no role."""
    return [
        (method, route.path)
        for module in ROUTERS
        for route in module.router.routes
        if isinstance(route, APIRoute)
        for method in sorted(route.methods)
    ]


def staying_in() -> list[tuple[str, str]]:
    """All of them but logging out."""
    return [route for route in routes() if route != ("DELETE", "/api/session")]


def filled(path: str) -> str:
    day = path.replace("{seen_on}", "2026-04-01").replace("{name}", "none").replace("{session}", "s")
    numbers = day.replace("{number}", "1").replace("{level}", "0").replace("{x}", "0").replace("{y}", "0")
    return numbers.replace("{sha256}", "0" * 64).replace("{case_id}", "none")


def logged_in(client: httpx.Client, name: str | None) -> None:
    client.headers["Accept"] = "application/json"
    client.headers["X-CSRF-Token"] = client.get("/api/session").json()["csrf"]
    if name is not None:
        answer = client.post("/api/session", json={"name": name, "password": PASSWORD})
        client.headers["X-CSRF-Token"] = answer.json()["csrf"]


def test_every_route_has_its_line_and_every_line_its_route() -> None:
    assert len(routes()) > 50
    assert set(routes()) == set(described())


def test_nobody_passes_where_a_role_is_asked_for(app: FastAPI, client_for: ClientFor) -> None:
    wanted = described()
    with client_for(app) as client:
        logged_in(client, None)
        for method, path in staying_in():
            answer = client.request(method, filled(path), json={})
            if wanted[(method, path)] is None:
                assert answer.status_code != 403, (method, path)
            else:
                assert answer.status_code == 401, (method, path, answer.text)
                assert answer.json()["code"] == "login"


@pytest.mark.parametrize("role", list(Role))
def test_each_role_passes_where_it_may_and_nowhere_else(
    app: FastAPI, client_for: ClientFor, role: Role
) -> None:
    with client_for(app) as client:
        logged_in(client, NAMES[role])
        for method, path in staying_in():
            wanted = described()[(method, path)]
            answer = client.request(method, filled(path), json={})
            if wanted is not None and not role.includes(wanted):
                assert answer.status_code == 403, (method, path, answer.text)
                assert answer.json()["code"] == "role"
            else:
                assert answer.status_code < 500, (method, path, answer.text)
                assert answer.status_code != 403, (method, path, answer.text)
                if wanted is not None:
                    assert answer.status_code != 401, (method, path, answer.text)
