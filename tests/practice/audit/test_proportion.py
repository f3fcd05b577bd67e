"""Shares with exact intervals."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from limbwright.practice.audit.proportion import proportion

counts = st.integers(1, 200).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@given(counts)
def test_ends_are_where_the_tail_has_half_the_risk(pair) -> None:
    k, n = pair
    found = proportion(k, n, confidence=0.95)
    low, high = found.interval.low, found.interval.high
    assert low == 0 if k == 0 else stats.binom.sf(k - 1, n, low) == pytest.approx(0.025, abs=1e-6)
    assert high == 1 if k == n else stats.binom.cdf(k, n, high) == pytest.approx(0.025, abs=1e-6)


@given(counts)
def test_having_it_and_not_having_it_mirror(pair) -> None:
    k, n = pair
    one, other = proportion(k, n, confidence=0.9), proportion(n - k, n, confidence=0.9)
    assert other.interval.low == pytest.approx(1 - one.interval.high)
    assert other.share == pytest.approx(1 - one.share)
