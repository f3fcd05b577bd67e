from dataclasses import replace

import pytest

from limbwright.limb.anatomy import Fragment
from limbwright.limb.view import Border
from limbwright.plan.decision import BlockingScrew, ScrewDirection
from limbwright.plan.forecast.drift_by_day import drift_at, drift_by_day
from limbwright.plan.forecast.forecast import Sampling, bone_forecast
from limbwright.plan.forecast.loads import CourseDay
from limbwright.practice.profile import Profile


@pytest.fixture(scope="module")
def made(planned, days):  # type: ignore[no-untyped-def]
    found = planned(widen_mm=4.0)
    screw = BlockingScrew(
        fragment=Fragment.PROXIMAL,
        side=Border.LATERAL,
        direction=ScrewDirection.ANTEROPOSTERIOR,
        depth_mm=found.plan.osteotomy.depth_mm - 10,
        from_osteotomy_mm=10,
        offset_mm=found.plan.nail.thick_diameter_mm / 2 + 2.5,
        diameter_mm=5,
        drill_mm=4.2,
    )
    plan = replace(found.plan, blocking_screws=(screw,))
    return bone_forecast(plan, found.canals, days(40.0), Profile(), sampling=Sampling(count=64, seed=3))


def test_every_day_has_a_range_with_and_without_screws(made, days) -> None:
    strip = drift_by_day(made, (CourseDay(day=3, gained_mm=0.0), *days(40.0)))
    assert strip[0].frontal is not None
    assert strip[0].frontal.expected_deg == 0.0  # nothing has moved yet
    for day in strip[1:]:
        for there in (day.frontal, day.sagittal, day.frontal_without_screws, day.sagittal_without_screws):
            assert there.low_deg <= there.median_deg <= there.high_deg
            assert there.low_deg <= there.expected_deg <= there.high_deg
    last = strip[-1]
    assert last.frontal.expected_deg == pytest.approx(made.planned.end.frontal.angulation_deg)
    assert last.frontal_without_screws.expected_deg < last.frontal.expected_deg - 0.2  # valgus is negative


def test_between_two_moments_the_drift_goes_with_the_length(made) -> None:
    a, b = made.planned.moments[2:4]
    half = drift_at(made.planned, (a.lengthening_mm + b.lengthening_mm) / 2)
    assert half.varus_deg == pytest.approx((a.frontal.angulation_deg + b.frontal.angulation_deg) / 2)
    assert half.anterior_mm == pytest.approx((a.sagittal.step_mm + b.sagittal.step_mm) / 2)
    assert drift_at(made.planned, 40.0) == made.planned.drift()


def test_a_moment_without_a_number_leaves_its_days_without_one(made) -> None:
    last = made.planned.moments[-1]
    broken = replace(last, frontal=replace(last.frontal, angulation_deg=None))
    course = replace(made.planned, moments=(*made.planned.moments[:-1], broken))
    strip = drift_by_day(replace(made, planned=course), (CourseDay(day=40, gained_mm=39.0),))
    assert strip[0].frontal is None
    assert strip[0].sagittal is not None
    assert drift_at(course, 39.0) is None
