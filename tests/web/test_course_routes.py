"""The course over the API: state, visits, changes tried and prescribed, diary, outcome, printed pages."""

import io
import json
from collections.abc import Callable, Iterator
from copy import deepcopy
from dataclasses import replace
from datetime import timedelta
from typing import Any

import httpx
import pytest
from fastapi import FastAPI
from icalendar import Calendar
from pypdf import PdfReader

from limbwright.case.caution import CAUTION
from limbwright.case.document import case_from_json
from limbwright.cli.demo_courses import DEMO_COURSES, VALGUS
from limbwright.course.patient.translation import translation
from limbwright.implant.shipped import shipped_catalogue
from limbwright.practice.profile import Profile
from limbwright.store.store import Store, open_store
from limbwright.store.users import Role
from limbwright.web.app import create_app
from limbwright.web.settings import Settings

Refusal = Callable[[httpx.Response, int, str], dict[str, Any]]
COURSE = "/api/cases/course-b"


@pytest.fixture
def store(tmp_path: Any) -> Iterator[Store]:
    """The three invented courses with all their visits."""
    nail = next(n for n in shipped_catalogue().nails if n.name == "T-10.7/305")
    with open_store(tmp_path / "home") as opened:
        for demo in DEMO_COURSES:
            opened.cases.create(demo.case(Profile(), nail), who="demo", why="invented")
        yield opened


@pytest.fixture
def app(store: Store, tmp_path: Any) -> FastAPI:
    return create_app(Settings(home=tmp_path / "home"), store=store)


def on(client: httpx.Client, day: str) -> dict[str, Any]:
    answer = client.get(f"{COURSE}/course", params={"on": day})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_state_advice_and_four_charts_on_one_axis(client: httpx.Client) -> None:
    found = on(client, "2026-04-27")
    (bone,) = found["outlook"]["bones"]
    assert (bone["day"], bone["advice"]["pace"]) == (42, "keep")
    assert "drift-will-cross" in [f["id"] for f in found["outlook"]["findings"]]
    (charts,) = found["charts"]
    assert [c["name"] for c in charts["charts"]] == ["length", "alignment", "motion", "new bone"]
    assert [v["day"] for v in charts["visits"]] == [14, 28, 42]
    length, alignment, motion, new = charts["charts"]
    assert length["series"][0]["measured"][-1]["value"] == 27.3
    frontal = alignment["series"][0]
    assert [p["value"] for p in frontal["measured"]] == [-1.1, -2.4, -4.9]
    ahead = frontal["forecast"]
    assert ahead[0]["day"] == 42
    assert ahead[0]["high"] - ahead[0]["low"] < ahead[-1]["high"] - ahead[-1]["low"]
    assert motion["series"][0]["forecast"] == []
    assert "not forecast" in motion["no_forecast"]
    assert new["limits"][0]["value"] == Profile().pixel_value_ratio_healed
    assert max(p["day"] for s in (length["series"][0], frontal) for p in s["forecast"]) <= charts["last_day"]


def test_the_planned_line_keeps_its_corners(client: httpx.Client) -> None:
    (charts,) = on(client, "2026-04-27")["charts"]
    planned = charts["charts"][0]["series"][0]["planned"]
    assert planned[0] == [0, 0.0]
    assert [7, 0.0] in planned
    assert [11, 4.0] in planned  # the fast start ends: four days of 1 mm
    assert planned[-1][1] == VALGUS.target_mm
    assert len(planned) < 10


def visits_of(client: httpx.Client) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = client.get(f"{COURSE}/course").json()["visits"]
    return found


def test_a_visit_is_added_replaced_and_taken_out(client: httpx.Client, error: Refusal) -> None:
    visit = {"seen_on": "2026-06-08", "clinical": {"nerves_examined": True, "pain_0_to_10": 3.0}}
    saved = client.post(f"{COURSE}/course/visits", json={"base_version": 1, "visit": visit})
    assert saved.status_code == 201, saved.text
    assert saved.json() == {"id": "course-b", "version": 2, "seen_on": "2026-06-08"}
    assert visits_of(client)[-1]["clinical"]["pain_0_to_10"] == 3.0

    again = client.post(f"{COURSE}/course/visits", json={"base_version": 2, "visit": visit})
    error(again, 409, "taken")
    changed = deepcopy(visit)
    changed["seen_on"] = "2026-06-09"
    moved = client.post(
        f"{COURSE}/course/visits", json={"base_version": 2, "visit": changed, "replaces": "2026-06-08"}
    )
    assert moved.json()["version"] == 3
    assert [v["seen_on"] for v in visits_of(client)][-2:] == ["2026-05-25", "2026-06-09"]

    gone = client.delete(f"{COURSE}/course/visits/2026-06-09", params={"base_version": 3})
    assert gone.json() == {"id": "course-b", "version": 4}
    error(client.delete(f"{COURSE}/course/visits/2026-06-09", params={"base_version": 4}), 404, "not-found")


def test_an_earlier_visit_is_put_in_order_of_dates(client: httpx.Client) -> None:
    client.post(f"{COURSE}/course/visits", json={"base_version": 1, "visit": {"seen_on": "2026-04-01"}})
    assert [v["seen_on"] for v in visits_of(client)][:3] == ["2026-03-30", "2026-04-01", "2026-04-13"]


def test_a_visit_that_cannot_be_is_refused_by_its_field(client: httpx.Client, error: Refusal) -> None:
    visit = {"seen_on": "2026-06-08", "clinical": {"pain_0_to_10": 30}}
    said = error(
        client.post(f"{COURSE}/course/visits", json={"base_version": 1, "visit": visit}), 422, "unreadable"
    )
    assert said["problems"][0]["path"].startswith("$.course.visits[5].clinical")
    before = {"seen_on": "2026-03-01"}
    error(
        client.post(f"{COURSE}/course/visits", json={"base_version": 1, "visit": before}), 422, "unreadable"
    )
    assert len(visits_of(client)) == 5


def test_two_who_save_at_once_conflict(client: httpx.Client, error: Refusal) -> None:
    for day, status in (("2026-06-08", 201), ("2026-06-22", 409)):
        answer = client.post(f"{COURSE}/course/visits", json={"base_version": 1, "visit": {"seen_on": day}})
        assert answer.status_code == status
    assert error(answer, 409, "conflict")["version"] == 2


@pytest.mark.parametrize(
    ("change", "later_than"),
    [
        ({"kind": "rate", "rate_mm_per_day": 0.5}, 0),
        ({"kind": "hold", "days": 7}, 0),
    ],
)
def test_a_change_tried_moves_the_target_and_saves_nothing(
    client: httpx.Client, change: dict[str, Any], later_than: int
) -> None:
    answer = client.post(
        f"{COURSE}/course/what-if", json={"bone": "tibia", "on": "2026-04-27", "change": change}
    )
    assert answer.status_code == 200, answer.text
    assert answer.json()["target_later_days"] > later_than
    assert answer.json()["forecast"][0]["day"] == 42
    assert client.get(f"{COURSE}/course").json()["version"] == 1


def test_a_rest_of_a_week_comes_a_week_later(client: httpx.Client) -> None:
    def later(change: dict[str, Any]) -> int:
        body = {"bone": "tibia", "on": "2026-04-27", "change": change}
        days: int = client.post(f"{COURSE}/course/what-if", json=body).json()["target_later_days"]
        return days

    assert later({"kind": "hold", "days": 7}) - later({"kind": "continue"}) == 7


@pytest.mark.parametrize(
    "change",
    [
        {"kind": "rate", "rate_mm_per_day": 0.5},
        {"kind": "hold", "days": 7},
        {"kind": "reverse", "back_mm": 3},
        {"kind": "accordion", "turn_days": 5},
        {"kind": "continue"},
        {"kind": "end"},
    ],
)
def test_every_change_can_be_prescribed_and_is_a_version(
    client: httpx.Client, change: dict[str, Any]
) -> None:
    body = {"bone": "tibia", "on": "2026-04-27", "change": change, "base_version": 1, "reason": "drift"}
    answer = client.post(f"{COURSE}/course/prescription", json=body)
    assert answer.status_code == 200, answer.text
    assert answer.json() == {"id": "course-b", "version": 2, "from_day": 43}
    document = client.get(COURSE).json()["case"]
    (amendment,) = document["course"]["treatments"][0]["amendments"]
    assert (amendment["from_day"], amendment["reason"]) == (43, "drift")
    (charts,) = on(client, "2026-04-27")["charts"]
    assert {"what": "change: drift", "day": 43} in charts["events"]


def test_a_nurse_records_a_visit_but_does_not_prescribe(
    store: Store, log_in: Callable[[str, str], httpx.Client], error: Refusal
) -> None:
    store.users.add("nurse", "a long password 1", Role.PLAN, by="test")
    nurse = log_in("nurse", "a long password 1")
    body = {"base_version": 1, "visit": {"seen_on": "2026-06-08"}}
    assert nurse.post(f"{COURSE}/course/visits", json=body).status_code == 201
    change = {"bone": "tibia", "on": "2026-06-08", "change": {"kind": "end"}, "base_version": 2}
    error(nurse.post(f"{COURSE}/course/prescription", json=change), 403, "role")
    nurse.headers["X-CSRF-Token"] = "wrong"
    error(nurse.post(f"{COURSE}/course/visits", json=body), 403, "csrf")


def test_a_bone_that_is_not_lengthened_and_a_case_before_its_operation(
    client: httpx.Client, store: Store, error: Refusal
) -> None:
    body = {"bone": "femur", "on": "2026-04-27", "change": {"kind": "end"}}
    error(client.post(f"{COURSE}/course/what-if", json=body), 422, "refused")
    document = client.get(COURSE).json()["case"]
    document |= {"id": "before", "course": None}
    store.cases.create(case_from_json(json.dumps(document), complete=False), who="t", why="t")
    found = client.get("/api/cases/before/course").json()
    assert (found["outlook"], found["charts"]) == (None, [])
    for path in ("patient-sheet.pdf", "diary.pdf", "closing-letter.pdf"):
        error(client.get(f"/api/cases/before/{path}"), 409, "no-course")
    assert client.get("/api/cases/before/outcome").json()["outcome"] is None


def test_a_day_before_the_operation_says_so_in_place_of_an_outlook(client: httpx.Client) -> None:
    found = on(client, "2026-03-01")
    assert found["outlook"] is None
    assert "no bone was operated on" in found["absent"]["found"]


def test_a_day_decades_later_is_refused_and_not_computed(client: httpx.Client, error: Refusal) -> None:
    error(client.get(f"{COURSE}/course", params={"on": "9999-12-31"}), 422, "refused")
    for path in ("patient-sheet.pdf", "diary.pdf"):
        error(client.get(f"/api/cases/course-b/{path}", params={"on": "9999-12-31"}), 422, "refused")
    body = {"bone": "tibia", "on": "9999-12-31", "change": {"kind": "end"}}
    error(client.post(f"{COURSE}/course/what-if", json=body), 422, "refused")
    error(client.post(f"{COURSE}/course/prescription", json={**body, "base_version": 1}), 422, "refused")


def test_the_diary_is_ticked_and_unticked(client: httpx.Client) -> None:
    days = [{"on": "2026-04-01", "steps": 0, "note": "not made"}, {"on": "2026-04-02", "steps": 3}]
    body = {"base_version": 1, "bone": "tibia", "days": days}
    assert client.post(f"{COURSE}/course/diary", json=body).json()["version"] == 2
    (treatment,) = client.get(COURSE).json()["case"]["course"]["treatments"]
    assert [(d["on"], d["steps"]) for d in treatment["diary"]] == [("2026-04-01", 0), ("2026-04-02", 3)]
    (charts,) = on(client, "2026-04-27")["charts"]
    doses = {d["on"]: d for d in charts["doses"]}
    assert doses["2026-04-01"] == {
        "day": 16,
        "on": "2026-04-01",
        "prescribed": 3,
        "made": 0,
        "written_down": True,
    }
    assert (doses["2026-04-03"]["made"], doses["2026-04-03"]["written_down"]) == (3, False)
    body = {"base_version": 2, "bone": "tibia", "days": [{"on": "2026-04-01", "steps": None}]}
    client.post(f"{COURSE}/course/diary", json=body)
    (treatment,) = client.get(COURSE).json()["case"]["course"]["treatments"]
    assert [d["on"] for d in treatment["diary"]] == ["2026-04-02"]


def test_outcome(client: httpx.Client) -> None:
    (bone,) = client.get(f"{COURSE}/outcome").json()["outcome"]["bones"]
    assert bone["achieved"]["mm"] == 40.1
    assert bone["accuracy_percent"] == pytest.approx(99.8, abs=0.06)
    assert bone["frontal"] == {"deg": 7.2, "direction": "valgus"}


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("patient-sheet.pdf?on=2026-04-01&language=de&telephone=000%2011", "Telefon: 000 11"),
        ("diary.pdf?on=2026-04-01&days=7", "Diary for the lower leg"),
        ("closing-letter.pdf", "Dear colleague"),
    ],
)
def test_printed_pages(client: httpx.Client, path: str, words: str) -> None:
    answer = client.get(f"/api/cases/course-b/{path}")
    assert answer.headers["content-type"] == "application/pdf"
    text = " ".join(PdfReader(io.BytesIO(answer.content)).pages[0].extract_text().split())
    assert words in text
    assert translation("de" if "language=de" in path else "en").gettext(CAUTION) in text


def test_an_unknown_language_is_refused(client: httpx.Client, error: Refusal) -> None:
    error(client.get(f"{COURSE}/patient-sheet.pdf", params={"language": "xx"}), 422, "refused")


def test_practice_audit_with_its_cases_and_csv(client: httpx.Client, error: Refusal) -> None:
    left = client.get("/api/results").json()
    assert (left["treated_bones"], left["invented_left_out"]) == (0, 3)
    found = client.get("/api/results", params={"invented": True, "period": "quarter"}).json()
    assert (found["treated_bones"], found["cases"]) == (3, ["course-a", "course-b", "course-c"])
    for name in found["sheets"]:
        lines = client.get(f"/api/results/{name}.csv", params={"invented": True}).text.splitlines()
        assert lines[0] == f"# {CAUTION}"
        assert "," in lines[1]
    error(client.get("/api/results/nothing.csv"), 404, "not-found")


def test_everything_is_described(app: FastAPI) -> None:
    paths = app.openapi()["paths"]
    for path in ("/course", "/course/visits", "/course/what-if", "/course/prescription", "/course/diary"):
        (described,) = list(paths["/api/cases/{case_id}" + path].values())
        assert described["summary"]
        assert "4XX" in described["responses"]


@pytest.mark.parametrize("page", ["course", "visit", "outcome"])
def test_pages_carry_data_and_caution(client: httpx.Client, page: str) -> None:
    answer = client.get(f"/cases/course-b/{page}", headers={"accept": "text/html"})
    assert answer.status_code == 200, answer.text
    assert CAUTION in answer.text
    assert 'id="page-data"' in answer.text


def test_the_practice_page(client: httpx.Client) -> None:
    answer = client.get("/results?invented=true", headers={"accept": "text/html"})
    assert answer.status_code == 200
    assert CAUTION in answer.text


def test_the_calendar_is_updated_and_dropped_entries_are_cancelled(client: httpx.Client) -> None:
    first = Calendar.from_ical(client.get(f"{COURSE}/calendar.ics").text)
    assert {int(e["SEQUENCE"]) for e in first.walk("VEVENT")} == {0}
    change = {"kind": "end"}
    body = {"bone": "tibia", "on": "2026-04-13", "change": change, "base_version": 1, "reason": "tight ankle"}
    assert client.post(f"{COURSE}/course/prescription", json=body).status_code == 200
    now = Calendar.from_ical(client.get(f"{COURSE}/calendar.ics?language=de").text)
    kept = {str(e["UID"]) for e in now.walk("VEVENT")}
    assert {int(e["SEQUENCE"]) for e in now.walk("VEVENT")} == {1}
    assert any("Verlängern" in str(e["SUMMARY"]) for e in now.walk("VEVENT"))
    dropped = Calendar.from_ical(client.get(f"{COURSE}/calendar.ics?cancelled=true").text)
    assert dropped["METHOD"] == "CANCEL"
    gone = {str(e["UID"]) for e in dropped.walk("VEVENT")}
    assert gone
    assert not gone & kept
    assert gone | kept == {str(e["UID"]) for e in first.walk("VEVENT")} | kept


def test_an_offer_of_the_own_results_changes_the_profile_only_when_it_is_taken(
    client: httpx.Client, store: Store, error: Refusal
) -> None:
    nail = next(n for n in shipped_catalogue().nails if n.name == "T-10.7/305")
    base = DEMO_COURSES[0].case(Profile(), nail)
    assert base.course is not None
    (one,) = base.course.treatments
    fewer = {"base_version": 0, "changes": {"audit_min_bones_offer": 10}}
    assert client.put("/api/profile", json=fewer).status_code == 200
    for n in range(10):
        healed = one.operated_on + timedelta(days=200 + n)
        course = replace(base.course, treatments=(replace(one, consolidated_on=healed),))
        store.cases.create(replace(base, id=f"own-{n}", invented=False, course=course), who="test", why="own")

    def offered() -> tuple[dict[str, Any], dict[str, Any]]:
        found = client.get("/api/results").json()
        return found, {o["setting"]: o for o in found["offers"]}

    name = "healing_index_tibia_days_per_cm"
    found, offers = offered()
    offer = offers[name]
    assert offer["own"] != offer["present"] == Profile().healing_index_tibia_days_per_cm
    stored = client.get("/api/profile").json()
    assert stored["version"] == found["profile_version"]
    assert [s["name"] for s in stored["settings"] if s["changed"]] == ["audit_min_bones_offer"]

    taken = {"base_version": found["profile_version"], "changes": {name: offer["own"]}, "why": "own results"}
    assert client.put("/api/profile", json=taken).status_code == 200
    again, offers = offered()
    assert again["profile_version"] == found["profile_version"] + 1
    assert offers[name]["present"] == offer["own"]
    error(client.put("/api/profile", json=taken | {"changes": {name: offer["present"]}}), 409, "conflict")
