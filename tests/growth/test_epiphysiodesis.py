"""When to stop growth at the knee."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import OutOfRange, Refused
from limbwright.growth.epiphysiodesis import epiphysiodesis_age_years, epiphysiodesis_skeletal_age_years
from limbwright.growth.growth import Physis, Sex, share_of_bone
from limbwright.growth.multiplier import multiplier

FEMUR_MM, TIBIA_MM = 470.0, 380.0


@given(st.floats(5, 60), st.sampled_from(Sex))
def test_growth_left_at_that_age_is_what_is_wanted(wanted_mm: float, sex: Sex) -> None:
    mature = {Physis.DISTAL_FEMUR: FEMUR_MM, Physis.PROXIMAL_TIBIA: TIBIA_MM}
    age_years = epiphysiodesis_age_years(wanted_mm=wanted_mm, bone_length_at_maturity_mm=mature, sex=sex)
    ratio = multiplier(sex, age_years)
    held_back_mm = sum(share_of_bone(p) * (length - length / ratio) for p, length in mature.items())
    assert held_back_mm == pytest.approx(wanted_mm)


def test_more_to_hold_back_means_earlier() -> None:
    ages = [
        epiphysiodesis_age_years(
            wanted_mm=w, bone_length_at_maturity_mm={Physis.DISTAL_FEMUR: FEMUR_MM}, sex=Sex.MALE
        )
        for w in (10, 20, 40, 80)
    ]
    assert ages == sorted(ages, reverse=True)


def test_arithmetic_rule() -> None:
    both = (Physis.DISTAL_FEMUR, Physis.PROXIMAL_TIBIA)
    assert epiphysiodesis_skeletal_age_years(wanted_mm=45, physes=both, sex=Sex.FEMALE) == pytest.approx(11)
    with pytest.raises(Refused, match=r"would need a stop at a skeletal age of 5\.0 years"):
        epiphysiodesis_skeletal_age_years(wanted_mm=81, physes=(Physis.DISTAL_FEMUR,), sex=Sex.FEMALE)


def test_too_much_is_refused() -> None:
    with pytest.raises(Refused, match="200 mm cannot be held back by stopping proximal tibia"):
        epiphysiodesis_age_years(
            wanted_mm=200, bone_length_at_maturity_mm={Physis.PROXIMAL_TIBIA: TIBIA_MM}, sex=Sex.MALE
        )


@pytest.mark.parametrize("physes", [(), (Physis.DISTAL_TIBIA,), (Physis.DISTAL_FEMUR, Physis.DISTAL_FEMUR)])
def test_only_the_knee_is_stopped(physes: tuple[Physis, ...]) -> None:
    with pytest.raises(OutOfRange, match="expected distal femur or proximal tibia, each once"):
        epiphysiodesis_skeletal_age_years(wanted_mm=20, physes=physes, sex=Sex.MALE)


def test_an_impossible_length_is_refused() -> None:
    with pytest.raises(OutOfRange, match="femur length at maturity is 48 mm, expected 100 to 700 mm"):
        epiphysiodesis_age_years(
            wanted_mm=30, bone_length_at_maturity_mm={Physis.DISTAL_FEMUR: 48}, sex=Sex.MALE
        )
