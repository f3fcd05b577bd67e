from dataclasses import replace

import pytest

from limbwright.finding import Severity
from limbwright.limb.anatomy import Fragment
from limbwright.limb.view import Border
from limbwright.mechanics import Outcome, Plane
from limbwright.plan.decision import BlockingScrew, ScrewDirection
from limbwright.plan.forecast.drift_course import Band
from limbwright.plan.forecast.forecast import Sampling, bone_forecast
from limbwright.plan.forecast.forecast_finding import (
    could_exceed,
    forecast_findings,
    said_band,
    said_deg,
    within_limit,
)
from limbwright.practice.profile import Profile


def one(made, name: str):  # type: ignore[no-untyped-def]
    return next(f for f in made if f.id == name)


@pytest.fixture(scope="module")
def tight(planned, days):  # type: ignore[no-untyped-def]
    found = planned(level=180.0, nail=None)
    return bone_forecast(found.plan, found.canals, days(40.0), Profile(), sampling=Sampling(count=64))


@pytest.fixture(scope="module")
def wide(planned, days):  # type: ignore[no-untyped-def]
    found = planned(widen_mm=6.0)
    return found, bone_forecast(found.plan, found.canals, days(40.0), Profile(), sampling=Sampling(count=64))


def test_every_forecast_says_that_it_is_not_validated(tight, wide) -> None:
    for made in (tight, wide[1]):
        assert "not been validated on patients" in one(made.findings, "forecast-not-validated").words


def test_a_tight_nail_needs_no_screw_and_only_the_coupled_solve_says_so(tight) -> None:
    assert within_limit(tight.planned, Profile())
    note = one(tight.findings, "no-blocking-screw-needed")
    assert f"{tight.planned.end.oblique_deg:.1f} deg from the reduction" in note.words
    strict = forecast_findings(tight, Profile(drift_limit_deg=0.5, drift_watch_deg=0.5))
    assert "no-blocking-screw-needed" not in [f.id for f in strict]


def test_drift_beyond_the_limit_is_a_caution_with_both_numbers(wide) -> None:
    _found, made = wide
    strict = one(forecast_findings(made, Profile(drift_limit_deg=1, drift_watch_deg=1)), "drift-forecast")
    assert strict.severity is Severity.CAUTION
    assert "beyond the limit of 1 deg" in strict.words
    assert len(strict.numbers) == 2
    loose = one(forecast_findings(made, Profile(drift_limit_deg=15)), "drift-forecast")
    assert loose.severity is Severity.NOTE
    assert "limit" not in loose.words


def test_a_band_that_passes_the_limit_is_a_caution_too(tight) -> None:
    ends = [tight.planned.end.in_plane(plane) for plane in Plane]
    largest = max(abs(e.angulation_deg) for e in ends)
    highest = max(max(abs(e.band.low), abs(e.band.high)) for e in ends)
    limit = (largest + highest) / 2
    between = Profile(drift_limit_deg=limit, drift_watch_deg=0.5)
    assert could_exceed(tight.planned, between)
    found = one(forecast_findings(tight, between), "drift-forecast")
    assert found.severity is Severity.CAUTION
    assert "may be passed" in found.words


def test_a_screw_that_ends_beside_the_thin_rod_is_called_slack(wide, days) -> None:
    found, _made = wide
    nail, cut = found.plan.nail, found.plan.osteotomy.depth_mm
    away = nail.thick_length_mm - cut - 20.0  # 20 mm short of the step: passed at 20 mm of lengthening
    screw = BlockingScrew(
        fragment=Fragment.DISTAL,
        side=Border.POSTERIOR,
        direction=ScrewDirection.MEDIOLATERAL,
        depth_mm=cut + away,
        from_osteotomy_mm=away,
        offset_mm=nail.thick_diameter_mm / 2 + 2.5,
        diameter_mm=5,
        drill_mm=4.2,
    )
    plan = replace(found.plan, blocking_screws=(screw,))
    made = bone_forecast(plan, found.canals, days(40.0), Profile(), sampling=Sampling(count=0))
    slack = one(made.findings, "blocking-screw-slack")
    assert "posterior blocking screw in the distal fragment" in slack.words
    assert slack.numbers[0].value == pytest.approx(1.35)
    near = replace(plan, blocking_screws=(replace(screw, depth_mm=cut + 10, from_osteotomy_mm=10),))
    held = bone_forecast(near, found.canals, days(40.0), Profile(), sampling=Sampling(count=0))
    assert "blocking-screw-slack" not in [f.id for f in held.findings]
    assert "1 planned blocking screw:" in one(held.findings, "drift-forecast").words
    assert "Without screws" in one(held.findings, "drift-forecast").words


def test_outcomes_without_number_or_as_a_warning_are_said_with_their_place(wide) -> None:
    _found, made = wide
    moments = made.planned.moments

    def ending(outcome: Outcome):  # type: ignore[no-untyped-def]
        broken = replace(moments[2], outcomes=(outcome, Outcome.DETERMINED))
        course = replace(made.planned, moments=(*moments[:2], broken, *moments[3:]))
        return forecast_findings(replace(made, planned=course), Profile())

    forced = one(ending(Outcome.NAIL_FORCED), "nail-forced")
    assert f"At {moments[2].lengthening_mm:.0f} mm" in forced.words
    none = one(ending(Outcome.NOT_PROVED), "no-forecast")
    assert str(Outcome.NOT_PROVED) in none.words


def test_angles_and_bands_leave_with_words() -> None:
    assert said_deg(-1.26, Plane.FRONTAL) == "1.3 deg valgus"
    assert said_deg(0.0, Plane.SAGITTAL) == "0.0 deg"
    assert said_deg(None, Plane.FRONTAL) == "no number"
    assert said_band(Band(low=-2.2, high=-0.7), Plane.FRONTAL) == "0.7 to 2.2 deg valgus"
    assert said_band(Band(low=-0.2, high=0.7), Plane.FRONTAL) == "0.2 deg valgus to 0.7 deg varus"
    assert said_band(Band(low=0.2, high=0.7), Plane.SAGITTAL) == "0.2 to 0.7 deg procurvatum"
