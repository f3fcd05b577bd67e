from collections.abc import Callable
from copy import deepcopy
from typing import Any

import httpx
import pytest

from limbwright.store.store import Store

ErrorCheck = Callable[[httpx.Response, int, str], dict[str, Any]]


def saved(client: httpx.Client, document: dict[str, Any], base: int, **more: Any) -> httpx.Response:
    return client.put("/api/cases/demo-a", json={"base_version": base, "case": document, **more})


def new_case(demo: Any, **more: Any) -> dict[str, Any]:
    films = [
        {
            "sha256": f.sha256,
            "name": f.name,
            "projection": f.projection.value,
            "anterior_at": f.anterior_at.value if f.anterior_at else None,
        }
        for f in demo.case.films
    ]
    patient = {"id": "P-12", "sex": "female", "birth_date": "1998-09-14"}
    return {"side": "left", "patient": patient, "films": films, **more}


def test_a_new_case_takes_sizes_scale_and_day_from_its_films(
    client: httpx.Client, demo: Any, store: Store
) -> None:
    answer = client.post("/api/cases", json=new_case(demo, id="case-7"))
    assert answer.status_code == 201, answer.text
    assert answer.json() == {"id": "case-7", "version": 1}
    film = store.cases.at("case-7").films[0]
    assert (film.width_px, film.height_px) == (demo.case.films[0].width_px, demo.case.films[0].height_px)
    assert film.taken_on == demo.case.films[0].taken_on
    assert film.scale.header == demo.case.films[0].scale.header
    assert not film.left


def test_a_further_film_joins_a_case_and_keeps_what_is_there(
    client: httpx.Client, demo: Any, store: Store, error: ErrorCheck
) -> None:
    whole = new_case(demo, id="case-8")
    assert client.post("/api/cases", json={**whole, "films": whole["films"][:1]}).status_code == 201
    body = {"base_version": 1, "films": whole["films"][1:], "why": "sagittal film came"}
    assert client.post("/api/cases/case-8/films", json=body).json() == {"id": "case-8", "version": 2}
    kept = store.cases.at("case-8")
    assert [film.name for film in kept.films] == [film["name"] for film in whole["films"]]
    assert kept.films[-1].scale.header == demo.case.films[len(kept.films) - 1].scale.header
    other = {**body, "films": [{**whole["films"][1], "name": "another"}]}
    error(client.post("/api/cases/case-8/films", json=other), 409, "conflict")
    again = {"base_version": 2, "films": whole["films"][:1]}
    assert "frontal" in error(client.post("/api/cases/case-8/films", json=again), 422, "unreadable")["found"]


def test_a_case_without_an_identifier_gets_one(client: httpx.Client, demo: Any) -> None:
    first, second = (client.post("/api/cases", json=new_case(demo)).json()["id"] for _ in range(2))
    assert first != second


def test_an_identifier_that_is_taken_is_refused(client: httpx.Client, demo: Any, error: ErrorCheck) -> None:
    error(client.post("/api/cases", json=new_case(demo, id="demo-a")), 409, "taken")


@pytest.mark.parametrize("name", ["a/b", "..", ".", "a\\b", "a?b", "a%2fb", "a#b"])
def test_identifiers_that_cannot_stand_in_an_address_are_refused_with_the_reason(
    client: httpx.Client, demo: Any, error: ErrorCheck, name: str
) -> None:
    said = error(client.post("/api/cases", json=new_case(demo, id=name)), 422, "refused")
    assert "cannot stand in the address" in said["found"]


@pytest.mark.parametrize("name", ["", "x" * 65, "a\nb"])
def test_identifiers_that_are_none_are_refused(client: httpx.Client, demo: Any, name: str) -> None:
    answer = client.post("/api/cases", json=new_case(demo, id=name))
    assert answer.status_code == 422
    assert answer.json()["found"]


def test_a_case_needs_its_films_in_the_store(client: httpx.Client, demo: Any, error: ErrorCheck) -> None:
    asked = new_case(demo)
    asked["films"][0]["sha256"] = "0" * 64
    error(client.post("/api/cases", json=asked), 422, "refused")


def test_search_finds_words_of_the_diagnosis(client: httpx.Client) -> None:
    found = client.post("/api/cases/search", json={"text": "valgus TIBIA"}).json()
    assert [c["id"] for c in found["cases"]] == ["demo-a"]
    assert found["cases"][0]["stage"]
    assert client.post("/api/cases/search", json={"text": "100%"}).json()["cases"] == []


def test_a_save_is_a_new_version_with_who_and_why(client: httpx.Client, document: dict[str, Any]) -> None:
    document["diagnosis"] = "changed"
    assert saved(client, document, 1, why="typed it").json() == {"id": "demo-a", "version": 2}
    lines = client.get("/api/cases/demo-a/versions").json()["versions"]
    assert [(v["version"], v["saved_by"], v["why"]) for v in lines] == [
        (2, "surgeon", "typed it"),
        (1, "demo", "invented demo case"),
    ]
    assert client.get("/api/cases/demo-a/versions/1").json()["case"]["diagnosis"] != "changed"


def test_two_windows_never_lose_a_change(
    client: httpx.Client, document: dict[str, Any], error: ErrorCheck
) -> None:
    theirs, mine = deepcopy(document), deepcopy(document)
    theirs["diagnosis"] = "theirs"
    mine["diagnosis"] = "mine"
    mine["goal"]["leave_short_mm"] = 5.0
    assert saved(client, theirs, 1).status_code == 200
    said = error(saved(client, mine, 1), 409, "conflict")
    assert (said["version"], said["base_version"], said["combined"]) == (2, 1, None)
    differs = {d["path"]: d for d in said["differs"]}
    assert differs["$.diagnosis"]["theirs"] == "theirs"
    assert differs["$.diagnosis"]["yours"] == "mine"
    assert differs["$.diagnosis"]["both"] is True
    assert differs["$.goal.leave_short_mm"]["both"] is False
    assert client.get("/api/cases/demo-a").json()["case"]["diagnosis"] == "theirs"


def test_changes_that_do_not_touch_are_offered_together(
    client: httpx.Client, document: dict[str, Any], error: ErrorCheck
) -> None:
    theirs, mine = deepcopy(document), deepcopy(document)
    theirs["diagnosis"] = "theirs"
    mine["goal"]["leave_short_mm"] = 5.0
    saved(client, theirs, 1)
    combined = error(saved(client, mine, 1), 409, "conflict")["combined"]
    assert (combined["diagnosis"], combined["goal"]["leave_short_mm"]) == ("theirs", 5.0)
    assert saved(client, combined, 2).json()["version"] == 3


def test_two_windows_never_lose_an_alteration(
    client: httpx.Client, document: dict[str, Any], error: ErrorCheck
) -> None:
    gone = {"kind": "remove-blocking-screw", "bone": "tibia", "index": 0}
    saved(client, document, 1, alterations=[gone])
    document["diagnosis"] = "of the other window"
    said = error(saved(client, document, 1, alterations=[]), 409, "conflict")
    assert "$.alterations.tibia" in {d["path"] for d in said["differs"]}
    assert said["combined"] is None
    assert client.get("/api/cases/demo-a").json()["alterations"] == [gone]


def test_versions_are_compared_and_restored(client: httpx.Client, document: dict[str, Any]) -> None:
    before = document["diagnosis"]
    document["diagnosis"] = "changed"
    saved(client, document, 1)
    differs = client.get("/api/cases/demo-a/compare?a=1&b=2").json()["differs"]
    assert [(d["path"], d["kind"], d["before"], d["after"]) for d in differs] == [
        ("$.diagnosis", "changed", before, "changed")
    ]
    restored = client.post("/api/cases/demo-a/restore", json={"version": 1, "base_version": 2})
    assert restored.json()["version"] == 3
    assert client.get("/api/cases/demo-a").json()["case"]["diagnosis"] == before


def test_a_restore_on_top_of_an_old_version_is_a_conflict(
    client: httpx.Client, document: dict[str, Any], error: ErrorCheck
) -> None:
    for number in (1, 2):
        document["diagnosis"] = f"changed {number}"
        saved(client, document, number)
    error(client.post("/api/cases/demo-a/restore", json={"version": 1, "base_version": 2}), 409, "conflict")


def test_a_document_that_cannot_be_is_refused_with_every_problem(
    client: httpx.Client, document: dict[str, Any], error: ErrorCheck
) -> None:
    document["films"][0]["left"]["ankle_centre"]["x_px"] = -5.0
    document["patient"]["sex"] = "unknown"
    said = error(saved(client, document, 1), 422, "unreadable")
    assert {p["path"] for p in said["problems"]} == {
        "$.patient.sex",
        "$.films[0].left.ankle_centre.x_px",
    }
    assert client.get("/api/cases/demo-a/versions").json()["versions"][0]["version"] == 1


def test_a_document_of_another_case_is_refused(
    client: httpx.Client, document: dict[str, Any], error: ErrorCheck
) -> None:
    document["id"] = "other"
    error(saved(client, document, 1), 422, "refused")


def test_alterations_are_kept_beside_the_version_they_belong_to(
    client: httpx.Client, document: dict[str, Any]
) -> None:
    change = {"kind": "remove-blocking-screw", "bone": "tibia", "index": 0}
    saved(client, document, 1, alterations=[change])
    document["diagnosis"] = "kept"
    saved(client, document, 2)
    assert client.get("/api/cases/demo-a").json()["alterations"] == [change]
    assert client.get("/api/cases/demo-a/versions/1").json()["alterations"] == []
    differs = client.get("/api/cases/demo-a/compare?a=1&b=2").json()["differs"]
    assert [(d["path"], d["kind"]) for d in differs] == [("$.alterations.tibia", "added")]
    restored = client.post("/api/cases/demo-a/restore", json={"version": 1, "base_version": 3})
    assert restored.status_code == 200
    assert client.get("/api/cases/demo-a").json()["alterations"] == []


@pytest.mark.parametrize(
    ("method", "path"),
    [
        ("GET", "/api/cases/none"),
        ("GET", "/api/cases/none/versions"),
        ("GET", "/api/cases/demo-a/versions/9"),
        ("GET", "/api/cases/demo-a/compare?a=1&b=9"),
        ("GET", "/api/cases/none/operation"),
        ("GET", "/api/cases/none/export.zip"),
        ("GET", "/api/cases/none/operation-plan.pdf"),
        ("GET", "/api/cases/none/calendar.ics"),
    ],
)
def test_what_is_not_there_is_said_so(
    client: httpx.Client, error: ErrorCheck, method: str, path: str
) -> None:
    error(client.request(method, path), 404, "not-found")


def test_an_export_is_imported_again_without_loss(
    client: httpx.Client, document: dict[str, Any], store: Store
) -> None:
    document["diagnosis"] = "second"
    saved(client, document, 1, alterations=[{"kind": "remove-blocking-screw", "bone": "tibia", "index": 0}])
    archive = client.get("/api/cases/demo-a/export.zip")
    assert archive.headers["content-type"] == "application/zip"
    answer = client.post("/api/cases/import", files={"file": ("case.zip", archive.content)})
    assert answer.status_code == 201, answer.text
    assert answer.json()["known_cases"] == ["demo-a"]
    assert store.cases.newest("demo-a") == 2


@pytest.mark.parametrize("content", [b"", b"none", b"PK\x03\x04" + b"\0" * 100, b"PK\x05\x06" + b"\0" * 18])
def test_what_is_no_archive_is_not_imported(client: httpx.Client, store: Store, content: bytes) -> None:
    answer = client.post("/api/cases/import", files={"file": ("case.zip", content)})
    assert answer.status_code == 422, answer.text
    assert answer.json()["found"]
    assert list(store.cases.ids()) == ["demo-a"]
