"""A follow-up film over the API: clicks in; the visit with marks and readings out, saved with the film."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from limbwright.cli.demo_course_films import FilmedCourse, TakenFilm, filmed_course
from limbwright.cli.demo_courses import TIGHT
from limbwright.implant.shipped import shipped_catalogue
from limbwright.practice.profile import Profile
from limbwright.store.store import Store, open_store
from limbwright.web.app import create_app
from limbwright.web.settings import Settings

Refusal = Callable[[httpx.Response, int, str], dict[str, Any]]
CASE = "/api/cases/course-c"
SEEN_ON = "2026-04-13"


@pytest.fixture(scope="module")
def filmed() -> FilmedCourse:
    """The first films and those of day 28."""
    nail = next(n for n in shipped_catalogue().nails if n.name == "T-10.7/305")
    return filmed_course(replace(TIGHT, visits=TIGHT.visits[1:2]), Profile(), nail)


@pytest.fixture
def store(filmed: FilmedCourse, tmp_path: Any) -> Iterator[Store]:
    """The case as it stands before day 28: only the first films belong to it; the others lie in the store."""
    case, course = filmed.case, filmed.case.course
    assert course is not None
    with open_store(tmp_path / "home") as opened:
        for taken in filmed.films:
            opened.films.put(taken.content)
        before = replace(case, films=case.films[:2], course=replace(course, visits=course.visits[:1]))
        opened.cases.create(before, who="demo", why="invented")
        no_nail = tuple(replace(t, nail=None) for t in course.treatments)
        bare = replace(before, id="bare", course=replace(course, treatments=no_nail, visits=()))
        opened.cases.create(bare, who="demo", why="invented")
        yield opened


@pytest.fixture
def app(store: Store, tmp_path: Any) -> FastAPI:
    return create_app(Settings(home=tmp_path / "home"), store=store)


def film_asked(taken: TakenFilm) -> dict[str, Any]:
    film = taken.film
    return {
        "sha256": film.sha256,
        "name": film.name,
        "projection": film.projection.value,
        "taken_on": SEEN_ON,
        "right_side_at": "viewer left",
        "anterior_at": None if film.anterior_at is None else film.anterior_at.value,
        "standing": False,
    }


def asked(taken: TakenFilm, visit: dict[str, Any]) -> dict[str, Any]:
    return {"bone": "tibia", "film": film_asked(taken), "clicks": taken.clicks.places(), "visit": visit}


def test_both_films_fill_the_visit_and_are_saved_with_it(client: httpx.Client, filmed: FilmedCourse) -> None:
    frontal, sagittal = filmed.films[2:4]
    visit: dict[str, Any] = {"seen_on": SEEN_ON, "note": "walks well"}
    for taken, others in ((frontal, []), (sagittal, [film_asked(frontal)])):
        body = {**asked(taken, visit), "films": others}
        answer = client.post(f"{CASE}/course/film-reading", json=body)
        assert answer.status_code == 200, answer.text
        visit = answer.json()["visit"]
        reading = answer.json()["reading"]
        assert reading["gained"]["mm"] == pytest.approx(16.4, abs=3 * reading["gained"]["sd_mm"])
        assert reading["gained"]["sd_mm"] < 0.5
        assert reading["agreement"]["prescribed_mm"] == 16.75
        assert reading["agreement"]["slip_mm"] is None
        assert reading["overlap"]["mm"] > 100
        assert {a["measure"] for a in reading["joint_angles"]} in ({"MPTA", "LDTA"}, {"PPTA", "ADTA"})
        assert set(reading["new_bone"]["cortices"]) == {"viewer left", "viewer right"}
        assert reading["new_bone"]["cortices"]["viewer left"]["pixel_value_ratio_sd"] > 0
    assert reading["angulation"]["direction"] in ("procurvatum", "recurvatum")
    assert client.get(CASE).json()["version"] == 1  # reading saves nothing
    assert visit["note"] == "walks well"
    assert {m["projection"] for m in visit["marks"]} == {"frontal", "sagittal"}
    assert visit["marks"][0]["nail_thin_end"]["provenance"] == "snapped"
    assert {c["cortex"] for c in visit["new_bone"][0]["cortices"]} == {
        "medial",
        "lateral",
        "anterior",
        "posterior",
    }
    saved = {"base_version": 1, "visit": visit, "films": [film_asked(frontal), film_asked(sagittal)]}
    answer = client.post(f"{CASE}/course/visits", json=saved)
    assert answer.status_code == 201, answer.text
    case = client.get(CASE).json()["case"]
    assert [f["name"] for f in case["films"]][2:] == ["day 28 frontal", "day 28 sagittal"]
    assert case["course"]["visits"][-1] == visit


def test_a_film_at_odds_with_the_diary_says_so(client: httpx.Client, filmed: FilmedCourse) -> None:
    diary = [{"on": f"2026-04-{day:02d}", "steps": 0} for day in range(1, 12)]
    client.post(f"{CASE}/course/diary", json={"base_version": 1, "bone": "tibia", "days": diary})
    visit = {"seen_on": SEEN_ON}
    answer = client.post(f"{CASE}/course/film-reading", json=asked(filmed.films[2], visit)).json()
    agreement = answer["reading"]["agreement"]
    assert agreement["reported_mm"] < agreement["prescribed_mm"] - 5
    assert {"doses-differ", "length-differs-from-diary"} & {f["id"] for f in answer["reading"]["findings"]}


def test_what_cannot_be_read_is_refused_in_words(
    client: httpx.Client, filmed: FilmedCourse, error: Refusal
) -> None:
    taken, visit = filmed.films[2], {"seen_on": SEEN_ON}
    body = asked(taken, visit)
    no_nail = client.post("/api/cases/bare/course/film-reading", json=body)
    assert "diameter" in error(no_nail, 422, "refused")["next"]
    femur = client.post(f"{CASE}/course/film-reading", json={**body, "bone": "femur"})
    assert "femur" in error(femur, 422, "refused")["found"]
    off = {**body["clicks"], "nail_thin_end": (5000, 5000)}
    wrong = client.post(f"{CASE}/course/film-reading", json={**body, "clicks": off})
    assert "click" in error(wrong, 422, "refused")["found"]
    dark = {
        **body["clicks"],
        "nail_thick_end": (20, 100),
        "nail_junction": (20, 800),
        "nail_thin_end": (20, 900),
    }
    missed = client.post(f"{CASE}/course/film-reading", json={**body, "clicks": dark})
    assert "edges of metal" in error(missed, 422, "refused")["found"]
    part = {k: v for k, v in body["clicks"].items() if k != "cut_lower"}
    half = client.post(f"{CASE}/course/film-reading", json={**body, "clicks": part})
    assert "cut_lower" in error(half, 422, "refused")["next"]
