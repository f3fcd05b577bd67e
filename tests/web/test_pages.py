"""Every page carries the caution, its data, and nothing that a browser would run from the text in it."""

import json
from html.parser import HTMLParser
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from limbwright.case.caution import CAUTION
from limbwright.web.page import script_data

HOSTILE = "</script><script>alert(1)</script><svg onload=alert(1)>\"'&<!--"
PAGES = {
    "/cases": {"search", "limits"},
    "/cases/demo-a/table": {"document"},
    "/cases/demo-a/operation": {"document", "record"},
    "/cases/demo-a/sheet": {"document", "plan", "plan_absent", "outlook", "drawings", "course", "findings"},
    "/cases/demo-a/history": {"versions", "current"},
    "/profile": {"profile"},
    "/catalogue": {"catalogue"},
    "/keys": set(),
    "/audit": {"entries"},
    "/login": {"next"},
    "/no-such-page": {"error"},
}
FRAME = {"page", "user", "caution", "csrf", "version", "case_id"}


@pytest.fixture
def app(shared_app: FastAPI) -> FastAPI:
    """One application for the whole file."""
    return shared_app


class Elements(HTMLParser):
    """Elements with their attributes, and the text of script elements."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.scripts: list[str] = []
        self.text: list[str] = []
        self._inside = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))
        self._inside = tag
        if tag == "script":
            self.scripts.append("")

    def handle_endtag(self, tag: str) -> None:
        self._inside = ""

    def handle_data(self, data: str) -> None:
        if self._inside == "script":
            self.scripts[-1] += data
        else:
            self.text.append(data)


def page(client: httpx.Client, path: str) -> tuple[Elements, dict[str, Any]]:
    answer = client.get(path, headers={"Accept": "text/html"})
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    seen = Elements()
    seen.feed(answer.text)
    data: dict[str, Any] = json.loads(seen.scripts[-1])
    return seen, data


@pytest.mark.parametrize("path", PAGES)
def test_a_page_gets_what_it_declares_and_carries_the_caution(client: httpx.Client, path: str) -> None:
    seen, data = page(client, path)
    assert set(data) == FRAME | PAGES[path]
    assert CAUTION in "".join(seen.text)
    assert data["caution"] == CAUTION
    token = next(a["content"] for t, a in seen.found if t == "meta" and a.get("name") == "csrf-token")
    assert token == data["csrf"]


@pytest.mark.parametrize("path", PAGES)
def test_a_page_holds_no_script_style_or_address_of_elsewhere(client: httpx.Client, path: str) -> None:
    seen, _ = page(client, path)
    scripts = [a for t, a in seen.found if t == "script"]
    assert [a.get("src") or a.get("type") for a in scripts] == ["/static/app.js", "application/json"]
    for tag, attributes in seen.found:
        assert tag not in {"style", "iframe", "object", "embed", "base"}
        for name, value in attributes.items():
            assert not name.startswith("on")
            assert name != "style"
            if name in {"src", "href", "action"}:
                assert value is not None
                assert value.startswith(("/", "#"))
                assert not value.startswith("//")
    assert sum(t == "h1" for t, _ in seen.found) == 1
    assert next(a for t, a in seen.found if t == "html")["lang"] == "en"


@pytest.fixture(scope="module")
def hostile(shared_client: httpx.Client) -> httpx.Client:
    """A client of a store with markup in every text a user can type."""
    client = shared_client
    document = client.get("/api/cases/demo-a").json()["case"]
    document["diagnosis"] = HOSTILE
    for film in document["films"]:
        film["name"] = f"{film['name']} <img src=x onerror=alert(1)>"
    bone = {"bone": "tibia", "nail": HOSTILE, "note": HOSTILE}
    record = {"steps": [{"index": 0, "words": HOSTILE, "note": HOSTILE}], "bones": [bone], "note": HOSTILE}
    note = f"note = {json.dumps(HOSTILE)[:-1]}"
    toml = client.get("/api/catalogue").json()["toml"].replace('note = "', note, 1)
    for method, path, body in (
        ("PUT", "/api/cases/demo-a", {"base_version": 1, "case": document}),
        ("POST", "/api/cases/demo-a/accept", {"base_version": 2}),
        ("PUT", "/api/cases/demo-a/operation", {"base_version": 3, "record": record}),
        ("PUT", "/api/catalogue", {"base_version": 0, "toml": toml}),
    ):
        answer = client.request(method, path, json={**body, "why": HOSTILE})
        assert answer.status_code == 200, answer.text
    return client


@pytest.mark.parametrize("path", PAGES)
def test_markup_in_any_text_stays_text(hostile: httpx.Client, path: str) -> None:
    seen, _ = page(hostile, path)
    assert sum(t == "script" for t, _ in seen.found) == 2
    assert not any(t in {"svg", "img"} for t, _ in seen.found)


def test_the_text_itself_is_shown_as_it_was_typed(hostile: httpx.Client) -> None:
    seen, data = page(hostile, "/cases")
    assert HOSTILE[:60] in "".join(seen.text)
    assert data["search"]["cases"][0]["diagnosis"].startswith(HOSTILE[:60])
    _, data = page(hostile, "/cases/demo-a/table")
    assert data["document"]["case"]["diagnosis"] == HOSTILE
    assert data["document"]["operation"]["note"] == HOSTILE


@pytest.mark.parametrize("path", ["/cases/<script>alert(1)</script>/table", "/x\"'><svg onload=alert(1)>"])
def test_an_address_is_not_repeated_as_markup(client: httpx.Client, path: str) -> None:
    seen, data = page(client, path)
    assert not any(t == "svg" for t, _ in seen.found)
    assert data["error"]["code"] == "not-found"


def test_data_in_a_page_cannot_end_its_element() -> None:
    text = str(script_data({"a": "</script><!-- & \u2028"}))
    assert "<" not in text
    assert "\u2028" not in text
    assert json.loads(text) == {"a": "</script><!-- & \u2028"}


def test_the_first_address_leads_to_the_cases(client: httpx.Client) -> None:
    answer = client.get("/")
    assert (answer.status_code, answer.headers["location"]) == (303, "/cases")


@pytest.mark.parametrize("path", ["../app.py", "..%2fapp.py", "%2e%2e/%2e%2e/pyproject.toml", "/etc/passwd"])
def test_static_files_stay_in_their_folder(client: httpx.Client, path: str) -> None:
    assert client.get(f"/static/{path}").status_code == 404
