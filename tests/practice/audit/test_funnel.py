"""Rates by period against exact limits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from limbwright.practice.audit.funnel import FunnelPoint, Period, Place, funnel, funnel_point
from limbwright.practice.audit.proportion import Proportion
from limbwright.practice.audit.sample import TooFew


@given(st.integers(5, 300), st.floats(0.01, 0.99), st.sampled_from([0.8, 0.95, 0.99]))
def test_limits_leave_at_most_half_the_risk_beyond_and_are_the_tightest_that_do(n, rate, confidence) -> None:
    point = funnel_point(0, n, rate=rate, confidence=confidence)
    low, high = round(point.low_share * n), round(point.high_share * n)
    tail = (1 - confidence) / 2
    assert stats.binom.cdf(low - 1, n, rate) <= tail < stats.binom.cdf(low, n, rate) + 1e-12
    assert stats.binom.sf(high, n, rate) <= tail + 1e-12
    assert stats.binom.sf(high - 1, n, rate) > tail - 1e-12
    assert point.far_low_share <= point.low_share <= point.high_share <= point.far_high_share


@pytest.mark.parametrize(
    ("count", "place"),
    [
        (10, Place.WITHIN),
        (3, Place.BELOW),
        (1, Place.FAR_BELOW),
        (17, Place.ABOVE),
        (21, Place.FAR_ABOVE),
    ],
)
def test_places_around_ten_in_a_hundred(count, place) -> None:
    # Binomial 100, 0.1: P(X <= 3) = 0.0078, P(X <= 1) = 0.0003, P(X >= 17) = 0.0206, P(X >= 21) = 0.0008
    assert funnel_point(count, 100, rate=0.1, confidence=0.95).place is place


def made(blank, counts, days, **given):
    columns = blank(len(counts), operated_on=np.array(days, dtype="datetime64[D]"))
    options = {"event": "obstacle", "period": Period.YEAR, "min_n": 3, "min_n_pooled": 5, "confidence": 0.95}
    return funnel(columns, np.array(counts, dtype=float), **(options | given))


def test_years_and_their_cases(blank) -> None:
    days = ["2024-01-01", "2024-12-31", "2024-06-01", "2026-01-01", "2026-03-31", "2026-04-01"]
    found = made(blank, [2, 0, 0, 1, 0, 0], days)
    assert [(p.period, p.n) for p in found.periods] == [("2024", 3), ("2026", 3)]
    assert found.periods[0].cases_with == ("case 0",)
    assert found.periods[1].cases == ("case 3", "case 4", "case 5")
    assert isinstance(found.pooled, Proportion)
    assert (found.pooled.count, found.pooled.n) == (2, 6)
    assert isinstance(found.periods[0].point, FunnelPoint)
    assert found.periods[0].point.count == 1


def test_quarters(blank) -> None:
    days = ["1969-12-31", "2026-03-31", "2026-04-01", "2026-12-31", "2026-12-01"]
    found = made(blank, [0] * 5, days, period=Period.QUARTER)
    assert [p.period for p in found.periods] == ["1969-Q4", "2026-Q1", "2026-Q2", "2026-Q4"]


def test_a_short_period_and_a_short_practice_are_refused(blank) -> None:
    days = ["2024-01-01"] * 2 + ["2025-01-01"] * 4
    found = made(blank, [0, 1, 0, 0, 1, 0], days)
    assert isinstance(found.periods[0].point, TooFew)
    assert found.periods[0].point.words == "2 of 3 needed (obstacle, 2024)"
    assert isinstance(found.periods[1].point, FunnelPoint)
    few = made(blank, [0, 1, 0, 0, 1, 0], days, min_n_pooled=7)
    assert isinstance(few.pooled, TooFew)
    assert all(isinstance(p.point, TooFew) and p.point.n == 6 for p in few.periods)


def test_undated_and_unrecorded_bones_are_left_out(blank) -> None:
    found = made(blank, [1, np.nan, 0], ["NaT", "2024-01-01", "2024-01-01"])
    assert (found.n, found.cases) == (1, ("case 2",))
    assert made(blank, [], []).periods == ()
