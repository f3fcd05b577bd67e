"""The audit as plain objects, on the invented practice that the benchmark generates."""

import importlib.util
import json
from pathlib import Path
from typing import Any

import pytest

from limbwright.interop.plain_audit import audit_plain, cases_shortened
from limbwright.practice.audit.audit import practice_audit
from limbwright.practice.audit.offer import offered_settings
from limbwright.practice.profile import Profile

SCRIPT = Path(__file__).parents[2] / "benchmarks" / "bench_audit.py"


@pytest.fixture(scope="module")
def both() -> tuple[Any, dict[str, Any]]:
    spec = importlib.util.spec_from_file_location("bench_audit", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    bench = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(bench)
    results = practice_audit(bench.generated(3000, seed=7), Profile())
    return results, audit_plain(results, offered_settings(results, Profile()))


def walked(plain: Any) -> list[dict[str, Any]]:
    if isinstance(plain, list):
        return [found for one in plain for found in walked(one)]
    if isinstance(plain, dict):
        return [plain, *(found for one in plain.values() for found in walked(one))]
    return []


def test_it_is_json_and_nothing_is_infinite(both: tuple[Any, dict[str, Any]]) -> None:
    text = json.dumps(both[1], allow_nan=False)
    assert json.loads(text) == both[1]


def test_a_direction_is_a_word_and_its_magnitude_has_no_sign(both: tuple[Any, dict[str, Any]]) -> None:
    directed = [d for d in walked(both[1]) if "direction" in d]
    words = {d["direction"] for d in directed}
    assert {"varus", "valgus", "procurvatum", "recurvatum", "longer", "shorter", "lateral"} <= words
    assert len(directed) > 50
    for one in directed:
        magnitude = one.get("deg", one.get("mm"))
        assert magnitude >= 0, one


def test_every_result_has_its_number_and_its_method(both: tuple[Any, dict[str, Any]]) -> None:
    plain = both[1]
    for name in ("healing_index", "adult_healing_index", "healing_curves", "accuracy", "complications"):
        assert plain[name], name
        for one in plain[name]:
            assert one["n"] == len(one["cases"]), name
            assert one["method"], name
    for one in plain["drift_and_blocking_screws"]:
        assert one["n_with"] == len(one["cases_with"])
        assert one["n_without"] == len(one["cases_without"])
    assert plain["calf_release"]["n"] == len(plain["calf_release"]["cases"])


def test_numbers_are_those_of_the_results(both: tuple[Any, dict[str, Any]]) -> None:
    results, plain = both
    agreement, said = results.accuracy[3].agreement, plain["accuracy"][3]
    assert said["outcome"] == "frontal alignment"
    assert agreement.bias < 0
    assert said["agreement"]["bias"] == {"deg": round(-agreement.bias, 4), "direction": "valgus"}
    assert said["agreement"]["upper_limit"]["direction"] == "varus"
    fit = plain["calf_release"]["fit"]
    assert fit["even_chance_at_mm"] == pytest.approx(results.calf_release.fit.even_at, abs=1e-6)
    assert fit["odds_ratio_per_10_mm"] == pytest.approx(results.calf_release.fit.odds_ratio(10)[0], abs=1e-6)
    drift = plain["drift_and_blocking_screws"][2]["drift"]
    assert drift["mean_with"]["direction"] == "valgus"
    assert drift["size_deg"]["with_minus_without"] < 0
    period = plain["periods"][0]["periods"][0]
    point = results.funnels[0].periods[0].point
    assert period["point"]["limits"] == {
        "low": pytest.approx(point.low_share, abs=1e-6),
        "high": pytest.approx(point.high_share, abs=1e-6),
    }
    offer = plain["offers"][0]
    assert offer["setting"] == "healing_index_tibia_days_per_cm"
    assert offer["n"] == len(offer["cases"])


def test_long_lists_of_cases_are_shortened_and_counted():
    plain = {"n": 3, "cases": ["a", "b", "c"], "groups": [{"cases_with": ["a"], "offers": [{"cases": []}]}]}
    assert cases_shortened(plain, 2) == {
        "n": 3,
        "cases": ["a", "b"],
        "cases_in_all": 3,
        "groups": [
            {
                "cases_with": ["a"],
                "cases_with_in_all": 1,
                "offers": [{"cases": [], "cases_in_all": 0}],
            }
        ],
    }
