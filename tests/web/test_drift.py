"""Expected drift: its own call, in the direction it goes, kept for the plan."""

from typing import Any

import httpx
import pytest

from limbwright.web.work import drift as drift_module


@pytest.fixture(scope="module")
def client(shared_client: httpx.Client) -> httpx.Client:
    """Nothing is saved here, so that one application serves all tests."""
    return shared_client


@pytest.fixture(scope="module")
def planned(client: httpx.Client) -> dict[str, str]:
    document = client.get("/api/cases/demo-a").json()["case"]
    answer = client.post("/api/work/plan", json={"session": "drift", "case": document})
    return {"session": "drift", "base": answer.json()["base"]}


def test_drift_is_told_by_day_with_its_band_and_its_caveat(
    client: httpx.Client, planned: dict[str, str]
) -> None:
    before = client.post("/api/work/days", json={**planned, "moments": [{"day": 20}]}).json()
    assert before["drift"] is None
    assert "/api/work/drift" in before["drift_absent"]
    found = client.post("/api/work/drift", json=planned).json()
    assert found["drift_absent"] is None
    assert "not been validated on patients" in found["words"]
    (tibia,) = found["bones"]
    assert tibia["bone"] == "tibia"
    frontal, sagittal = tibia["planes"]
    assert (frontal["plane"], sagittal["plane"]) == ("frontal", "sagittal")
    assert frontal["direction"] in {"valgus", "varus"}
    assert sagittal["direction"] in {"procurvatum", "recurvatum"}
    for plane in (frontal, sagittal):
        days = [on["day"] for on in plane["days"]]
        assert days == sorted(set(days))
        assert plane["days"][-1]["typical_deg"] >= 0
        for on in plane["days"]:
            assert on["low_deg"] <= on["high_deg"]
    assert found["days"] == frontal["days"]
    assert found["days"][0]["high_deg"] <= found["days"][-1]["high_deg"]
    after = client.post("/api/work/days", json={**planned, "moments": [{"day": 20}]}).json()
    assert after["drift"] == found
    assert after["drift_absent"] is None


def test_drift_is_worked_out_once_for_a_plan(
    client: httpx.Client, planned: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    first = client.post("/api/work/drift", json=planned).json()

    def again(*_: Any, **__: Any) -> Any:
        raise AssertionError("worked out twice")

    monkeypatch.setattr(drift_module, "case_forecasts", again)
    document = client.get("/api/cases/demo-a").json()["case"]
    posted = client.post("/api/work/plan", json={"session": "drift", "case": document}).json()
    assert posted["base"] == planned["base"]
    assert client.post("/api/work/drift", json=planned).json() == first


def test_without_a_plan_drift_says_why(client: httpx.Client) -> None:
    document = client.get("/api/cases/demo-a").json()["case"]
    for film in document["films"]:
        film.pop("left", None)
    answer = client.post("/api/work/plan", json={"session": "bare", "case": document}).json()
    found = client.post("/api/work/drift", json={"session": "bare", "base": answer["base"]}).json()
    assert found["bones"] == []
    assert found["drift_absent"]["found"]
    assert found["drift_absent"]["next"]
