"""Median, quartiles, mean, standard deviation."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from limbwright.practice.audit.spread import least_for_median, median_rank, spread


@pytest.mark.parametrize(("confidence", "n"), [(0.95, 6), (0.99, 8), (0.9, 5), (0.5, 2)])
def test_least_sample_is_where_both_extremes_just_bound_the_median(confidence, n) -> None:
    assert least_for_median(confidence) == n
    assert median_rank(n, confidence=confidence) == 1
    assert median_rank(n - 1, confidence=confidence) == 0


@given(st.integers(6, 400), st.sampled_from([0.9, 0.95, 0.99]))
def test_the_interval_of_the_median_holds_its_confidence_and_the_next_tighter_does_not(n, confidence) -> None:
    rank = median_rank(n, confidence=confidence)
    if rank == 0:
        assert n < least_for_median(confidence)
        return
    assert 1 - 2 * stats.binom.cdf(rank - 1, n, 0.5) >= confidence - 1e-12
    assert 1 - 2 * stats.binom.cdf(rank, n, 0.5) < confidence


def test_a_sample_worked_by_hand() -> None:
    found = spread(np.array([9.0, 1, 2, 3, 4, 5, 6, 7, 8, 10]), confidence=0.95)
    assert (found.median, found.lower_quartile, found.upper_quartile) == (5.5, 3.25, 7.75)
    assert (found.median_interval.low, found.median_interval.high) == (2, 9)
    assert found.mean == 5.5
    assert found.sd == pytest.approx(3.02765, abs=1e-5)
    # t with 9 degrees of freedom: 2.262; chi-squared: 2.700 and 19.023
    assert found.mean_interval.high - found.mean == pytest.approx(2.262 * 3.02765 / 10**0.5, abs=1e-3)
    assert found.sd_interval.low == pytest.approx(3.02765 * (9 / 19.023) ** 0.5, abs=1e-3)
    assert found.sd_interval.high == pytest.approx(3.02765 * (9 / 2.700) ** 0.5, abs=1e-3)


@given(st.lists(st.floats(-1e3, 1e3), min_size=6, max_size=40), st.floats(0.1, 10), st.floats(-50, 50))
def test_shift_and_scale_move_with_the_sample(values, scale, shift) -> None:
    sample = np.array(values)
    one, other = spread(sample, confidence=0.95), spread(sample * scale + shift, confidence=0.95)
    assert other.median == pytest.approx(one.median * scale + shift, abs=1e-6)
    assert other.sd == pytest.approx(one.sd * scale, abs=1e-6)
    assert other.mean_interval.low == pytest.approx(one.mean_interval.low * scale + shift, abs=1e-6)
