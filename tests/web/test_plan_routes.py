"""Accepting a plan, recording the operation, the printed plan and the calendar."""

from collections.abc import Callable
from copy import deepcopy
from io import BytesIO
from typing import Any

import httpx
import pytest
from icalendar import Calendar

from limbwright.store.store import Store

ErrorCheck = Callable[[httpx.Response, int, str], dict[str, Any]]


def accepted(client: httpx.Client, base: int = 1, **more: Any) -> httpx.Response:
    return client.post("/api/cases/demo-a/accept", json={"base_version": base, **more})


def with_wrong_header(document: dict[str, Any]) -> dict[str, Any]:
    """The sagittal film of the other leg under this one's name: its header contradicts, which is a `stop`."""
    changed = deepcopy(document)
    right, left = changed["films"][1], changed["films"][2]
    right["sha256"], left["sha256"] = left["sha256"], right["sha256"]
    return changed


def test_an_accepted_plan_stands_in_the_case_with_who_and_when(client: httpx.Client, store: Store) -> None:
    answer = accepted(client)
    assert answer.status_code == 200, answer.text
    plan = store.cases.at("demo-a").plan
    assert plan is not None
    assert plan.bones[0].blocking_screws
    kept = client.get("/api/cases/demo-a").json()["acceptance"]
    assert (kept["by"], kept["of_version"], kept["overrides"]) == ("surgeon", 1, [])


def test_an_accepted_plan_holds_the_surgeons_own_alterations(
    client: httpx.Client, document: dict[str, Any], store: Store
) -> None:
    gone = {"kind": "remove-blocking-screw", "bone": "tibia", "index": 0}
    body = {"base_version": 1, "case": document, "alterations": [gone]}
    client.put("/api/cases/demo-a", json=body)
    accepted(client, 2)
    plan = store.cases.at("demo-a").plan
    assert plan is not None
    assert plan.bones[0].blocking_screws == ()


def test_a_stop_is_resolved_or_overruled_with_a_reason(
    client: httpx.Client, document: dict[str, Any], error: ErrorCheck
) -> None:
    client.put("/api/cases/demo-a", json={"base_version": 1, "case": with_wrong_header(document)})
    stops = error(accepted(client, 2), 409, "stops-open")["stops"]
    assert {s["id"] for s in stops} == {"header-side-contradicts"}
    overrides = [
        {"finding": s["id"], "words": s["words"], "reason": "Film was labelled wrongly; seen by two."}
        for s in stops
    ]
    error(accepted(client, 2, overrides=overrides[1:]), 409, "stops-open")
    spaces = [{**o, "reason": " " * 20} for o in overrides]
    error(accepted(client, 2, overrides=spaces), 409, "stops-open")
    more = {"finding": "never-said", "words": "nobody said so", "reason": "because I sign anything"}
    answer = accepted(client, 2, overrides=[*overrides, more])
    assert answer.status_code == 200, answer.text
    kept = answer.json()["acceptance"]["overrides"]
    assert [o["finding"] for o in kept] == [o["finding"] for o in overrides]


def test_a_plan_of_an_old_version_is_a_conflict(
    client: httpx.Client, document: dict[str, Any], error: ErrorCheck
) -> None:
    document["diagnosis"] = "newer"
    client.put("/api/cases/demo-a", json={"base_version": 1, "case": document})
    error(accepted(client, 1), 409, "conflict")


def test_a_case_without_a_plan_is_not_accepted(
    client: httpx.Client, document: dict[str, Any], error: ErrorCheck
) -> None:
    for film in document["films"]:
        film.pop("left", None)
        film["walls"] = [w for w in film["walls"] if w["side"] != "left"]
    client.put("/api/cases/demo-a", json={"base_version": 1, "case": document})
    said = error(accepted(client, 2), 409, "stops-open")
    assert "no film shows the left leg" in said["found"]


def recorded(client: httpx.Client, base: int, **record: Any) -> httpx.Response:
    return client.put("/api/cases/demo-a/operation", json={"base_version": base, "record": record})


def test_what_was_done_is_laid_beside_the_plan(client: httpx.Client, store: Store) -> None:
    accepted(client)
    plan = store.cases.at("demo-a").plan
    assert plan is not None
    screw = plan.bones[0].blocking_screws[0]
    bone = {
        "bone": "tibia",
        "osteotomy_below_joint_mm": plan.bones[0].osteotomy.below_joint_mm + 4,
        "nail": plan.bones[0].nail.name,
        "lengthening_mm": plan.bones[0].lengthening_mm,
        "blocking_screws": [
            {
                "fragment": screw.fragment.value,
                "side": screw.side.value,
                "from_osteotomy_mm": screw.from_osteotomy_mm + 3,
                "diameter_mm": 5.0,
            },
            {"fragment": "distal", "side": "medial", "from_osteotomy_mm": 12.0, "diameter_mm": 5.0},
        ],
    }
    answer = recorded(client, 2, operated_on="2026-03-16", bones=[bone], steps=[{"index": 0, "done": True}])
    assert answer.status_code == 200, answer.text
    rows = {row["what"]: row["difference"] for row in answer.json()["against_plan"]}
    assert rows["osteotomy, tibia"] == "4 mm more distal"
    assert rows["nail, tibia"] == "as planned"
    assert rows["lengthening, tibia"] == "as planned"
    assert rows[f"blocking screw, {screw.fragment} fragment, {screw.side}, tibia"] == "3 mm farther"
    assert rows["blocking screw, distal fragment, medial, tibia"] == "not planned"
    course = store.cases.at("demo-a").course
    assert course is not None
    assert course.treatments[0].operated_on.isoformat() == "2026-03-16"
    again = client.get("/api/cases/demo-a/operation").json()
    assert again["record"]["steps"][0]["done"] is True
    assert again["version"] == 3
    # The record is a part of the case: versions of it are compared and restored like everything else.
    bone["osteotomy_below_joint_mm"] += 1.5
    assert recorded(client, 3, operated_on="2026-03-16", bones=[bone]).status_code == 200
    differs = client.get("/api/cases/demo-a/compare?a=3&b=4").json()["differs"]
    paths = {change["path"]: (change["before"], change["after"]) for change in differs}
    before, after = paths["$.operation.bones.tibia.osteotomy_below_joint_mm"]
    assert after == pytest.approx(before + 1.5)
    assert "$.operation.steps[0]" in paths or "$.operation.steps" in paths
    back = {"version": 3, "base_version": 4, "part": "operation"}
    assert client.post("/api/cases/demo-a/restore", json=back).status_code == 200
    assert client.get("/api/cases/demo-a/operation").json()["record"] == again["record"]


def test_an_operation_needs_an_accepted_plan(client: httpx.Client, error: ErrorCheck) -> None:
    error(recorded(client, 1), 409, "no-plan")


def test_two_records_at_once_are_a_conflict(client: httpx.Client, error: ErrorCheck) -> None:
    accepted(client)
    assert recorded(client, 2, note="first").status_code == 200
    error(recorded(client, 2, note="second"), 409, "conflict")


def test_the_operation_plan_is_a_pdf(client: httpx.Client) -> None:
    answer = client.get("/api/cases/demo-a/operation-plan.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    assert BytesIO(answer.content).read(5) == b"%PDF-"
    assert "attachment" not in answer.headers["content-disposition"]


def test_the_calendar_follows_the_recorded_operation(client: httpx.Client) -> None:
    accepted(client)
    recorded(client, 2, operated_on="2026-03-16")
    text = client.get("/api/cases/demo-a/calendar.ics").text
    days = [event.decoded("dtstart").isoformat() for event in Calendar.from_ical(text).walk("VEVENT")]
    assert min(days) == "2026-03-24"
    other = client.get("/api/cases/demo-a/calendar.ics?operated_on=2026-04-01").text
    days = [event.decoded("dtstart").isoformat() for event in Calendar.from_ical(other).walk("VEVENT")]
    assert min(days) == "2026-04-09"


@pytest.mark.parametrize("day", ["yesterday", "2026-13-01"])
def test_a_day_that_is_none_is_refused(client: httpx.Client, error: ErrorCheck, day: str) -> None:
    error(client.get(f"/api/cases/demo-a/calendar.ics?operated_on={day}"), 422, "unreadable")
