"""Physes and the end of growth."""

import pytest

from limbwright.error import OutOfRange
from limbwright.growth.growth import (
    Physis,
    Sex,
    growth_end_source,
    growth_ends_years,
    growth_rate_mm_per_year,
    growth_rule_from_years,
    physis_crossed,
    require_age,
    share_of_bone,
)
from limbwright.limb.anatomy import Bone


def test_a_nail_passes_the_physis_at_its_entry() -> None:
    assert physis_crossed(Bone.TIBIA, retrograde=False) is Physis.PROXIMAL_TIBIA
    assert physis_crossed(Bone.FEMUR, retrograde=False) is Physis.PROXIMAL_FEMUR
    assert physis_crossed(Bone.FEMUR, retrograde=True) is Physis.DISTAL_FEMUR
    with pytest.raises(OutOfRange, match="bone is fibula"):
        physis_crossed(Bone.FIBULA, retrograde=False)


@pytest.mark.parametrize("bone", [Bone.FEMUR, Bone.TIBIA])
def test_both_physes_of_a_bone_share_all_of_its_growth(bone: Bone) -> None:
    assert sum(share_of_bone(p) for p in Physis if p.bone is bone) == pytest.approx(1)


def test_the_knee_grows_most() -> None:
    rates = {p: growth_rate_mm_per_year(p) for p in Physis}
    assert sorted(rates, key=rates.__getitem__)[-2:] == [Physis.PROXIMAL_TIBIA, Physis.DISTAL_FEMUR]


def test_girls_end_two_years_before_boys() -> None:
    assert growth_ends_years(Sex.MALE) - growth_ends_years(Sex.FEMALE) == 2
    assert growth_ends_years(Sex.FEMALE) - growth_rule_from_years(Sex.FEMALE) == 6
    assert "Menelaus" in growth_end_source(Sex.MALE).text


def test_an_impossible_age_is_refused() -> None:
    with pytest.raises(OutOfRange, match="skeletal age is 1200 years, expected 0 to 120 years"):
        require_age("skeletal age", 1200)
