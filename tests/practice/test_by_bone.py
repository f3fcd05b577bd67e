"""Answers that depend on bone, age and nail."""

import pytest

from limbwright.error import OutOfRange, Refused
from limbwright.limb.anatomy import Bone
from limbwright.practice.by_bone import (
    Rhythm,
    healing_index_days_per_cm,
    is_child,
    latency_days,
    max_lengthening_mm,
    osteotomy_margins_mm,
    rhythm,
    tibial_nail_min_age_years,
    weight_limit_kg,
)
from limbwright.practice.profile import Profile


@pytest.mark.parametrize(
    ("bone", "age_years", "days"),
    [(Bone.FEMUR, 30, 5), (Bone.FEMUR, 15.9, 4), (Bone.TIBIA, 16, 7), (Bone.TIBIA, 12, 5)],
)
def test_latency(bone: Bone, age_years: float, days: float) -> None:
    assert latency_days(Profile(), bone=bone, age_years=age_years) == days


def test_latency_follows_the_surgeon() -> None:
    assert latency_days(Profile(latency_tibia_adult_days=10), bone=Bone.TIBIA, age_years=30) == 10


def test_rhythm() -> None:
    profile = Profile(steady_steps_per_day_femur=5, fast_start_days_tibia=3)
    assert rhythm(profile, bone=Bone.FEMUR) == Rhythm(
        step_mm=0.25, fast_start_days=4, fast_start_steps_per_day=4, steady_steps_per_day=5
    )
    assert rhythm(profile, bone=Bone.TIBIA) == Rhythm(
        step_mm=0.25, fast_start_days=3, fast_start_steps_per_day=4, steady_steps_per_day=3
    )


def test_amount_is_limited_by_length_or_by_share_whichever_is_less() -> None:
    assert max_lengthening_mm(Profile(), bone=Bone.TIBIA, bone_length_mm=360) == 60
    assert max_lengthening_mm(Profile(), bone=Bone.TIBIA, bone_length_mm=250) == pytest.approx(50)
    assert max_lengthening_mm(Profile(), bone=Bone.FEMUR, bone_length_mm=460) == 80


def test_osteotomy_margins() -> None:
    profile = Profile(osteotomy_min_to_hip_mm=81, osteotomy_min_above_ankle_mm=72)
    assert osteotomy_margins_mm(profile, bone=Bone.FEMUR) == (81, 70)
    assert osteotomy_margins_mm(profile, bone=Bone.TIBIA) == (70, 72)


@pytest.mark.parametrize(
    ("diameter_mm", "limit_kg"), [(8.5, 13.608), (10, 13.608), (10.7, 22.680), (12.5, 31.751), (14, 31.751)]
)
def test_weight_limit_takes_the_thinner_listed_nail(diameter_mm: float, limit_kg: float) -> None:
    assert weight_limit_kg(Profile(), thick_diameter_mm=diameter_mm) == limit_kg


def test_no_weight_limit_is_guessed_for_a_thinner_nail() -> None:
    with pytest.raises(Refused, match=r"nail of 8 mm; the thinnest listed is 8\.5 mm.*nail catalogue"):
        weight_limit_kg(Profile(), thick_diameter_mm=8.0)


def test_healing_index_by_bone_entry_and_age() -> None:
    profile = Profile()
    tibia = healing_index_days_per_cm(profile, bone=Bone.TIBIA, retrograde=False, age_years=30)
    assert (tibia.value, tibia.sd, tibia.unit) == (41.0, 17.4, "days/cm")
    retrograde = healing_index_days_per_cm(profile, bone=Bone.FEMUR, retrograde=True, age_years=30)
    assert (retrograde.value, retrograde.sd) == (33.5, 14.5)
    child = healing_index_days_per_cm(profile, bone=Bone.FEMUR, retrograde=False, age_years=12)
    assert (child.value, child.sd) == pytest.approx((24.5 * 0.75, 9.5 * 0.75))


def test_minimum_age_for_a_tibial_nail() -> None:
    assert tibial_nail_min_age_years(Profile(), girl=True) == 14
    assert tibial_nail_min_age_years(Profile(tibial_nail_min_age_boy_years=15.5), girl=False) == 15.5


def test_a_fibula_has_no_nail() -> None:
    for ask in (
        lambda: rhythm(Profile(), bone=Bone.FIBULA),
        lambda: latency_days(Profile(), bone=Bone.FIBULA, age_years=30),
        lambda: max_lengthening_mm(Profile(), bone=Bone.FIBULA, bone_length_mm=300),
        lambda: osteotomy_margins_mm(Profile(), bone=Bone.FIBULA),
        lambda: healing_index_days_per_cm(Profile(), bone=Bone.FIBULA, retrograde=False, age_years=30),
    ):
        with pytest.raises(OutOfRange, match="bone is fibula, expected femur or tibia"):
            ask()


def test_an_impossible_age_is_refused() -> None:
    with pytest.raises(OutOfRange, match="age is -1 years"):
        is_child(Profile(), -1)
