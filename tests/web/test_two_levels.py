"""The light table with a bone that is cut twice: shown as planned, its lines refused to a hand by name."""

from collections.abc import Callable
from copy import deepcopy
from typing import Any

import httpx
import numpy as np
import pytest

ErrorCheck = Callable[[httpx.Response, int, str], dict[str, Any]]


@pytest.fixture(scope="module")
def client(shared_client: httpx.Client) -> httpx.Client:
    """Nothing is saved here, so that one application serves all tests."""
    return shared_client


@pytest.fixture(scope="module")
def planned(client: httpx.Client) -> dict[str, Any]:
    """The invented adult, length in good bone and correction at the apex asked for."""
    document = deepcopy(client.get("/api/cases/demo-a").json()["case"])
    document["goal"]["bones"] = [{"bone": "tibia", "osteotomies": 2}]
    answer = client.post("/api/work/plan", json={"session": "two", "case": document})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_both_levels_are_told(planned: dict[str, Any]) -> None:
    (bone,) = planned["plan"]["bones"]
    second = bone["second"]
    assert second["hold"] == "plate beside the nail"
    assert second["osteotomy"]["below_joint_mm"] != bone["osteotomy"]["below_joint_mm"]
    assert set(bone["path"]) == {"entry", "proximal", "middle", "distal"}
    assert sorted(f["lengthens"] for f in planned["outlook"]["cut_faces"]) == [False, True]
    assert "second-osteotomy-not-forecast" in {f["id"] for f in planned["findings"]}


def test_the_film_is_cut_twice_and_only_one_gap_opens(client: httpx.Client, planned: dict[str, Any]) -> None:
    body = {"session": "two", "base": planned["base"]}
    answer = client.post("/api/work/days", json=body)
    assert answer.status_code == 200, answer.text
    days = answer.json()
    assert days["fragments"] == ["above", "middle tibia", "below tibia"]
    assert sorted(c["lengthens"] for c in days["cuts"]) == [False, True]
    corrected = next(m for m in days["moments"] if m["stage"] == "corrected")
    last = days["moments"][-1]
    shifts = []
    for cut, above, below in zip(days["cuts"], (0, 1), (1, 2), strict=True):
        point = np.array([*cut["frontal"]["point_mm"], 1.0])
        gap = {}
        for name, moment in (("corrected", corrected), ("full", last)):
            maps = [np.array(m) for m in moment["frontal"]]
            assert len(maps) == 3
            gap[name] = np.linalg.norm((maps[above] - maps[below]) @ point)
        shifts.append((cut["lengthens"], gap["full"] - gap["corrected"]))
    opened = dict(shifts)
    gained = last["total_gained_mm"]
    assert abs(opened[True]) == pytest.approx(gained, abs=2.0)
    assert opened[False] == pytest.approx(0.0, abs=0.2)


@pytest.mark.parametrize(
    "change",
    [
        {"kind": "osteotomy", "bone": "tibia", "below_joint_mm": 110.0},
        {"kind": "lengthening", "bone": "tibia", "lengthening_mm": 20.0},
    ],
)
def test_its_lines_are_refused_to_a_hand_by_name(
    client: httpx.Client, planned: dict[str, Any], change: dict[str, Any]
) -> None:
    body = {"session": "two", "base": planned["base"], "change": change}
    answer = client.post("/api/work/drag", json=body)
    assert answer.status_code in {409, 422}, answer.text
    assert "the tibia is cut twice" in answer.text
    assert "Set the level of either osteotomy in the goal" in answer.text


def test_drawings_of_any_moment_show_three_fragments(client: httpx.Client, planned: dict[str, Any]) -> None:
    body = {
        "session": "two",
        "base": planned["base"],
        "moments": [{"stage": "as it stands"}, {"gained_mm": {"tibia": 9.0}}],
    }
    answer = client.post("/api/work/draw", json=body)
    assert answer.status_code == 200, answer.text
    for drawing in answer.json()["drawings"]:
        shapes = drawing["frontal"]["shapes"]
        cuts = [s for s in shapes if s["kind"] == "osteotomy"]
        assert [s["fragment"] for s in cuts].count("middle") == 2
        ids = [s["id"] for s in shapes if s["id"]]
        assert len(ids) == len(set(ids))
