"""The multiplier table and its inverse."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from limbwright.error import OutOfRange, Refused
from limbwright.growth.growth import Sex
from limbwright.growth.multiplier import (
    age_at_multiplier_years,
    length_at_maturity_mm,
    multiplier,
    multiplier_grown_years,
    multiplier_source,
)
from limbwright.published import Status

SEXES = st.sampled_from(Sex)
TABLE_AGES = st.floats(0.5, 18)


@given(SEXES, TABLE_AGES, TABLE_AGES)
def test_it_never_rises_with_age(sex: Sex, one: float, other: float) -> None:
    assert multiplier(sex, min(one, other)) >= multiplier(sex, max(one, other)) >= 1.0


@given(TABLE_AGES)
def test_a_girl_has_never_more_to_grow_than_a_boy(age_years: float) -> None:
    assert multiplier(Sex.FEMALE, age_years) <= multiplier(Sex.MALE, age_years)


@given(SEXES, TABLE_AGES)
def test_the_inverse_returns_the_age_while_the_leg_grows(sex: Sex, age_years: float) -> None:
    value = multiplier(sex, age_years)
    assume(value > 1.011)
    assert age_at_multiplier_years(sex, value) == pytest.approx(age_years, abs=1e-6)


@given(SEXES, st.floats(1, 3.7))
def test_the_inverse_is_an_age_at_which_the_table_has_that_value(sex: Sex, value: float) -> None:
    assert multiplier(sex, age_at_multiplier_years(sex, value)) == pytest.approx(value)


def test_between_rows_a_straight_line() -> None:
    assert multiplier(Sex.MALE, 8.25) == pytest.approx((1.470 + 1.420) / 2)


def test_growth_is_over() -> None:
    assert multiplier_grown_years(Sex.FEMALE) == 14
    assert multiplier_grown_years(Sex.MALE) == 17
    assert multiplier(Sex.FEMALE, 18) == 1.0
    assert age_at_multiplier_years(Sex.MALE, 1.0) == 17
    assert age_at_multiplier_years(Sex.MALE, 1.01) == pytest.approx(16)


@pytest.mark.parametrize("age_years", [0.01, 0.25, 0.49])
def test_the_cell_in_doubt_is_refused(age_years: float) -> None:
    with pytest.raises(Refused, match=r"rests on the row for 0\.25 years.*Measure again at 0\.5 years"):
        multiplier(Sex.FEMALE, age_years)
    assert multiplier(Sex.MALE, age_years) > 4


def test_around_the_cell_in_doubt_the_table_answers() -> None:
    assert multiplier(Sex.FEMALE, 0) == 4.630
    assert multiplier(Sex.FEMALE, 0.5) == 3.725
    with pytest.raises(Refused, match="female multiplier rests on the row"):
        age_at_multiplier_years(Sex.FEMALE, 4.0)


@pytest.mark.parametrize("age_years", [-0.1, 18.1, float("nan")])
def test_ages_outside_the_table_are_refused(age_years: float) -> None:
    with pytest.raises(
        OutOfRange, match=r"age is .* years, expected 0 to 18 years.*adult's discrepancy stays"
    ):
        multiplier(Sex.MALE, age_years)


def test_multipliers_outside_the_table_are_refused() -> None:
    with pytest.raises(OutOfRange, match=r"multiplier is 0\.9 , expected 1 to 5\.08"):
        age_at_multiplier_years(Sex.MALE, 0.9)


def test_length_at_maturity() -> None:
    assert length_at_maturity_mm(700, sex=Sex.MALE, age_years=10) == pytest.approx(917)
    with pytest.raises(OutOfRange, match="length is 0 mm, expected 20 to 1500 mm"):
        length_at_maturity_mm(0, sex=Sex.MALE, age_years=10)


def test_the_source_says_that_the_table_is_from_memory() -> None:
    assert multiplier_source().status is Status.MEMORY
