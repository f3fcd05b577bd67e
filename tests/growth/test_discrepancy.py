"""Discrepancy at maturity by the multiplier."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import OutOfRange, Refused
from limbwright.growth.discrepancy import (
    congenital_discrepancy_after_lengthening_mm,
    congenital_discrepancy_at_maturity_mm,
    developmental_discrepancy_at_maturity_mm,
    inhibition,
)
from limbwright.growth.growth import Sex

LENGTHS = st.floats(300, 900)


@given(LENGTHS, st.floats(0, 100), st.floats(0.5, 18), st.sampled_from(Sex))
def test_a_congenital_discrepancy_is_one_with_the_legs_own_ratio(
    long_mm: float, discrepancy_mm: float, age_years: float, sex: Sex
) -> None:
    congenital = congenital_discrepancy_at_maturity_mm(
        discrepancy_mm=discrepancy_mm, sex=sex, age_years=age_years
    )
    as_developmental = developmental_discrepancy_at_maturity_mm(
        long_mm=long_mm,
        short_mm=long_mm - discrepancy_mm,
        inhibited_share=discrepancy_mm / long_mm,
        sex=sex,
        age_years=age_years,
    )
    assert congenital == pytest.approx(as_developmental, abs=1e-6)


@given(LENGTHS, st.floats(0.5, 0.99), st.floats(10, 60))
def test_inhibition_of_a_leg_that_keeps_its_ratio(long_mm: float, ratio: float, grown_mm: float) -> None:
    found = inhibition(
        long_mm=long_mm,
        short_mm=ratio * long_mm,
        earlier_long_mm=long_mm - grown_mm,
        earlier_short_mm=ratio * (long_mm - grown_mm),
        years_between=1,
    )
    assert found == pytest.approx(1 - ratio, abs=1e-9)


def test_a_leg_that_stands_still_and_one_that_catches_up() -> None:
    given_mm = {"long_mm": 700, "earlier_long_mm": 660, "years_between": 1.5}
    assert inhibition(short_mm=640, earlier_short_mm=640, **given_mm) == 1
    assert inhibition(short_mm=690, earlier_short_mm=640, **given_mm) == pytest.approx(-0.25)


def test_inhibition_is_refused_where_it_would_be_reading_error() -> None:
    lengths_mm = {"short_mm": 680, "earlier_long_mm": 698, "earlier_short_mm": 679}
    with pytest.raises(Refused, match=r"the long leg grew 2\.0 mm between the films, expected at least 5 mm"):
        inhibition(long_mm=700, years_between=1, **lengths_mm)
    with pytest.raises(OutOfRange, match=r"time between the films is 0\.3 years, expected 0\.5 to 18 years"):
        inhibition(long_mm=720, years_between=0.3, **lengths_mm)
    with pytest.raises(OutOfRange, match="long leg is 7 mm, expected 20 to 1500 mm"):
        inhibition(long_mm=7, years_between=1, **lengths_mm)


def test_an_earlier_lengthening_is_taken_off_the_prediction() -> None:
    left_mm = congenital_discrepancy_after_lengthening_mm(
        discrepancy_before_mm=30, age_before_years=8, gained_mm=50, sex=Sex.MALE
    )
    assert left_mm == pytest.approx(44.1 - 50)


def test_a_shorter_long_leg_is_refused() -> None:
    with pytest.raises(OutOfRange, match="discrepancy is -10 mm, expected 0 to 400 mm"):
        developmental_discrepancy_at_maturity_mm(
            long_mm=690, short_mm=700, inhibited_share=0.1, sex=Sex.MALE, age_years=10
        )
    with pytest.raises(OutOfRange, match="discrepancy is -1 mm"):
        congenital_discrepancy_at_maturity_mm(discrepancy_mm=-1, sex=Sex.MALE, age_years=10)
