"""Discrepancy at maturity with its second opinion."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import Missing, OutOfRange
from limbwright.finding import Severity
from limbwright.growth.discrepancy import DiscrepancyKind
from limbwright.growth.growth import Sex
from limbwright.growth.prediction import DiscrepancyAtMaturity, discrepancy_at_maturity


def predicted(**changes: Any) -> DiscrepancyAtMaturity:
    given_values: dict[str, Any] = {
        "kind": DiscrepancyKind.CONGENITAL,
        "long_leg_mm": 700,
        "short_leg_mm": 665,
        "sex": Sex.FEMALE,
        "age_years": 11,
        "skeletal_age_years": 11,
        "prediction_error_mm": 20,
        "disagreement_mm": 10,
    }
    return discrepancy_at_maturity(**(given_values | changes))


def ids(found: DiscrepancyAtMaturity) -> list[str]:
    return [f.id for f in found.findings]


def test_congenital() -> None:
    found = predicted()
    assert found.by_multiplier.value == pytest.approx(35 * 1.13)
    assert found.growth_left_mm == pytest.approx(91)
    assert found.by_growth_remaining is not None
    assert found.by_growth_remaining.value == pytest.approx(35 + 0.05 * 67.5)
    assert ids(found) == ["discrepancy-still-changing"]
    assert "35 mm today and is predicted to be 40 mm" in found.findings[0].words
    assert found.findings[0].severity is Severity.CAUTION


def test_constant_stays() -> None:
    found = predicted(kind=DiscrepancyKind.CONSTANT)
    assert found.by_multiplier.value == 35
    assert ids(found) == []


def test_developmental_needs_its_inhibition() -> None:
    found = predicted(kind=DiscrepancyKind.DEVELOPMENTAL, inhibited_share=0.3)
    assert found.by_multiplier.value == pytest.approx(35 + 0.3 * 91)
    with pytest.raises(Missing, match=r"without the share by which the short leg lags.*six months before"):
        predicted(kind=DiscrepancyKind.DEVELOPMENTAL)
    with pytest.raises(OutOfRange, match="inhibition is 30"):
        predicted(kind=DiscrepancyKind.DEVELOPMENTAL, inhibited_share=30)


def test_predictions_that_disagree_are_shown() -> None:
    found = predicted(kind=DiscrepancyKind.DEVELOPMENTAL, inhibited_share=0.5, skeletal_age_years=13)
    assert "discrepancy-predictions-disagree" in ids(found)
    words = next(f.words for f in found.findings if f.id == "discrepancy-predictions-disagree")
    assert (
        "80 mm by the multiplier and 46 mm by yearly growth; they differ by 34 mm, more than 10 mm" in words
    )
    agreeing = predicted(
        kind=DiscrepancyKind.DEVELOPMENTAL, inhibited_share=0.5, skeletal_age_years=13, disagreement_mm=40
    )
    assert "discrepancy-predictions-disagree" not in ids(agreeing)


def test_without_a_skeletal_age_the_calendar_serves_and_says_so() -> None:
    found = predicted(skeletal_age_years=None)
    assert found.by_growth_remaining == predicted().by_growth_remaining
    assert "discrepancy-without-skeletal-age" in ids(found)
    assert "discrepancy-without-skeletal-age" not in ids(predicted())


def test_a_young_child_has_one_prediction_only() -> None:
    found = predicted(age_years=5, skeletal_age_years=None, long_leg_mm=500, short_leg_mm=480)
    assert found.by_growth_remaining is None
    assert found.by_multiplier.value == pytest.approx(20 * 1.66)
    assert "discrepancy-single-prediction" in ids(found)


@given(st.floats(17, 90), st.sampled_from(DiscrepancyKind))
def test_an_adult_s_discrepancy_stays_as_measured(age_years: float, kind: DiscrepancyKind) -> None:
    found = predicted(
        age_years=age_years, skeletal_age_years=None, kind=kind, inhibited_share=0.2, discrepancy_sd_mm=3
    )
    assert found.by_multiplier.value == 35
    assert found.by_multiplier.sd == pytest.approx(3)
    assert ids(found) == []


def test_the_error_is_never_more_than_the_growth_left() -> None:
    assert predicted().by_multiplier.sd == pytest.approx(20 / 1.959964)
    late = predicted(age_years=13.5, skeletal_age_years=13.5)
    assert late.by_multiplier.sd == pytest.approx(700 * 0.01 / 1.959964)
    wide = predicted(discrepancy_sd_mm=3)
    assert wide.by_multiplier.sd == pytest.approx(((20 / 1.959964) ** 2 + 9) ** 0.5)


def test_the_shorter_leg_must_be_the_shorter() -> None:
    with pytest.raises(OutOfRange, match="discrepancy is -5 mm, expected 0 to 400 mm"):
        predicted(short_leg_mm=705)
