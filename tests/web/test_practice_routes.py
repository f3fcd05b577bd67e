from collections.abc import Callable
from typing import Any

import httpx

from limbwright.practice.setting import settings

ErrorCheck = Callable[[httpx.Response, int, str], dict[str, Any]]


def test_every_setting_is_told_with_meaning_range_and_source(client: httpx.Client) -> None:
    told = client.get("/api/profile").json()
    assert told["version"] == 0
    assert [s["name"] for s in told["settings"]] == [s.name for s in settings()]
    assert all(s["meaning"] and s["expected"] and s["source"] and not s["changed"] for s in told["settings"])


def test_a_changed_setting_is_planned_with(client: httpx.Client, document: dict[str, Any]) -> None:
    before = client.post("/api/work/plan", json={"session": "s", "case": document}).json()
    body = {"base_version": 0, "changes": {"overlap_mm": 75}, "why": "stiffer"}
    answer = client.put("/api/profile", json=body).json()
    assert answer["version"] == 1
    assert [s["value"] for s in answer["settings"] if s["changed"]] == [75]
    after = client.post("/api/work/plan", json={"session": "s", "case": document}).json()
    lengths = [p["plan"]["bones"][0]["nail"]["length_mm"] for p in (before, after)]
    assert lengths[1] > lengths[0]
    assert after["base"] != before["base"]


def test_wrong_settings_are_all_named_and_none_is_kept(client: httpx.Client, error: ErrorCheck) -> None:
    changes = {"overlap_mm": 5000, "no_such": 1, "tip_clearance_to_joint_mm": 20}
    said = error(client.put("/api/profile", json={"base_version": 0, "changes": changes}), 422, "refused")
    assert {p["path"] for p in said["problems"]} == {"overlap_mm", "no_such"}
    assert client.get("/api/profile").json()["version"] == 0


def test_settings_that_contradict_each_other_are_refused(client: httpx.Client, error: ErrorCheck) -> None:
    changes = {"drift_watch_deg": 9.0, "drift_limit_deg": 1.0}
    error(client.put("/api/profile", json={"base_version": 0, "changes": changes}), 422, "refused")


def test_a_profile_changed_meanwhile_is_a_conflict(client: httpx.Client, error: ErrorCheck) -> None:
    client.put("/api/profile", json={"base_version": 0, "changes": {"overlap_mm": 60}})
    again = client.put("/api/profile", json={"base_version": 0, "changes": {"overlap_mm": 70}})
    said = error(again, 409, "conflict")
    assert (said["version"], said["base_version"]) == (1, 0)


def test_settings_go_back_to_our_defaults_one_or_all(client: httpx.Client, error: ErrorCheck) -> None:
    changes = {"overlap_mm": 60, "tip_clearance_to_joint_mm": 20}
    client.put("/api/profile", json={"base_version": 0, "changes": changes})
    one = client.post("/api/profile/reset", json={"base_version": 1, "names": ["overlap_mm"]}).json()
    assert [s["name"] for s in one["settings"] if s["changed"]] == ["tip_clearance_to_joint_mm"]
    every = client.post("/api/profile/reset", json={"base_version": 2}).json()
    assert not any(s["changed"] for s in every["settings"])
    error(client.post("/api/profile/reset", json={"base_version": 3, "names": ["no"]}), 422, "refused")
    assert "overlap_mm = 50" in client.get("/api/profile.toml").text


def test_a_catalogue_is_kept_as_its_owner_wrote_it(client: httpx.Client) -> None:
    shipped = client.get("/api/catalogue").json()
    assert (shipped["version"], shipped["invented"]) == (0, True)
    text = shipped["toml"].replace(f'title = "{shipped["title"]}"', 'title = "Ours"')
    text = "# our own words\n" + text
    kept = client.put("/api/catalogue", json={"base_version": 0, "toml": text}).json()
    assert (kept["version"], kept["title"], kept["toml"]) == (1, "Ours", text)
    assert len(kept["nails"]) == len(shipped["nails"])
    back = client.post("/api/catalogue/reset", json={"base_version": 1}).json()
    assert (back["version"], back["title"]) == (2, shipped["title"])


def test_a_catalogue_that_cannot_be_read_is_refused(client: httpx.Client, error: ErrorCheck) -> None:
    for text in ("not toml [", 'title = "x"\n[[family]]\nname = "n"\n'):
        answer = client.put("/api/catalogue", json={"base_version": 0, "toml": text})
        assert answer.status_code == 422
        assert "catalogue" in answer.json()["where"]
    error(client.put("/api/catalogue", json={"base_version": 0, "toml": "nails = ["}), 422, "unreadable")
    assert client.get("/api/catalogue").json()["version"] == 0


def test_the_audit_log_is_read_from_a_number_on_or_from_its_end(client: httpx.Client) -> None:
    for _ in range(3):
        client.get("/api/cases/demo-a")
    newest = client.get("/api/audit?limit=2").json()["entries"]
    assert [e["what"] for e in newest] == ["case read"] * 2
    later = client.get(f"/api/audit?after={newest[0]['number']}").json()["entries"]
    assert later == newest[1:]


def test_the_audit_log_is_read_backwards_to_its_beginning(client: httpx.Client) -> None:
    for _ in range(5):
        client.get("/api/cases/demo-a")
    seen: list[int] = []
    answer = client.get("/api/audit?newest_first=true&limit=2").json()
    while True:
        seen += [entry["number"] for entry in answer["entries"]]
        if answer["before"] is None:
            break
        answer = client.get(f"/api/audit?before={answer['before']}&limit=2").json()
    assert seen == list(range(seen[0], 0, -1))
    assert len(seen) >= 6
