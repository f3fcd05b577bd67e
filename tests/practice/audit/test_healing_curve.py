"""Time to healing."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.practice.audit.healing_curve import Curve, curve, healing_curves
from limbwright.practice.audit.sample import TooFew


def by_hand(days, healed):
    """Kaplan-Meier by the textbook product, one bone at a time."""
    left, shares = 1.0, {}
    for day in sorted({d for d, h in zip(days, healed, strict=True) if h}):
        at_risk = sum(d >= day for d in days)
        left *= 1 - sum(d == day and h for d, h in zip(days, healed, strict=True)) / at_risk
        shares[day] = 1 - left
    return shares


@given(
    st.lists(
        st.tuples(st.sampled_from([60.0, 60.5, 61.0, 90.0, 120.0, 121.0]), st.booleans()),
        min_size=2,
        max_size=25,
    ).filter(lambda rows: any(healed for _, healed in rows))
)
@settings(deadline=None, max_examples=40)
def test_the_curve_is_the_textbook_product(rows) -> None:
    days, healed = zip(*rows, strict=True)
    found = curve(np.array(days), np.array(healed), confidence=0.95)
    expected = by_hand(days, healed)
    assert found.days == tuple(expected)
    assert found.healed_share == pytest.approx(list(expected.values()))
    for low, share, high in zip(found.low_share, found.healed_share, found.high_share, strict=True):
        assert low - 1e-12 <= share <= high + 1e-12
    assert list(found.healed_share) == sorted(found.healed_share)


def test_a_bone_censored_on_a_day_still_counts_on_that_day() -> None:
    found = curve(np.array([100.0, 100.0]), np.array([True, False]), confidence=0.95)
    assert found.at_risk == (2,)
    assert found.healed_share == (0.5,)


def test_the_median_is_where_half_have_healed_and_its_interval_where_the_band_crosses() -> None:
    days = np.arange(1.0, 21)
    found = curve(days, np.ones(20, dtype=bool), confidence=0.95)
    assert found.median_days == 10
    assert found.median_interval is not None
    lower = next(d for d, high in zip(found.days, found.high_share, strict=True) if high >= 0.5)
    upper = next(d for d, low in zip(found.days, found.low_share, strict=True) if low >= 0.5)
    assert (found.median_interval.low, found.median_interval.high) == (lower, upper)
    assert lower < 10 < upper


def test_no_median_while_fewer_than_half_have_healed() -> None:
    found = curve(
        np.array([50.0, 60, 60, 60, 60]), np.array([True, False, False, False, False]), confidence=0.95
    )
    assert found.median_days is None
    assert found.median_interval is None


def test_curves_by_bone_and_too_few(blank) -> None:
    columns = blank(
        13,
        bone=["tibia"] * 10 + ["femur"] * 3,
        healed=[True] * 8 + [False] * 2 + [True] * 2 + [False],
        followed_days=[*range(100, 200, 10), 80, 90, np.nan],
    )
    femur, tibia = healing_curves(columns, min_healed=8, confidence=0.95)
    assert (femur.group.bone, femur.n, femur.healed) == ("femur", 2, 2)
    assert isinstance(femur.curve, TooFew)
    assert femur.curve.words == "2 of 8 needed (femur, healed)"
    assert isinstance(tibia.curve, Curve)
    assert (tibia.n, tibia.healed, len(tibia.cases)) == (10, 8, 10)
    assert tibia.curve.healed_share[-1] == pytest.approx(0.8)


def test_a_wider_band_for_a_higher_confidence() -> None:
    days, healed = np.arange(1.0, 31), np.arange(30) % 3 > 0
    narrow, wide = (curve(days, healed, confidence=c) for c in (0.8, 0.99))
    assert wide.low_share[5] < narrow.low_share[5] < narrow.high_share[5] < wide.high_share[5]
