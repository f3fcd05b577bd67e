"""A store with one invented case in it, and a client that talks to the application without a network."""

import asyncio
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx
import pytest
from argon2 import PasswordHasher
from fastapi import FastAPI

from limbwright.case.case import Case
from limbwright.cli import demo_films
from limbwright.cli.demo_patients import ADULT_TIBIA
from limbwright.store.store import Store, open_store
from limbwright.web.app import create_app
from limbwright.web.settings import Settings

BASE_URL = "http://127.0.0.1:8765"
CHEAP = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)


@dataclass(frozen=True)
class Demo:
    """An invented case with its films' bytes; the films are coarse, so that they are quickly taken."""

    case: Case
    films: tuple[bytes, ...]


class AppTransport(httpx.BaseTransport):
    """Hands requests to the application; what it raises comes back as its answer, as on a server."""

    def __init__(self, app: FastAPI) -> None:
        self._inner = httpx.ASGITransport(app=app, raise_app_exceptions=False)

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        async def ask() -> tuple[int, httpx.Headers, bytes]:
            asked = httpx.Request(
                request.method, request.url, headers=request.headers, content=request.read()
            )
            answer = await self._inner.handle_async_request(asked)
            return answer.status_code, answer.headers, await answer.aread()

        status, headers, content = asyncio.run(ask())
        return httpx.Response(status, headers=headers, content=content)


@pytest.fixture(scope="session")
def demo() -> Demo:
    case, films = demo_films.invented_case(ADULT_TIBIA, pixel_mm=2.0)
    return Demo(case=case, films=films)


@pytest.fixture(scope="session")
def filled_home(demo: Demo, tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("filled")
    with open_store(home) as store:
        for content in demo.films:
            store.films.put(content)
        store.cases.create(demo.case, who="demo", why="invented demo case")
    return home


@pytest.fixture
def store(filled_home: Path, tmp_path: Path) -> Iterator[Store]:
    """A store of its own for each test, with the invented case in version 1."""
    home = tmp_path / "home"
    shutil.copytree(filled_home, home)
    with open_store(home, hasher=CHEAP) as opened:
        yield opened


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(home=tmp_path / "home")


@pytest.fixture
def app(settings: Settings, store: Store) -> FastAPI:
    return create_app(settings, store=store)


def client_of(app: FastAPI) -> httpx.Client:
    return httpx.Client(transport=AppTransport(app), base_url=BASE_URL)


@pytest.fixture(scope="session")
def client_for() -> Callable[[FastAPI], httpx.Client]:
    """Makes a client of an application."""
    return client_of


@pytest.fixture
def stranger(app: FastAPI) -> Iterator[httpx.Client]:
    """A client without session and token."""
    with client_of(app) as client:
        yield client


@pytest.fixture
def client(app: FastAPI) -> Iterator[httpx.Client]:
    """A client of the local surgeon, with session and token."""
    with client_of(app) as client:
        client.headers["X-CSRF-Token"] = client.get("/api/session").json()["csrf"]
        yield client


@pytest.fixture
def log_in(app: FastAPI) -> Callable[[str, str], httpx.Client]:
    """Gives a client that is logged in by name and password."""

    def logged_in(name: str, password: str) -> httpx.Client:
        client = client_of(app)
        first = client.get("/api/session")
        answer = client.post(
            "/api/session",
            json={"name": name, "password": password},
            headers={"X-CSRF-Token": first.json()["csrf"]},
        )
        assert answer.status_code == 200, answer.text
        client.headers["X-CSRF-Token"] = answer.json()["csrf"]
        return client

    return logged_in


@pytest.fixture
def document(client: httpx.Client, demo: Demo) -> dict[str, Any]:
    """The case document of the invented case."""
    found: dict[str, Any] = client.get(f"/api/cases/{demo.case.id}").json()["case"]
    return found


@pytest.fixture(scope="module")
def shared_app(filled_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    """One application for a whole file of tests that agree on what they save."""
    home = tmp_path_factory.mktemp("shared") / "home"
    shutil.copytree(filled_home, home)
    with open_store(home, hasher=CHEAP) as opened:
        yield create_app(Settings(home=home), store=opened)


@pytest.fixture(scope="module")
def shared_client(shared_app: FastAPI) -> Iterator[httpx.Client]:
    """A client of the local surgeon for a whole file of tests."""
    with client_of(shared_app) as client:
        client.headers["X-CSRF-Token"] = client.get("/api/session").json()["csrf"]
        yield client


def assert_error(answer: httpx.Response, status: int, code: str) -> dict[str, Any]:
    """The one shape of errors, with something in every sentence."""
    assert answer.status_code == status, answer.text
    said: dict[str, Any] = answer.json()
    assert {"code", "found", "where", "unit", "next", "problems", "differs"} <= set(said)
    assert said["code"] == code
    assert said["found"]
    assert said["next"]
    return said


@pytest.fixture
def error() -> Callable[[httpx.Response, int, str], dict[str, Any]]:
    return assert_error
