"""Assisted reading through the API: what comes back is what the film shows, as a case keeps it."""

import json
import sys
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
from fastapi import FastAPI
from PIL import Image

from limbwright.case.document import case_to_json
from limbwright.cli import demo_films
from limbwright.cli.demo_patients import ADULT_TIBIA

# Films drawn from formulas, on which every edge is known exactly.
sys.path.insert(0, str(Path(__file__).parents[1] / "film"))
from drawn_films import Tube, ball, developed, head, joint

PX_MM = 0.2
ErrorCheck = Callable[[httpx.Response, int, str], dict[str, Any]]


@pytest.fixture
def app(shared_app: FastAPI) -> FastAPI:
    """One application for the whole file: nothing is saved by a reading."""
    return shared_app


def record(client: httpx.Client, grey: np.ndarray, **also: Any) -> dict[str, Any]:
    """A drawn film put into the store, as a frontal film's record; its scale is a ball's."""
    out = BytesIO()
    Image.fromarray(grey).save(out, "PNG")
    answer = client.post("/api/films", files=[("files", ("drawn.png", out.getvalue()))])
    assert answer.status_code == 201, answer.text
    rows, columns = grey.shape
    known = {
        "diameter_mm": 25.0,
        "centre": {"x_px": 20.0, "y_px": 20.0, "provenance": "known"},
        "radius_px": 12.5 / PX_MM,
        "radius_sd_px": 0.1,
    }
    return {
        "name": "frontal",
        "sha256": answer.json()["films"][0]["sha256"],
        "projection": "frontal",
        "width_px": columns,
        "height_px": rows,
        "scale": {"ball": known},
        **also,
    }


def asked(client: httpx.Client, call: str, film: dict[str, Any], **question: Any) -> httpx.Response:
    return client.post(f"/api/films/{film['sha256']}/{call}", json={"film": film, **question})


def snapped(client: httpx.Client, film: dict[str, Any], **question: Any) -> dict[str, Any]:
    answer = asked(client, "snap", film, **question)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_a_head_is_found_from_a_click_beside_its_centre(client: httpx.Client) -> None:
    film = record(client, developed(head(px_mm=PX_MM)))
    found = snapped(
        client, film, what="landmark", side="left", landmark="femoral_head_centre", clicks_px=[[235.0, 225.0]]
    )
    mark = found["marks"]["femoral_head_centre"]
    assert (mark["x_px"], mark["y_px"]) == (pytest.approx(226.4, abs=2.0), pytest.approx(235.1, abs=2.0))
    assert mark["provenance"] == "snapped"
    assert found["shape"]["radius_px"] == pytest.approx(24.0 / PX_MM, rel=0.03)
    assert found["sd_mm"] == pytest.approx(found["sd_px"] * PX_MM, rel=0.02)
    assert found["moved_px"] == pytest.approx(13.3, abs=2.5)
    assert found["refused"] is None


def test_a_ball_becomes_evidence_of_scale(client: httpx.Client) -> None:
    film = record(client, developed(ball(px_mm=0.143)))
    film["scale"] = {}
    found = snapped(client, film, what="calibration ball", clicks_px=[[190.0, 170.0]], diameter_mm=25.8)
    assert found["scale"]["ball"]["radius_px"] == pytest.approx(12.9 / 0.143, rel=0.01)
    assert found["mm_per_px"] == pytest.approx(0.143, rel=0.01)
    assert found["sd_mm"] is None  # no scale yet
    assert [f["id"] for f in found["findings"]] == ["film-spacing-assumed"]


def test_a_joint_line_moves_both_its_ends(client: httpx.Client) -> None:
    film = record(client, developed(joint(px_mm=PX_MM)))
    condyles = {"lateral_femoral_condyle": {"x_px": 187.0, "y_px": 138.0, "provenance": "clicked"}}
    question = {
        "what": "landmark",
        "side": "right",
        "landmark": "medial_femoral_condyle",
        "clicks_px": [[412.0, 143.0]],
    }
    alone = snapped(client, film, **question)
    assert "is not marked" in alone["refused"]["found"]
    assert alone["marks"] == {}
    found = snapped(client, {**film, "right": condyles}, **question)
    assert set(found["marks"]) == {"medial_femoral_condyle", "lateral_femoral_condyle"}
    # The lowest points of both condyles: 150 rows down, 2 mm above it.
    for mark in found["marks"].values():
        assert mark["y_px"] == pytest.approx(150 - 2.0 / PX_MM, abs=2.0)
    both = snapped(client, film, **{**question, "clicks_px": [[412.0, 143.0], [187.0, 138.0]]})
    assert both["marks"] == found["marks"]
    middle = snapped(
        client,
        {**film, "right": found["marks"]},
        what="landmark",
        side="right",
        landmark="femur_knee_centre",
        clicks_px=[[300.0, 150.0]],
    )
    assert middle["marks"]["femur_knee_centre"]["x_px"] == pytest.approx(300.0, abs=6.0)
    # Along the line the middle is less sure than an end is across it.
    across = found["marks"]["medial_femoral_condyle"]["sd_px"]
    assert middle["marks"]["femur_knee_centre"]["sd_px"] > across / 2**0.5


def test_a_shaft_is_traced_and_the_case_takes_the_walls(client: httpx.Client) -> None:
    tube = Tube(px_mm=PX_MM, waist_mm=2.0, lean_deg=2.0)
    film = record(client, tube.film())
    answer = asked(
        client,
        "trace",
        film,
        side="left",
        bone="tibia",
        clicks_px=[tube.click(0.05, 2.0), tube.click(0.95, -2.0)],
    )
    assert answer.status_code == 200, answer.text
    found = answer.json()
    assert found["refused"] is None
    assert found["isthmus"]["width"]["mm"] == pytest.approx(8.0, abs=0.5)
    assert found["isthmus"]["y_px"] == pytest.approx(350, abs=40)
    low, high = found["isthmus"]["width"]["low_mm"], found["isthmus"]["width"]["high_mm"]
    assert low < found["isthmus"]["width"]["mm"] < high
    for edge, sign, half in zip(found["edges"][2:], (-1, 1), (13.0, 13.0), strict=True):
        assert edge["surface"] == "outer"
        for x, y in edge["points_px"]:
            row = min(round(y), 699)
            true = tube.centre_mm[row] + sign * half / tube.cosine[row, 0]
            assert x * PX_MM == pytest.approx(true, abs=0.4)
    assert {w["border"] for w in found["walls"]} == {"medial", "lateral"}
    assert {w["provenance"] for w in found["walls"]} == {"snapped"}
    assert found["widths"][0]["bone_mm"] == pytest.approx(26.0, abs=0.6)
    assert found["film_walls"] == found["walls"]
    # Traced again with a pin: the wall goes through it, and says so.
    pin = {"x_px": found["edges"][1]["points_px"][60][0] + 4.0, "y_px": 300.0}
    again = asked(
        client,
        "trace",
        {**film, "walls": found["film_walls"]},
        side="left",
        bone="tibia",
        clicks_px=[tube.click(0.05), tube.click(0.95)],
        pins=[{**pin, "surface": "inner", "border": found["edges"][1]["border"]}],
    ).json()
    (pinned,) = [w for w in again["walls"] if w["provenance"] == "pinned"]
    assert pinned["pins"] == [[pin["x_px"], pin["y_px"]]]
    assert (pinned["surface"], pinned["border"]) == ("inner", found["edges"][1]["border"])
    assert [e["pinned"] for e in again["edges"]] == [False, True, False, False]
    assert len(again["film_walls"]) == 4  # in place of the earlier ones, not beside them


def test_a_shaft_point_goes_to_the_middle_with_walls_and_without(client: httpx.Client) -> None:
    tube = Tube(px_mm=PX_MM, lean_deg=3.0)
    film = record(client, tube.film())
    click = tube.click(0.5, 4.0)
    question = {
        "what": "landmark",
        "side": "left",
        "landmark": "tibia_proximal_shaft_lower",
        "clicks_px": [click],
    }
    bare = snapped(client, film, **question)
    walls = asked(
        client, "trace", film, side="left", bone="tibia", clicks_px=[tube.click(0.05), tube.click(0.95)]
    ).json()["film_walls"]
    walled = snapped(client, {**film, "walls": walls}, **question)
    for found in (bare, walled):
        mark = found["marks"]["tibia_proximal_shaft_lower"]
        true = tube.centre_mm[round(mark["y_px"])] / PX_MM
        assert mark["x_px"] == pytest.approx(true, abs=1.0)
        assert found["moved_px"] == pytest.approx(4.0 / PX_MM, abs=1.5)


def test_a_film_that_shows_nothing_is_refused_in_words(client: httpx.Client) -> None:
    grain = np.random.Generator(np.random.PCG64(3)).integers(7000, 9000, (700, 500)).astype(np.uint16)
    film = record(client, grain)
    trace = asked(
        client, "trace", film, side="left", bone="tibia", clicks_px=[[250.0, 40.0], [250.0, 650.0]]
    ).json()
    snap = snapped(
        client, film, what="landmark", side="left", landmark="femoral_head_centre", clicks_px=[[250.0, 300.0]]
    )
    poor = trace["refused"] is not None or trace["poor"]
    assert poor
    assert snap["refused"]["found"]
    assert snap["refused"]["next"]
    assert snap["marks"] == {}


def test_without_scale_millimetres_are_left_out(client: httpx.Client) -> None:
    tube = Tube(px_mm=0.15)
    film = record(client, tube.film(), scale={})
    found = asked(
        client, "trace", film, side="left", bone="tibia", clicks_px=[tube.click(0.05), tube.click(0.95)]
    ).json()
    assert found["isthmus"] is None
    assert "no scale" in found["isthmus_refused"]["found"]
    assert found["length_mm"] is None
    assert {w["bone_mm"] for w in found["widths"]} == {None}
    assert len(found["walls"]) == 4


@pytest.mark.parametrize(
    ("question", "words"),
    [
        ({"what": "landmark", "landmark": "femoral_head_centre"}, "side is not given"),
        ({"what": "landmark", "side": "left"}, "no landmark"),
        ({"what": "landmark", "side": "left", "landmark": "femoral_neck_centre"}, "cannot be snapped"),
        ({"what": "calibration ball"}, "diameter_mm is not given"),
        ({"what": "ruler"}, "two are needed"),
    ],
)
def test_an_incomplete_question_is_refused(
    client: httpx.Client, error: ErrorCheck, question: dict[str, Any], words: str
) -> None:
    film = record(client, Tube().film())
    said = error(asked(client, "snap", film, clicks_px=[[10.0, 10.0]], **question), 422, "refused")
    assert words in said["found"]


def test_questions_about_another_film_or_place_are_refused(client: httpx.Client, error: ErrorCheck) -> None:
    film = record(client, Tube().film())
    shaft = {"side": "left", "bone": "tibia"}
    outside = asked(client, "trace", film, clicks_px=[[10.0, 10.0], [10.0, 9000.0]], **shaft)
    assert "on a film of 500 x 700 px" in error(outside, 422, "refused")["found"]
    other = {**film, "sha256": "0" * 64}
    answer = client.post(
        f"/api/films/{film['sha256']}/trace",
        json={"film": other, "clicks_px": [[250.0, 10.0], [250.0, 600.0]], **shaft},
    )
    assert "another film" in error(answer, 422, "refused")["found"]
    error(asked(client, "trace", other, clicks_px=[[250.0, 10.0], [250.0, 600.0]], **shaft), 404, "not-found")
    bent = {**film, "projection": "oblique"}
    error(asked(client, "trace", bent, clicks_px=[[250.0, 10.0], [250.0, 600.0]], **shaft), 422, "unreadable")
    wrong = asked(
        client,
        "trace",
        film,
        clicks_px=[[250.0, 10.0], [250.0, 600.0]],
        pins=[{"x_px": 1, "y_px": 1, "surface": "inner", "border": "anterior"}],
        **shaft,
    )
    assert "anterior wall" in error(wrong, 422, "refused")["found"]


def test_what_can_be_snapped_is_listed(client: httpx.Client) -> None:
    kinds = client.get("/api/films/snap-kinds").json()["landmarks"]
    assert kinds["medial_plateau"] == {"how": "line", "projections": ["frontal"], "with": ["lateral_plateau"]}
    assert kinds["tibia_proximal_shaft_upper"]["projections"] == ["frontal", "sagittal"]


@pytest.fixture(scope="module")
def bare_case(shared_app: FastAPI) -> dict[str, Any]:
    """The invented case on films fine enough to be traced, without a wall."""
    case, films = demo_films.invented_case(ADULT_TIBIA, pixel_mm=0.7)
    for content in films:
        shared_app.state.workbench.store.films.put(content)
    document: dict[str, Any] = json.loads(case_to_json(case))
    for film in document["films"]:
        film.pop("walls")
    return document


def test_walls_traced_in_the_browser_are_what_the_planner_uses(
    client: httpx.Client, bare_case: dict[str, Any]
) -> None:
    def planned() -> dict[str, Any]:
        answer = client.post("/api/work/plan", json={"session": "walls", "case": bare_case})
        found: dict[str, Any] = answer.json()
        return found

    before = {finding["id"] for finding in planned()["findings"]}
    assert {"canal-not-traced", "pins-not-placed"} <= before
    for film in bare_case["films"]:
        marks = film.get("left", {})
        for part in ("proximal", "distal"):
            ends = [marks.get(f"tibia_{part}_shaft_{end}") for end in ("upper", "lower")]
            if None in ends:
                continue
            clicks = [[end["x_px"] + 1.0, end["y_px"]] for end in ends]
            traced = asked(client, "trace", film, side="left", bone="tibia", clicks_px=clicks).json()
            assert traced["refused"] is None
            film["walls"] = traced["film_walls"]
    after = planned()
    assert not {"canal-not-traced", "pins-not-placed"} & {f["id"] for f in after["findings"]}
    assert after["plan"]["bones"][0]["pins"]
