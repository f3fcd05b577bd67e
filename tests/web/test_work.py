"""The light table: drags agree with plans, days with drawings, and what cannot be stops at its limit."""

from collections.abc import Callable
from copy import deepcopy
from typing import Any

import httpx
import numpy as np
import pytest

from limbwright.limb.landmark import Landmark
from limbwright.plan.uncertainty.values import MEASURABLE
from limbwright.web.work.change import MovedLandmark
from limbwright.web.work.room import WorkRoom

ErrorCheck = Callable[[httpx.Response, int, str], dict[str, Any]]


@pytest.fixture(scope="module")
def client(shared_client: httpx.Client) -> httpx.Client:
    """Nothing is saved here, so that one application serves all tests."""
    return shared_client


@pytest.fixture(scope="module")
def first_plan(client: httpx.Client) -> dict[str, Any]:
    document = client.get("/api/cases/demo-a").json()["case"]
    answer = client.post("/api/work/plan", json={"session": "s", "case": document})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


@pytest.fixture
def planned(first_plan: dict[str, Any]) -> dict[str, Any]:
    """The answer to planning the invented case, in session `s`, which stays open."""
    return deepcopy(first_plan)


def dragged(
    client: httpx.Client, planned: dict[str, Any], change: dict[str, Any], **more: Any
) -> dict[str, Any]:
    body = {"session": "s", "base": planned["base"], "change": change, **more}
    answer = client.post("/api/work/drag", json=body)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def number(reading: dict[str, Any]) -> float:
    """The value of a reading, signed by its direction where it has one."""
    size = reading.get("deg", reading.get("mm"))
    assert isinstance(size, float | int)
    return -size if reading.get("direction") in {"lateral", "valgus"} else size


def by_measure(readings: list[dict[str, Any]]) -> dict[str, float]:
    return {r["measure"]: number(r) for r in readings}


def moved(matrix: list[list[float]], point: list[float]) -> np.ndarray:
    return np.array(matrix) @ [*point, 1.0]


def landmarks(drawing: dict[str, Any]) -> dict[str, list[float]]:
    return {s["label"]: s["points_mm"][0] for s in drawing["shapes"] if s["kind"] == "landmark"}


def bone_of(planned: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = planned["plan"]["bones"][0]
    return found


def test_measuring_gives_readings_apexes_lines_and_scales(
    client: httpx.Client, document: dict[str, Any]
) -> None:
    answer = client.post("/api/work/measure", json={"session": "m", "case": document}).json()
    treated = by_measure(answer["measured"]["treated"]["readings"])
    assert treated["MPTA"] > 90
    tibia = next(d for d in answer["deformities"] if d["bone"] == "tibia")
    apex = tibia["planes"][0]["apexes"][0]
    assert apex["direction"] == "valgus"
    assert apex["point_mm"][1] == pytest.approx(-apex["below_joint_mm"], abs=6)
    assert answer["lines"]["left"]["frontal"]["shapes"]
    assert [f["scale"]["method"] for f in answer["films"]] == ["calibration ball"] * 3
    assert answer["measured_absent"] is None
    assert answer["missing"] == []


def test_pixels_and_millimetres_map_onto_each_other(
    client: httpx.Client, planned: dict[str, Any], document: dict[str, Any]
) -> None:
    for film, told in zip(document["films"], planned["films"], strict=True):
        for leg in told["legs"]:
            there, back = np.array(leg["mm_from_px"]), leg["px_from_mm"]
            point = there @ [100.0, 300.0, 1.0]
            assert moved(back, list(point)) == pytest.approx([100.0, 300.0], abs=1e-4)
            lines = planned["lines"][leg["side"]][told["projection"]]
            if lines is None:
                continue
            marks = {s["label"]: s["points_mm"][0] for s in lines["shapes"] if s["kind"] == "landmark"}
            for name, mark in film[leg["side"]].items():
                expected = there @ [mark["x_px"], mark["y_px"], 1.0]
                assert marks[name] == pytest.approx(list(expected), abs=0.01), name


def test_a_case_that_is_still_being_marked_says_what_is_missing(
    client: httpx.Client, document: dict[str, Any]
) -> None:
    for film in document["films"]:
        film.pop("left", None)
        film["walls"] = [w for w in film.get("walls", []) if w["side"] != "left"]
    answer = client.post("/api/work/plan", json={"session": "m", "case": document}).json()
    assert answer["measured"] is None
    assert "no film shows the left leg" in answer["measured_absent"]["found"]
    assert {m["landmark"] for m in answer["missing"]} >= {"femoral_head_centre", "ankle_centre"}
    assert answer["plan"] is None
    assert answer["plan_absent"]["next"]


def test_the_plan_tells_limits_course_and_drawings(planned: dict[str, Any]) -> None:
    bone = bone_of(planned)
    assert bone["bone"] == "tibia"
    low, high = bone["limits"]["osteotomy_below_joint_mm"][0]
    assert low < bone["osteotomy"]["below_joint_mm"] < high
    assert bone["nail"]["name"] in bone["limits"]["nails"]
    course = planned["course"][0]
    assert course["first_step_day"] == course["latency_days"] + 1
    assert 20 < course["last_step_day"] < 90
    assert set(planned["drawings"]) == {"as it stands", "corrected", "at full length"}
    ids = {s["id"] for s in planned["drawings"]["as it stands"]["frontal"]["shapes"] if s["id"]}
    assert {"nail-line/tibia/proximal", "osteotomy/tibia/distal", "landmark/ankle_centre"} <= ids
    assert planned["choice"]["recommended"] == "tibia alone"


def test_dragging_to_where_it_is_shows_what_the_plan_shows(
    client: httpx.Client, planned: dict[str, Any]
) -> None:
    bone = bone_of(planned)
    change = {"kind": "osteotomy", "bone": "tibia", "below_joint_mm": bone["osteotomy"]["below_joint_mm"]}
    answer = dragged(client, planned, change)
    end = by_measure(planned["outlook"]["stages"][2]["readings"])
    for measure, value in by_measure(answer["end"]).items():
        assert value == pytest.approx(end[measure], abs=0.05), measure
    assert answer["limited"] is None
    assert answer["nail_offer"]["fits"] is True
    kinds = {s["kind"] for s in answer["drawings"]["frontal"]["shapes"]}
    assert not kinds & {"inner wall", "outer wall"}
    whole = planned["drawings"]["at full length"]["frontal"]["shapes"]
    same = [s for s in whole if s["kind"] not in {"inner wall", "outer wall"}]
    for shape, other in zip(answer["drawings"]["frontal"]["shapes"], same, strict=True):
        assert (shape["label"], shape["id"]) == (other["label"], other["id"])
        assert np.allclose(shape["points_mm"], other["points_mm"], atol=0.1), shape["label"]


def test_a_dragged_osteotomy_is_where_a_plan_with_that_level_puts_it(
    client: httpx.Client, planned: dict[str, Any], document: dict[str, Any]
) -> None:
    level = bone_of(planned)["osteotomy"]["below_joint_mm"] + 6
    answer = dragged(client, planned, {"kind": "osteotomy", "bone": "tibia", "below_joint_mm": level})
    chosen = deepcopy(document)
    nail = bone_of(planned)["nail"]["name"]
    gain = bone_of(planned)["lengthening_mm"]
    chosen["goal"]["bones"] = [
        {"bone": "tibia", "osteotomy_below_joint_mm": level, "nail": nail, "lengthening_mm": gain}
    ]
    again = client.post("/api/work/plan", json={"session": "t", "case": chosen}).json()
    assert answer["bone"]["osteotomy"]["below_joint_mm"] == pytest.approx(level, abs=0.5)
    assert answer["bone"]["osteotomy"]["depth_mm"] == pytest.approx(
        bone_of(again)["osteotomy"]["depth_mm"], abs=0.3
    )
    end = by_measure(again["outlook"]["stages"][2]["readings"])
    for measure, value in by_measure(answer["end"]).items():
        assert value == pytest.approx(end[measure], abs=0.3), measure


def test_findings_follow_the_hand(client: httpx.Client, planned: dict[str, Any]) -> None:
    here = bone_of(planned)["osteotomy"]["below_joint_mm"]
    still = dragged(client, planned, {"kind": "osteotomy", "bone": "tibia", "below_joint_mm": here})
    renewed = set(still["findings"]["renewed"])
    said = {f["id"]: f["severity"] for f in planned["findings"] if f["id"] in renewed}
    assert {f["id"]: f["severity"] for f in still["findings"]["now"]} == said
    far = dragged(client, planned, {"kind": "osteotomy", "bone": "tibia", "below_joint_mm": here + 60})
    now = {f["id"]: f for f in far["findings"]["now"]}
    assert "translation-at-osteotomy" in now
    assert "translation-at-osteotomy" not in said
    assert set(now) <= renewed


def test_a_drag_draws_one_plane_when_it_is_named(client: httpx.Client, planned: dict[str, Any]) -> None:
    change = {"kind": "lengthening", "bone": "tibia", "lengthening_mm": 20.0}
    answer = dragged(client, planned, change, projection="sagittal", stage="corrected")
    assert answer["drawings"]["frontal"] is None
    assert answer["drawings"]["sagittal"]["stage"] == "corrected"
    assert answer["drawings"]["sagittal"]["gained_mm"] == 0
    assert answer["bone"]["lengthening_mm"] == 20.0


@pytest.mark.parametrize(
    ("change", "where", "unit"),
    [
        ({"kind": "osteotomy", "bone": "tibia", "below_joint_mm": 5.0}, "osteotomy, tibia", "mm"),
        ({"kind": "osteotomy", "bone": "tibia", "below_joint_mm": 900.0}, "osteotomy, tibia", "mm"),
        ({"kind": "lengthening", "bone": "tibia", "lengthening_mm": 120.0}, "lengthening, tibia", "mm"),
        ({"kind": "lengthening", "bone": "tibia", "lengthening_mm": -3.0}, "lengthening, tibia", "mm"),
    ],
)
def test_what_cannot_be_stops_at_its_limit_and_says_why(
    client: httpx.Client, planned: dict[str, Any], change: dict[str, Any], where: str, unit: str
) -> None:
    limited = dragged(client, planned, change)["limited"]
    assert (limited["where"], limited["unit"]) == (where, unit)
    assert limited["taken"] in {limited["low"], limited["high"]}
    assert limited["found"]
    assert limited["next"]


def test_a_dragged_landmark_changes_its_own_readings_and_no_others(
    client: httpx.Client, planned: dict[str, Any], document: dict[str, Any]
) -> None:
    mark = document["films"][0]["left"]["lateral_plateau"]
    change = {
        "kind": "landmark",
        "film": "frontal",
        "side": "left",
        "landmark": "lateral_plateau",
        "x_px": mark["x_px"],
        "y_px": mark["y_px"] + 1.0,
    }
    before = by_measure(planned["measured"]["treated"]["readings"])
    after = by_measure(dragged(client, planned, change)["readings"])
    assert abs(after["MPTA"] - before["MPTA"]) > 1
    assert abs(after["JLCA"] - before["JLCA"]) > 1
    for measure in ("mLDFA", "HKA", "LDTA", "femur length"):
        assert after[measure] == pytest.approx(before[measure], abs=1e-3)
    changed = deepcopy(document)
    changed["films"][0]["left"]["lateral_plateau"]["y_px"] += 1.0
    whole = client.post("/api/work/measure", json={"session": "m", "case": changed}).json()
    exact = by_measure(whole["measured"]["treated"]["readings"])
    assert after["MPTA"] == pytest.approx(exact["MPTA"], abs=1e-3)


def test_a_dragged_shaft_point_moves_the_apex_as_a_full_measurement_does(
    client: httpx.Client, planned: dict[str, Any], document: dict[str, Any]
) -> None:
    name = "tibia_distal_shaft_upper"
    mark = document["films"][0]["left"][name]
    change = {
        "kind": "landmark",
        "film": "frontal",
        "side": "left",
        "landmark": name,
        "x_px": mark["x_px"] + 0.4,
        "y_px": mark["y_px"],
    }
    quick = [a for a in dragged(client, planned, change)["apexes"] if a["bone"] == "tibia"]
    changed = deepcopy(document)
    changed["films"][0]["left"][name]["x_px"] += 0.4
    whole = client.post("/api/work/measure", json={"session": "m", "case": changed}).json()
    tibia = next(d for d in whole["deformities"] if d["bone"] == "tibia")
    exact = tibia["planes"][0]["apexes"][0]
    assert quick[0]["deg"] == pytest.approx(exact["deg"], abs=0.01)
    assert quick[0]["point_mm"] == pytest.approx(exact["point_mm"], abs=0.1)
    assert quick[0]["below_joint_mm"] == pytest.approx(exact["below_joint_mm"], abs=0.1)


def test_a_landmark_off_the_film_stops_at_its_edge(
    client: httpx.Client, planned: dict[str, Any], document: dict[str, Any]
) -> None:
    mark = document["films"][0]["left"]["ankle_centre"]
    change = {
        "kind": "landmark",
        "film": "frontal",
        "side": "left",
        "landmark": "ankle_centre",
        "x_px": mark["x_px"],
        "y_px": 5000.0,
    }
    answer = dragged(client, planned, change)
    assert answer["limited"]["asked"] == [mark["x_px"], 5000.0]
    assert mark["y_px"] <= answer["change"]["y_px"] < document["films"][0]["height_px"]


def test_moving_an_end_of_the_line_moves_the_end_of_the_leg(
    client: httpx.Client, planned: dict[str, Any]
) -> None:
    lower = bone_of(planned)["path"]["distal"][1]
    change = {
        "kind": "path",
        "bone": "tibia",
        "fragment": "distal",
        "end": "lower",
        "projection": "frontal",
        "across_mm": lower["lateral_mm"] + 3,
    }
    answer = dragged(client, planned, change)
    end = by_measure(planned["outlook"]["stages"][2]["readings"])
    after = by_measure(answer["end"])
    assert abs(after["MPTA"] - end["MPTA"]) > 0.5
    assert after["femur length"] == pytest.approx(end["femur length"], abs=0.01)
    again = client.post(
        "/api/work/plan",
        json={
            "session": "t",
            "case": client.get("/api/cases/demo-a").json()["case"],
            "alterations": [change],
        },
    ).json()
    assert again["alterations"] == [change]
    for measure, value in by_measure(again["outlook"]["stages"][2]["readings"]).items():
        assert value == pytest.approx(after[measure], abs=0.05), measure


def test_blocking_screws_are_added_moved_and_taken_away(
    client: httpx.Client, planned: dict[str, Any], document: dict[str, Any]
) -> None:
    before = len(bone_of(planned)["blocking_screws"])
    added = {
        "kind": "add-blocking-screw",
        "bone": "tibia",
        "fragment": "proximal",
        "side": "lateral",
        "from_osteotomy_mm": 14.0,
    }
    screws = dragged(client, planned, added)["bone"]["blocking_screws"]
    assert len(screws) == before + 1
    assert (screws[-1]["side"], screws[-1]["direction"]) == ("lateral", "anteroposterior")
    move = {"kind": "blocking-screw", "bone": "tibia", "index": before, "from_osteotomy_mm": 18.0}
    gone = {"kind": "remove-blocking-screw", "bone": "tibia", "index": before}
    for alterations, count in (([added, move], before + 1), ([added, move, gone], before)):
        body = {"session": "t", "case": document, "alterations": alterations}
        again = client.post("/api/work/plan", json=body).json()
        assert again["alterations_refused"] == []
        assert len(bone_of(again)["blocking_screws"]) == count
        # A screw beside the nail does not move the saw.
        assert bone_of(again)["osteotomy"]["below_joint_mm"] == pytest.approx(
            bone_of(planned)["osteotomy"]["below_joint_mm"], abs=0.01
        )
    body = {"session": "t", "case": document, "alterations": [added, move]}
    last = bone_of(client.post("/api/work/plan", json=body).json())["blocking_screws"][-1]
    assert last["from_osteotomy_mm"] == 18.0


def test_a_blocking_screw_beside_a_locking_screw_stops_before_it(
    client: httpx.Client, planned: dict[str, Any]
) -> None:
    change = {"kind": "blocking-screw", "bone": "tibia", "index": 0, "from_osteotomy_mm": 149.0}
    answer = dragged(client, planned, change)
    assert answer["limited"]["asked"] == 149.0
    assert answer["change"]["from_osteotomy_mm"] < 149.0
    assert "screw" in answer["limited"]["found"] or "nail" in answer["limited"]["found"]


def test_alterations_that_cannot_be_are_named_and_the_plan_stands(
    client: httpx.Client, document: dict[str, Any]
) -> None:
    wrong = [
        {"kind": "remove-blocking-screw", "bone": "tibia", "index": 50},
        {"kind": "remove-blocking-screw", "bone": "femur", "index": 0},
    ]
    body = {"session": "t", "case": document, "alterations": wrong}
    answer = client.post("/api/work/plan", json=body).json()
    assert [r["change"] for r in answer["alterations_refused"]] == wrong
    assert all(r["error"]["found"] and r["error"]["next"] for r in answer["alterations_refused"])
    assert answer["plan"] is not None


def test_another_nail_is_judged_on_the_same_line(client: httpx.Client, planned: dict[str, Any]) -> None:
    names = bone_of(planned)["limits"]["nails"]
    tried = [names[0], bone_of(planned)["nail"]["name"], names[-1]]
    changes = [{"kind": "nail", "bone": "tibia", "nail": name} for name in tried]
    offers = [dragged(client, planned, change)["nail_offer"] for change in changes]
    assert [o["nail"] for o in offers] == tried
    assert offers[1]["fits"]
    assert not offers[2]["fits"]
    assert offers[2]["reasons"]


@pytest.mark.parametrize(
    "change",
    [
        {"kind": "nail", "bone": "tibia", "nail": "no such nail"},
        {"kind": "osteotomy", "bone": "femur", "below_joint_mm": 100.0},
        {"kind": "blocking-screw", "bone": "tibia", "index": 60, "from_osteotomy_mm": 10.0},
        {
            "kind": "landmark",
            "film": "none",
            "side": "left",
            "landmark": "ankle_centre",
            "x_px": 1,
            "y_px": 1,
        },
    ],
)
def test_changes_of_what_is_not_there_are_refused(
    client: httpx.Client, planned: dict[str, Any], error: ErrorCheck, change: dict[str, Any]
) -> None:
    body = {"session": "s", "base": planned["base"], "change": change}
    error(client.post("/api/work/drag", json=body), 422, "refused")


def test_days_move_the_film_as_the_drawings_are_moved(client: httpx.Client, planned: dict[str, Any]) -> None:
    body = {"session": "s", "base": planned["base"]}
    days = client.post("/api/work/days", json=body).json()
    last = planned["course"][0]["last_step_day"]
    assert days["fragments"] == ["above", "below tibia"]
    still = next(m for m in days["moments"] if m["stage"] == "as it stands")
    assert np.allclose(still["frontal"], [[[1, 0, 0], [0, 1, 0]]] * 2)
    full = next(m for m in days["moments"] if m["day"] == last)
    assert full["total_gained_mm"] == pytest.approx(bone_of(planned)["lengthening_mm"], abs=0.26)
    draw = client.post("/api/work/draw", json={**body, "moments": [{"day": last}]}).json()["drawings"][0]
    before = landmarks(planned["drawings"]["as it stands"]["frontal"])
    after = landmarks(draw["frontal"])
    for name, fragment in (("femoral_head_centre", 0), ("ankle_centre", 1), ("tibia_knee_centre", 0)):
        assert moved(full["frontal"][fragment], before[name]) == pytest.approx(after[name], abs=1.5), name
    lengths = [m["total_gained_mm"] for m in days["moments"] if m["day"] is not None]
    assert lengths == sorted(lengths)
    assert lengths[0] == 0


@pytest.mark.parametrize(
    "moment",
    [{}, {"day": 3, "stage": "corrected"}, {"gained_mm": {"tibia": 240.0}}],
)
def test_moments_that_mean_nothing_are_refused(
    client: httpx.Client, planned: dict[str, Any], error: ErrorCheck, moment: dict[str, Any]
) -> None:
    body = {"session": "s", "base": planned["base"], "moments": [moment]}
    error(client.post("/api/work/days", json=body), 422, "refused")


def test_a_pin_is_drawn_dragged_and_held_out_of_nail_and_cut(
    client: httpx.Client, planned: dict[str, Any], document: dict[str, Any]
) -> None:
    pins = bone_of(planned)["pins"]
    (limits, *_) = bone_of(planned)["limits"]["pins"]
    low, high = limits["below_joint_mm"][0]
    corrected = planned["drawings"]["corrected"]
    for projection in ("frontal", "sagittal"):
        drawn = [s for s in corrected[projection]["shapes"] if s["kind"] == "pin"]
        assert [s["id"] for s in drawn] == [f"pin/tibia/{i}" for i in range(len(pins))]
        assert all((s["radius_mm"] is not None) is (projection == "sagittal") for s in drawn)
    assert not [s for s in planned["drawings"]["at full length"]["frontal"]["shapes"] if s["kind"] == "pin"]
    # Nearer to the joint its outer edges are not traced, so that it may only go toward the cut.
    wanted = pins[0]["below_joint_mm"] + 10.0
    assert low < wanted < high
    change = {"kind": "pin", "bone": "tibia", "index": 0, "below_joint_mm": wanted}
    seen = dragged(client, planned, change, stage="corrected")
    assert seen["limited"] is None
    assert seen["bone"]["pins"][0]["below_joint_mm"] == pytest.approx(wanted, abs=0.06)
    there = next(s for s in seen["drawings"]["frontal"]["shapes"] if s["id"] == "pin/tibia/0")
    before = next(s for s in corrected["frontal"]["shapes"] if s["id"] == "pin/tibia/0")
    down = np.mean([p[1] for p in before["points_mm"]]) - np.mean([p[1] for p in there["points_mm"]])
    assert down == pytest.approx(wanted - pins[0]["below_joint_mm"], abs=2.0)
    beyond = dragged(client, planned, {**change, "below_joint_mm": high + 30.0}, stage="corrected")
    assert beyond["limited"]["asked"] == pytest.approx(high + 30.0)
    assert beyond["change"]["below_joint_mm"] <= high + 1e-6
    assert "expected" in beyond["limited"]["found"]
    unseen = dragged(client, planned, {**change, "below_joint_mm": low + 1.0}, stage="corrected")
    assert "not traced" in unseen["limited"]["found"]
    body = {"session": "pin", "case": document, "alterations": [change, {**change, "index": 40}]}
    again = client.post("/api/work/plan", json=body).json()
    assert bone_of(again)["pins"][0]["below_joint_mm"] == pytest.approx(wanted, abs=0.06)
    assert bone_of(again)["pins"][1:] == pins[1:]
    (refused,) = again["alterations_refused"]
    assert "no pin 41" in refused["error"]["found"]
    assert f"{wanted:.0f}" in " ".join(again["plan"]["steps"])


def test_candidates_are_searched_and_choosing_one_gives_it(
    client: httpx.Client, planned: dict[str, Any], document: dict[str, Any]
) -> None:
    body = {"session": "s", "base": planned["base"]}
    answer = client.post("/api/work/candidates", json=body).json()
    found = answer["candidates"]
    assert found[0]["title"] == "As planned"
    assert found[0]["bones"][0]["nail"] == bone_of(planned)["nail"]["name"]
    assert len(found) >= 3
    assert all(c["buys"] or c["costs"] for c in found[1:])
    assert all(0 <= c["inside_tolerance"] <= 1 for c in found)
    assert all(c["drawing"]["frontal"]["shapes"] and c["end"] for c in found)
    assert "not been validated" in answer["validation"]
    other = found[-1]
    document["goal"] = other["changes"]["goal"]
    again = client.post(
        "/api/work/plan",
        json={"session": "t", "case": document, "alterations": other["changes"]["alterations"]},
    ).json()
    assert again["alterations_refused"] == []
    chosen = bone_of(again)
    assert chosen["nail"]["name"] == other["bones"][0]["nail"]
    # The saw is laid on the planner's line first and stays there when the line is moved.
    assert chosen["osteotomy"]["below_joint_mm"] == pytest.approx(
        other["bones"][0]["osteotomy_below_joint_mm"], abs=0.5
    )
    assert [(s["fragment"], s["side"]) for s in chosen["blocking_screws"]] == [
        (s["fragment"], s["side"]) for s in other["bones"][0]["blocking_screws"]
    ]
    assert client.post("/api/work/candidates", json=body).json() == answer


def test_what_is_worth_measuring_again_names_landmarks_that_are_there(
    client: httpx.Client, planned: dict[str, Any]
) -> None:
    body = {"session": "s", "base": planned["base"]}
    again = client.post("/api/work/candidates", json=body).json()["measure_again"]
    assert again
    shares = [one["share_percent"] for one in again]
    assert shares == sorted(shares, reverse=True)
    names = {one["landmark"] for one in planned["landmarks"]}
    for one in again:
        assert one["source"] in {source.value for source in MEASURABLE}
        assert one["landmark"] is None or one["landmark"] in names
    assert any(one["landmark"] for one in again)


def test_a_state_that_is_gone_says_what_to_do(
    client: httpx.Client, planned: dict[str, Any], error: ErrorCheck
) -> None:
    change = {"kind": "osteotomy", "bone": "tibia", "below_joint_mm": 100.0}
    for session, base in (("other", planned["base"]), ("s", "0" * 16)):
        body = {"session": session, "base": base, "change": change}
        error(client.post("/api/work/drag", json=body), 410, "session-gone")
    document = client.get("/api/cases/demo-a").json()["case"]
    base = client.post("/api/work/measure", json={"session": "gone", "case": document}).json()["base"]
    assert client.delete("/api/work/gone").status_code == 204
    body = {"session": "gone", "base": base, "change": change}
    error(client.post("/api/work/drag", json=body), 410, "session-gone")


def test_equal_cases_have_equal_names_and_changed_ones_have_not(
    client: httpx.Client, planned: dict[str, Any], document: dict[str, Any]
) -> None:
    again = client.post("/api/work/plan", json={"session": "t", "case": document}).json()
    assert again["base"] == planned["base"]
    document["goal"]["leave_short_mm"] = 4.0
    other = client.post("/api/work/plan", json={"session": "t", "case": document}).json()
    assert other["base"] != planned["base"]


def test_the_room_forgets_the_oldest_and_the_idle(planned: dict[str, Any], shared_app: Any) -> None:
    state = shared_app.state.workbench.work.get("surgeon", "s", planned["base"])
    now = [0.0]
    room = WorkRoom(most=2, idle_seconds=10, clock=lambda: now[0])
    for session in ("a", "b", "c"):
        room.put("surgeon", session, state)
    for session, held in (("a", False), ("b", True), ("c", True)):
        assert _held(room, session, state.base) is held
    now[0] = 11.0
    assert _held(room, "b", state.base) is False
    assert _held(room, "c", state.base) is False


def _held(room: WorkRoom, session: str, base: str) -> bool:
    from limbwright.web.failure import Failure

    try:
        room.get("surgeon", session, base)
    except Failure:
        return False
    return True


def test_a_landmark_name_is_one_of_ours() -> None:
    with pytest.raises(ValueError, match="landmark"):
        MovedLandmark.model_validate(
            {"kind": "landmark", "film": "f", "side": "left", "landmark": "nose", "x_px": 1, "y_px": 1}
        )
    assert Landmark.ANKLE_CENTRE.value == "ankle_centre"
