"""Growth left in each physis."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import OutOfRange, Refused
from limbwright.growth.growth import Physis, Sex
from limbwright.growth.remaining import (
    growth_left,
    growth_left_by_multiplier_mm,
    growth_remaining_mm,
    leg_growth_remaining_mm,
)


@given(st.sampled_from(Physis), st.floats(10, 20))
def test_growth_left_never_goes_below_zero(physis: Physis, age_years: float) -> None:
    left_mm = growth_remaining_mm(physis, sex=Sex.FEMALE, skeletal_age_years=age_years)
    assert left_mm >= 0
    assert (left_mm == 0) == (age_years >= 14)


def test_a_leg_is_the_sum_of_its_physes() -> None:
    assert leg_growth_remaining_mm(sex=Sex.MALE, skeletal_age_years=14) == pytest.approx(2 * 22.5)


@pytest.mark.parametrize(("sex", "age_years"), [(Sex.FEMALE, 7.9), (Sex.MALE, 9.9)])
def test_the_rule_is_refused_before_late_childhood(sex: Sex, age_years: float) -> None:
    with pytest.raises(Refused, match=r"the arithmetic rule is used from (8|10) years .*multiplier"):
        growth_remaining_mm(Physis.DISTAL_FEMUR, sex=sex, skeletal_age_years=age_years)


@given(st.floats(1, 18), st.sampled_from(Sex))
def test_both_ends_of_a_bone_give_all_of_its_growth(age_years: float, sex: Sex) -> None:
    both_mm = sum(
        growth_left_by_multiplier_mm(p, bone_length_mm=300, sex=sex, age_years=age_years)
        for p in (Physis.DISTAL_FEMUR, Physis.PROXIMAL_FEMUR)
    )
    assert both_mm >= 0
    if age_years >= 17:
        assert both_mm == 0


def test_by_multiplier_worked() -> None:
    left_mm = growth_left_by_multiplier_mm(
        Physis.PROXIMAL_TIBIA, bone_length_mm=300, sex=Sex.FEMALE, age_years=11
    )
    assert left_mm == pytest.approx(0.57 * 300 * 0.13)
    adult_mm = growth_left_by_multiplier_mm(
        Physis.PROXIMAL_TIBIA, bone_length_mm=300, sex=Sex.FEMALE, age_years=40
    )
    assert adult_mm == 0


def test_growth_left_answers_what_it_can() -> None:
    early = growth_left(
        Physis.DISTAL_FEMUR, sex=Sex.MALE, age_years=7, skeletal_age_years=None, bone_length_mm=300
    )
    assert early.by_rate_mm is None
    assert early.by_multiplier_mm == pytest.approx(0.71 * 300 * 0.57)
    late = growth_left(
        Physis.DISTAL_FEMUR, sex=Sex.MALE, age_years=13, skeletal_age_years=14, bone_length_mm=None
    )
    assert late.by_rate_mm == 18
    assert late.by_multiplier_mm is None


def test_an_impossible_age_is_refused() -> None:
    with pytest.raises(OutOfRange, match="age is -1 years"):
        growth_left_by_multiplier_mm(Physis.DISTAL_FEMUR, bone_length_mm=300, sex=Sex.MALE, age_years=-1)
