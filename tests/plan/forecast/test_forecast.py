from dataclasses import replace

import numpy as np
import pytest

from limbwright.limb.anatomy import Bone, Fragment
from limbwright.limb.view import Border
from limbwright.mechanics import Outcome, Plane, Region, Support, solve_coupled
from limbwright.plan.decision import BlockingScrew, ScrewDirection
from limbwright.plan.forecast.forecast import Sampling, bone_forecast
from limbwright.plan.forecast.spread import moment_spread, play_beside_nail_mm, tissue_and_fit_spreads
from limbwright.practice.profile import Profile

NO_BANDS = Sampling(count=0)
QUICK = Sampling(count=64, seed=3)


def blocked(plan, side: Border, away: float, fragment: Fragment = Fragment.PROXIMAL):  # type: ignore[no-untyped-def]
    sign = -1 if fragment is Fragment.PROXIMAL else 1
    one = BlockingScrew(
        fragment=fragment,
        side=side,
        direction=ScrewDirection.ANTEROPOSTERIOR,
        depth_mm=plan.osteotomy.depth_mm + sign * away,
        from_osteotomy_mm=away,
        offset_mm=plan.nail.thick_diameter_mm / 2 + 2.5,
        diameter_mm=5,
        drill_mm=4.2,
    )
    return replace(plan, blocking_screws=(one,))


@pytest.fixture(scope="module")
def wide(planned):  # type: ignore[no-untyped-def]
    return planned(widen_mm=4.0)


@pytest.fixture(scope="module")
def course(wide, days):  # type: ignore[no-untyped-def]
    return bone_forecast(wide.plan, wide.canals, days(40.0), Profile(), weight_on_leg_kg=34, sampling=QUICK)


def test_a_tibia_drifts_into_valgus_and_procurvatum_and_more_with_length(course) -> None:
    frontal = [m.frontal.angulation_deg for m in course.planned.moments]
    sagittal = [m.sagittal.angulation_deg for m in course.planned.moments]
    assert course.region is Region.MID_TIBIA
    assert frontal[-1] < frontal[0] < 0
    assert sagittal[-1] > sagittal[0] > 0
    assert course.planned.end.lengthening_mm == 40
    assert course.planned.end.oblique_deg == pytest.approx(np.hypot(frontal[-1], sagittal[-1]), abs=0.02)
    drift = course.planned.drift()
    assert drift is not None
    assert (drift.varus_deg, drift.procurvatum_deg) == (frontal[-1], sagittal[-1])


def test_numbers_are_those_of_the_coupled_solve(wide, days, course) -> None:
    stage = course.stages[0]
    alone = solve_coupled(course.modelled.construct, stage.load, lengthening_mm=stage.lengthening_mm)
    assert course.planned.moments[0].frontal.angulation_deg == pytest.approx(alone.frontal_deg, abs=0.02)
    assert abs(course.planned.moments[0].frontal.alone_deg) > abs(alone.frontal_deg)


def test_bands_hold_the_forecast_and_are_the_same_for_the_same_seed(wide, days, course) -> None:
    again = bone_forecast(wide.plan, wide.canals, days(40.0), Profile(), sampling=QUICK)
    other = bone_forecast(wide.plan, wide.canals, days(40.0), Profile(), sampling=Sampling(count=64, seed=4))
    for moment, same in zip(course.planned.moments, again.planned.moments, strict=True):
        for plane in Plane:
            band = moment.in_plane(plane).band
            assert band.low <= moment.in_plane(plane).angulation_deg <= band.high
            assert band.high - band.low > 0.2
            assert band == same.in_plane(plane).band
    assert other.planned.end.frontal.band != course.planned.end.frontal.band


def test_the_scaled_band_is_near_that_of_coupled_draws(wide, days, course) -> None:
    """16 coupled draws of the load at full length, against the band of the plane alone, scaled."""
    from limbwright.mechanics import draws
    from limbwright.plan.forecast.loads import tissue_pull_of

    spreads = tissue_and_fit_spreads(wide.plan, Region.MID_TIBIA, Plane.SAGITTAL, Profile())[:1]
    factors = draws(spreads, count=16, seed=2)["moment_factor"]
    pull = tissue_pull_of(Profile(), Region.MID_TIBIA)
    angles = []
    for factor in factors:
        load = replace(pull, sagittal_lever_mm=pull.sagittal_lever_mm * factor).load(40.0)
        angles.append(solve_coupled(course.modelled.construct, load, lengthening_mm=40.0).sagittal_deg)
    low, high = min(angles), max(angles)
    band = course.planned.end.sagittal.band
    # The band also holds play, width and placement, so it is wider, but not by a degree.
    assert band.low - 0.1 < low < band.low + 1.0
    assert band.high - 1.0 < high < band.high + 0.1


def test_a_lateral_screw_takes_valgus_away_and_is_compared_with_none(wide, days) -> None:
    plan = blocked(wide.plan, Border.LATERAL, 12)
    made = bone_forecast(plan, wide.canals, days(40.0), Profile(), sampling=NO_BANDS)
    assert made.bare is not None
    assert made.without_screws is made.bare
    assert abs(made.planned.end.frontal.angulation_deg) < abs(made.bare.end.frontal.angulation_deg) - 0.3
    held = [c for c in made.planned.end.contacts if c.support is Support.BLOCKING_SCREW]
    assert len(held) == 1
    assert held[0].fragment is Fragment.PROXIMAL
    assert held[0].lateral_n < -5
    assert made.planned.end.frontal.band is None


def test_stress_in_walking_exceeds_that_at_rest(course) -> None:
    assert course.planned.walking_stress_mpa > course.planned.end.peak_stress_mpa > 1


def test_a_load_beyond_the_critical_one_has_no_stress(wide, days) -> None:
    made = bone_forecast(
        wide.plan,
        wide.canals,
        days(40.0),
        Profile(walking_load_factor=5, tissue_tension_resting_n=100),
        weight_on_leg_kg=90,
        sampling=NO_BANDS,
    )
    assert made.planned.walking_stress_mpa is None or made.planned.walking_stress_mpa > 100


def test_a_retrograde_nail_tells_the_step_of_the_distal_fragment(planned, days) -> None:
    found = planned(bone=Bone.FEMUR, level=250.0, nail="FR-10.7/305")
    made = bone_forecast(found.plan, found.canals, days(40.0), Profile(), sampling=NO_BANDS)
    stage = made.stages[-1]
    solved = solve_coupled(made.modelled.construct, stage.load, lengthening_mm=stage.lengthening_mm)
    end = made.planned.end.frontal
    assert end.angulation_deg > 0.5  # mid femur drifts into varus
    # Seen from the distal fragment, whose axis is the line across = 0, the proximal axis passes its own cut
    # face at the solved step; both lines are turned until the proximal one stands upright.
    gap, slope = stage.lengthening_mm, -np.radians(solved.frontal_deg)
    proximal_there = solved.lateral_step_mm - slope * gap
    assert end.step_mm == pytest.approx(-proximal_there, abs=0.15)
    assert end.joint_shift_mm < end.step_mm  # varus carries the knee medially


def test_shift_at_the_ankle_is_the_step_and_the_turn_over_the_distal_fragment(course, wide) -> None:
    end, reach = course.planned.end, wide.plan.osteotomy.above_distal_joint_mm
    drift = course.planned.drift()
    assert (end.frontal.joint_shift_mm, end.sagittal.joint_shift_mm) == pytest.approx(drift.shift_mm(reach))
    assert end.frontal.joint_shift_mm - end.frontal.step_mm == pytest.approx(
        np.tan(np.radians(-end.frontal.angulation_deg)) * reach
    )


def test_nothing_pressing_the_nail_gives_a_range_instead_of_a_number(wide, days) -> None:
    idle = Profile(
        tissue_arm_mid_tibia_valgus_mm=0,
        tissue_arm_mid_tibia_procurvatum_mm=0,
        tissue_tension_resting_n=0,
        tissue_tension_rate_tibia_n_per_mm=0,
    )
    made = bone_forecast(wide.plan, wide.canals, days(40.0), idle, sampling=NO_BANDS)
    end = made.planned.end
    assert Outcome.UNDETERMINED in end.outcomes
    assert end.frontal.angulation_deg is None
    assert end.frontal.play.low < -0.5 < 0.5 < end.frontal.play.high
    assert made.planned.drift() is None
    assert made.planned.largest_deg(Plane.FRONTAL) is None
    assert "drift-within-play" in [f.id for f in made.findings]


def test_spreads_follow_bone_level_and_bore(wide) -> None:
    assert moment_spread(Region.PROXIMAL_TIBIA, Plane.FRONTAL) == pytest.approx(
        np.hypot(17 / 30, 1 / 3), abs=1e-6
    )
    assert moment_spread(Region.MID_FEMUR, Plane.FRONTAL) == pytest.approx(
        np.hypot(16 / 20, 2.5 / 7.5), abs=1e-6
    )
    assert play_beside_nail_mm(wide.plan) == pytest.approx(1.0)
    by_name = {
        s.name: s for s in tissue_and_fit_spreads(wide.plan, Region.MID_TIBIA, Plane.FRONTAL, Profile())
    }
    assert by_name["entry_wall_shift_mm"].spread == pytest.approx(0.5)
    assert by_name["moment_factor"].spread <= 1.0
