"""`limbwright plan`: the plans worth comparing with the plan, in text and JSON."""

import json

import pytest
from click.testing import CliRunner

from limbwright.cli.main import cli


@pytest.fixture(scope="module")
def run():  # type: ignore[no-untyped-def]
    def invoke(*arguments: str):  # type: ignore[no-untyped-def]
        return CliRunner().invoke(cli, ["plan", *arguments])

    return invoke


def test_candidates_are_listed_with_what_they_buy_and_how_sure_they_are(demo_cases, run) -> None:
    result = run(str(demo_cases["demo-a"]))
    assert result.exit_code == 0, result.output
    printed = " ".join(result.output.split())
    for words in (
        "As planned: ends inside all tolerances in",
        "Candidate 1: ends inside all tolerances in",
        "Buys ",
        "Least sure: ",
        "geometric candidates",
        "not been validated on patients",
    ):
        assert words in printed


def test_the_same_as_json_with_the_parts_kept_apart(demo_cases, run) -> None:
    told = json.loads(run(str(demo_cases["demo-b"]), "--json").stdout)["candidates"]
    assert told["considered"] > 1_000_000
    assert 1 <= len(told["candidates"]) - 1 <= 6
    for one in told["candidates"]:
        assert [b["bone"] for b in one["bones"]] == ["femur", "tibia"]
        assert set(one["parts"]) == {
            "end_off_deg",
            "start_off_deg",
            "mad_off_mm",
            "length_off_mm",
            "overlap_short_of_comfort_mm",
            "off_apex_and_good_bone_mm",
            "shift_of_bone_ends_mm",
            "contact_lost_percent",
            "reamed_on_one_side_mm",
            "blocking_screws",
        }


def test_what_is_held_is_kept_and_the_search_can_be_left_out(demo_cases, run) -> None:
    held = json.loads(run(str(demo_cases["demo-a"]), "--json", "--hold", "nail", "--hold", "path").stdout)
    bones = [c["bones"][0] for c in held["candidates"]["candidates"]]
    assert len({b["nail"] for b in bones}) == 1
    assert {b["path"] for b in bones} == {"best fit"}
    without = run(str(demo_cases["demo-a"]), "--no-candidates", "--json")
    assert "candidates" not in json.loads(without.stdout)
