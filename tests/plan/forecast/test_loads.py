from itertools import pairwise

import pytest

from limbwright.error import Missing
from limbwright.limb.anatomy import Bone
from limbwright.mechanics import Region, tissue_pull
from limbwright.plan.drift import Third
from limbwright.plan.forecast.loads import (
    CourseDay,
    region_of,
    relative_spread,
    stages_of,
    tissue_pull_of,
    walking_load_n,
)
from limbwright.practice.profile import Profile


@pytest.mark.parametrize("region", Region)
def test_our_defaults_are_those_of_the_model(region: Region) -> None:
    assert tissue_pull_of(Profile(), region) == tissue_pull(region)


def test_the_surgeons_own_lever_arm_is_used_and_may_turn_the_pull_round() -> None:
    own = Profile(tissue_arm_distal_femur_valgus_mm=-7, tissue_tension_rate_femur_n_per_mm=9)
    pull = tissue_pull_of(own, Region.DISTAL_FEMUR)
    assert pull.frontal_lever_mm == 7
    assert pull.rate_n_per_mm == 9


def test_regions_are_named_by_bone_and_third() -> None:
    assert region_of(Bone.TIBIA, Third.MIDDLE) is Region.MID_TIBIA
    assert region_of(Bone.FEMUR, Third.DISTAL) is Region.DISTAL_FEMUR


def test_stages_go_from_the_first_step_to_full_length_about_every_8_mm(days) -> None:
    course = (CourseDay(day=0, gained_mm=0), *days(40.0))
    stages = stages_of(course, tissue_pull(Region.MID_TIBIA), Profile())
    gained = [s.lengthening_mm for s in stages]
    assert gained[0] == 1.0
    assert gained[-1] == 40.0
    assert all(6 <= b - a <= 9 for a, b in pairwise(gained))
    assert [s.day for s in stages] == [7 + g for g in gained]


def test_load_and_new_bone_grow_along_the_course(days) -> None:
    stages = stages_of(days(40.0), tissue_pull(Region.MID_TIBIA), Profile(new_bone_shear_ratio=2))
    assert all(b.load.frontal.moment_nm < a.load.frontal.moment_nm < 0 for a, b in pairwise(stages))
    assert all(b.angular_nm_per_deg > a.angular_nm_per_deg for a, b in pairwise(stages))
    assert stages[-1].shear_n_per_mm == pytest.approx(2 * stages[-1].angular_nm_per_deg)
    # 50 N + 6 N/mm over 40 mm with an arm of 15 mm toward procurvatum.
    assert stages[-1].load.sagittal.moment_nm == pytest.approx(0.015 * (50 + 6 * 40))


def test_factors_turn_the_direction_of_the_pull_and_weight_adds_axial_load(days) -> None:
    pull = tissue_pull(Region.MID_TIBIA)
    plain = stages_of(days(20.0), pull, Profile())[-1].load
    turned = stages_of(
        days(20.0), pull, Profile(), frontal_factor=-0.5, sagittal_factor=2, weight_bearing_n=500
    )[-1].load
    assert turned.frontal.moment_nm == pytest.approx(-0.5 * plain.frontal.moment_nm)
    assert turned.sagittal.moment_nm == pytest.approx(2 * plain.sagittal.moment_nm)
    assert turned.frontal.axial_n == pytest.approx(plain.frontal.axial_n + 500)


def test_a_course_that_never_lengthens_is_refused() -> None:
    with pytest.raises(Missing, match="no day of lengthening among 1 days"):
        stages_of([CourseDay(day=0, gained_mm=0)], tissue_pull(Region.MID_TIBIA), Profile())


def test_walking_load_is_the_factor_times_the_weight() -> None:
    assert walking_load_n(Profile(walking_load_factor=2), 10) == pytest.approx(196.133)


def test_spread_of_a_parameter_is_half_its_range_over_its_default() -> None:
    assert relative_spread("tension_rate_tibia") == pytest.approx(4 / 12)
