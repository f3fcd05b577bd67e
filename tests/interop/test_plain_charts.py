"""Charts of a course as plain JSON: what is drawn is what the course knows."""

import json
from datetime import date
from itertools import pairwise
from typing import Any

import pytest

from limbwright.case.followed import followed_case
from limbwright.cli.demo_courses import TIGHT, VALGUS
from limbwright.implant.shipped import shipped_catalogue
from limbwright.interop.plain_charts import charts_plain
from limbwright.interop.plain_course import course_outlook_plain
from limbwright.plan.circumstances import Examination
from limbwright.practice.profile import Profile

NAIL = next(n for n in shipped_catalogue().nails if n.name == "T-10.7/305")


def charts(demo: Any, day: date, before: Examination | None = None) -> dict[str, Any]:
    outlook = followed_case(demo.case(Profile(), NAIL), Profile(), on=day)
    plain: dict[str, Any] = charts_plain(outlook.bones[0], before=before)
    return plain


def test_forecast_days_are_those_of_the_course_with_their_95_percent_band() -> None:
    day = date(2026, 4, 27)
    outlook = followed_case(VALGUS.case(Profile(), NAIL), Profile(), on=day)
    (bone,) = course_outlook_plain(outlook)["bones"]
    by_day = {d["day"]: d for d in bone["forecast"]}
    ahead = charts(VALGUS, day)["charts"][0]["series"][0]["forecast"]
    assert ahead[0]["day"] == 42
    assert ahead[-1]["day"] == bone["forecast"][-1]["day"]
    assert len(ahead) < 70
    for point in ahead:
        length = by_day[point["day"]]["length"]
        assert point["value"] == pytest.approx(length["mm"], abs=1e-3)
        assert point["high"] - point["value"] == pytest.approx(1.96 * length["sd_mm"], abs=1e-3)


def test_the_end_of_lengthening_is_always_among_the_points() -> None:
    found = charts(TIGHT, date(2026, 4, 27))
    # 50 mm after seven days of latency: 4 mm in four days, 46 mm at 0.75 mm in 62
    assert [p["to_day"] for p in found["phases"] if p["kind"] == "lengthening"] == [7 + 4 + 62]
    assert 7 + 4 + 62 in {p["day"] for p in found["charts"][0]["series"][0]["forecast"]}


def test_phases_follow_each_other_without_a_gap() -> None:
    phases = charts(VALGUS, date(2026, 4, 27))["phases"]
    assert [p["kind"] for p in phases] == ["operation", "latency", "lengthening", "consolidation"]
    for before, after in pairwise(phases):
        assert after["from_day"] == before["to_day"] + 1


def test_motion_before_the_operation_is_what_was_planned() -> None:
    motion = charts(TIGHT, date(2026, 4, 27), Examination(ankle_dorsiflexion_deg=15.0))["charts"][2]
    ankle, extension = motion["series"]
    assert {value for _, value in ankle["planned"]} == {15.0}
    assert [p["value"] for p in ankle["measured"]] == [9, 4, -3]
    assert extension["planned"] == []


def test_it_is_json() -> None:
    json.dumps(charts(VALGUS, date(2026, 5, 25)), allow_nan=False)
