"""The course: drift grows, new bone remembers, batches agree with single forecasts."""

import numpy as np
import pytest

from limbwright.error import Contradiction
from limbwright.mechanics import (
    Load,
    Plane,
    Region,
    SpatialLoad,
    Stage,
    forecast_batch,
    forecast_course,
    regenerate_stiffness_nm_per_deg,
    rest_after,
    tissue_pull,
)


def course(days=range(0, 121, 10), region=Region.PROXIMAL_TIBIA, weight_bearing_n=0.0):
    pull = tissue_pull(region)
    stages = []
    for day in days:
        gained = min(0.75 * max(day - 7, 0), 45.0)
        stages.append(
            Stage(
                day=day,
                lengthening_mm=gained,
                load=pull.load(gained, weight_bearing_n=weight_bearing_n),
                angular_nm_per_deg=float(regenerate_stiffness_nm_per_deg(day - 7.0)),
            )
        )
    return tuple(stages)


def test_proximal_tibia_drifts_into_valgus_and_procurvatum_and_keeps_it(make):
    forecast = forecast_course(make(), course())
    frontal, sagittal = forecast.angulation_deg(Plane.FRONTAL), forecast.angulation_deg(Plane.SAGITTAL)
    assert (np.diff(frontal[:7]) <= 1e-9).all()
    assert frontal[-1] < -1
    assert sagittal[-1] > 1
    # Bone laid down along the way does not pull the leg straight again once the lengthening has ended.
    assert abs(frontal[-1] - frontal[7]) < 0.05
    assert forecast.stages[-1].peak_stress_mpa > forecast.stages[0].peak_stress_mpa
    assert forecast.stages[-1].overlap_mm == pytest.approx(270 - 150 - 45)
    assert all(s.frontal.residual_mm < 1e-6 for s in forecast.stages)
    assert len(forecast.step_mm(Plane.FRONTAL)) == len(forecast.stages)


def test_coupled_course_is_less_than_the_planes_alone(make):
    alone, both = forecast_course(make(), course()), forecast_course(make(), course(), coupled=True)
    sizes = [
        np.hypot(f.angulation_deg(Plane.FRONTAL), f.angulation_deg(Plane.SAGITTAL)) for f in (alone, both)
    ]
    assert (sizes[1] < sizes[0]).all()
    assert both.stages[3].coupled.residual_mm < 1e-6
    assert np.isfinite(both.step_mm(Plane.SAGITTAL)).all()


def test_slack_screws_are_named(make, screw):
    built = make(200, 14, screw(226, osteotomy_mm=200), screw(190, osteotomy_mm=200))
    forecast = forecast_course(built, course((0, 60, 67, 70)))
    assert [s.slack_screws for s in forecast.stages] == [(), (), (0,), (0,)]


def test_weight_bearing_adds_drift(make):
    easy = forecast_course(make(), course()).angulation_deg(Plane.FRONTAL)
    heavy = forecast_course(make(), course(weight_bearing_n=500)).angulation_deg(Plane.FRONTAL)
    assert (heavy < easy).all()


def test_a_stage_without_a_number_is_nan(make):
    still = SpatialLoad(frontal=Load(), sagittal=Load())
    forecast = forecast_course(make(), (Stage(day=0, lengthening_mm=0, load=still),))
    assert np.isnan(forecast.angulation_deg(Plane.FRONTAL)).all()
    assert np.isnan(forecast.step_mm(Plane.FRONTAL)).all()


def test_days_must_not_go_back(make):
    with pytest.raises(Contradiction, match="days go back"):
        forecast_course(make(), course((10, 0)))


def test_rest_position_is_the_stiffness_weighted_mean():
    assert rest_after(stiffness_before=0, rest_before=0, stiffness_now=2, place_before=-1.0) == pytest.approx(
        -1
    )
    assert rest_after(
        stiffness_before=2, rest_before=-1, stiffness_now=4, place_before=-2.0
    ) == pytest.approx(-1.5)
    assert rest_after(
        stiffness_before=2, rest_before=-1, stiffness_now=1, place_before=-2.0
    ) == pytest.approx(-1)
    assert rest_after(stiffness_before=0, rest_before=0, stiffness_now=0, place_before=np.nan) == 0


def test_batch_course_agrees_with_the_single_one(make, screw):
    stages = course()
    built = make(150, 14, screw(140, clearance_mm=0.3), screw(160, clearance_mm=0.3))
    single = forecast_course(built, stages)
    gained = [s.lengthening_mm for s in stages]
    for plane in Plane:
        loads = [s.load.in_plane(plane) for s in stages]
        batch = forecast_batch(
            built,
            plane,
            lengthening_mm=gained,
            moment_nm=np.outer([1.0, 1.2], [x.moment_nm for x in loads]),
            axial_n=[x.axial_n for x in loads],
            angular_nm_per_deg=[s.angular_nm_per_deg for s in stages],
        )
        assert batch.angulation_deg.shape == (2, len(stages))
        assert batch.angulation_deg[0] == pytest.approx(single.angulation_deg(plane), abs=1e-6)
        assert batch.step_mm[0] == pytest.approx(single.step_mm(plane), abs=1e-6)
        assert abs(batch.angulation_deg[1, -1]) > abs(batch.angulation_deg[0, -1])
        assert batch.residual_mm.max() < 1e-6
