import json

import pytest
from click.testing import CliRunner

from limbwright.cli.main import cli


@pytest.fixture(scope="module")
def run():  # type: ignore[no-untyped-def]
    def invoke(*arguments: str):  # type: ignore[no-untyped-def]
        return CliRunner().invoke(cli, ["forecast", *arguments])

    return invoke


def test_the_forecast_shows_drift_screws_and_that_it_is_not_validated(demo_cases, run) -> None:
    result = run(str(demo_cases["demo-a"]))
    assert result.exit_code == 0, result.output
    for words in (
        "tibia: drift while it lengthens",
        "layouts of blocking screws",
        "with the forecast drift",
        "not been validated on patients",
        "not a medical device",
    ):
        assert words in " ".join(result.output.split())


def test_the_same_as_json_has_words_instead_of_signs_and_agrees_with_the_shift_of_the_leg(
    demo_cases, run
) -> None:
    result = run(str(demo_cases["demo-a"]), "--json")
    assert result.exit_code == 0, result.output
    told = json.loads(result.stdout)
    (tibia,) = told["bones"]
    end = tibia["with_planned_screws"]["moments"][-1]
    assert end["frontal"]["angulation"]["direction"] == "valgus"
    assert end["sagittal"]["angulation"]["direction"] == "procurvatum"
    assert min(m["frontal"]["angulation"]["deg"] for m in tibia["without_screws"]["moments"]) >= 0
    assert {c["what"] for c in end["contacts"]} >= {"locking screw", "canal wall"}
    assert tibia["layouts"]["none"]["screws"] == []
    assert "validation" in told
    mpta = next(r for r in told["full_length_with_drift"] if r["measure"] == "MPTA")
    # The tibia is cut below its plateau, so the drift into valgus opens the angle below the knee line.
    assert mpta["deg"] == pytest.approx(87.0 + end["frontal"]["angulation"]["deg"], abs=0.6)


def test_two_bones_are_foretold_one_by_one(demo_cases, run) -> None:
    told = json.loads(run(str(demo_cases["demo-b"]), "--json").stdout)
    assert [b["bone"] for b in told["bones"]] == ["femur", "tibia"]
    assert told["bones"][1]["walls_idealised"]


def test_how_sure_the_end_is_stands_in_text_and_json(demo_cases, run) -> None:
    told = json.loads(run(str(demo_cases["demo-a"]), "--json").stdout)["uncertainty"]
    assert 0 <= told["probability_inside_all"] <= 1
    assert {"MAD", "MPTA", "length against the other leg"} <= set(told["results"])
    assert told["worth_measuring_again"]
    printed = " ".join(run(str(demo_cases["demo-a"])).output.split())
    assert "How sure the end is: inside all tolerances in" in printed
    assert "(measure again)" in printed
