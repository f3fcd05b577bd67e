"""Logistic regression on one number."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, special

from limbwright.error import Missing
from limbwright.practice.audit.logistic import LogisticFit, Separated, logistic_fit, separation


def drawn(n, seed=1, even=45.0, width=6.0):
    rng = np.random.Generator(np.random.PCG64(seed))
    x = rng.uniform(20, 70, n)
    return x, rng.random(n) < special.expit((x - even) / width)


def likelihood(intercept, slope, x, yes):
    eta = intercept + slope * x
    return float(np.sum(np.where(yes, eta, 0) - np.logaddexp(0, eta)))


def test_the_fit_is_the_top_of_the_likelihood() -> None:
    x, yes = drawn(80)
    fit = logistic_fit(x, yes, confidence=0.95)
    assert isinstance(fit, LogisticFit)
    top = likelihood(fit.intercept, fit.slope, x, yes)
    assert fit.log_likelihood == pytest.approx(top)
    for da, db in ((1e-2, 0), (-1e-2, 0), (0, 1e-3), (0, -1e-3)):
        assert likelihood(fit.intercept + da, fit.slope + db, x, yes) < top


def test_interval_ends_lie_where_the_profile_has_dropped_by_half_the_chi_squared() -> None:
    x, yes = drawn(60)
    fit = logistic_fit(x, yes, confidence=0.95)
    assert isinstance(fit, LogisticFit)
    drop = 3.841459 / 2
    for end in (fit.slope_interval.low, fit.slope_interval.high):
        best = optimize.minimize_scalar(lambda a, e=end: -likelihood(a, e, x, yes), bracket=(-20, 0))
        assert fit.log_likelihood + best.fun == pytest.approx(drop, abs=1e-5)
    assert fit.even_interval is not None
    for end in (fit.even_interval.low, fit.even_interval.high):
        best = optimize.minimize_scalar(lambda b, e=end: -likelihood(-b * e, b, x, yes), bracket=(0.0, 0.3))
        assert fit.log_likelihood + best.fun == pytest.approx(drop, abs=1e-5)


@given(st.floats(0.1, 20), st.floats(-100, 100))
@settings(deadline=None, max_examples=25)
def test_another_unit_of_the_number_is_only_another_unit(scale, shift) -> None:
    x, yes = drawn(50)
    one = logistic_fit(x, yes, confidence=0.95)
    other = logistic_fit(x * scale + shift, yes, confidence=0.95)
    assert isinstance(one, LogisticFit)
    assert isinstance(other, LogisticFit)
    assert other.slope * scale == pytest.approx(one.slope, rel=1e-5)
    assert other.even_at == pytest.approx(one.even_at * scale + shift, abs=1e-5 * scale + 1e-5)
    assert other.slope_interval.low * scale == pytest.approx(one.slope_interval.low, rel=1e-5)


def test_asking_for_the_opposite_turns_the_slope() -> None:
    x, yes = drawn(60)
    one, other = logistic_fit(x, yes, confidence=0.95), logistic_fit(x, ~yes, confidence=0.95)
    assert other.slope == pytest.approx(-one.slope)
    assert other.slope_interval.high == pytest.approx(-one.slope_interval.low)
    assert other.even_at == pytest.approx(one.even_at)


def test_the_curve_spans_the_data_and_passes_one_half_at_the_even_value() -> None:
    x, yes = drawn(200)
    fit = logistic_fit(x, yes, confidence=0.95)
    curve = fit.curve
    assert (curve.x[0], curve.x[-1]) == (x.min(), x.max())
    assert np.interp(fit.even_at, curve.x, curve.chance) == pytest.approx(0.5, abs=0.01)
    assert all(low < p < high for low, p, high in zip(curve.low, curve.chance, curve.high, strict=True))


def test_odds_ratio_of_ten_steps_is_the_tenth_power_of_one() -> None:
    fit = logistic_fit(*drawn(80), confidence=0.95)
    ten, ends = fit.odds_ratio(10)
    one, _ = fit.odds_ratio(1)
    assert ten == pytest.approx(one**10)
    assert ends.low == pytest.approx(math.exp(10 * fit.slope_interval.low))


def test_no_trend_gives_no_even_value() -> None:
    x, yes = np.repeat(np.arange(10.0), 6), np.arange(60) % 2 == 0
    fit = logistic_fit(x, yes, confidence=0.95)
    assert isinstance(fit, LogisticFit)
    assert fit.slope_interval.low < 0 < fit.slope_interval.high
    assert fit.slope == pytest.approx(0, abs=1e-9)
    assert fit.even_at is None
    assert fit.even_interval is None


def test_a_weak_trend_leaves_the_even_value_open_to_a_side() -> None:
    x, yes = drawn(40, seed=4, width=60.0)
    fit = logistic_fit(x, yes, confidence=0.95)
    assert fit.slope_interval.low < 0 < fit.slope_interval.high
    assert fit.even_at is not None
    assert fit.even_interval.low is None or fit.even_interval.high is None


def test_an_outcome_that_nearly_all_have_has_its_even_value_outside_the_data() -> None:
    x, yes = drawn(60, even=10.0, width=10.0)
    fit = logistic_fit(x, yes, confidence=0.95)
    assert isinstance(fit, LogisticFit)
    assert fit.even_at is None


@pytest.mark.parametrize(
    ("x", "yes", "at", "above", "complete"),
    [
        ([20, 30, 50, 60], [0, 0, 1, 1], 40, True, True),
        ([20, 30, 50, 60], [1, 1, 0, 0], 40, False, True),
        ([20, 40, 40, 60], [0, 0, 1, 1], 40, True, False),
        ([20, 40, 40, 60], [1, 1, 0, 0], 40, False, False),
    ],
)
def test_separation_is_recognised(x, yes, at, above, complete) -> None:
    found = logistic_fit(np.array(x, dtype=float), np.array(yes, dtype=bool), confidence=0.95)
    assert isinstance(found, Separated)
    assert (found.at, found.yes_above, found.complete) == (at, above, complete)
    assert found.words.startswith("separation" if complete else "quasi-complete separation")
    assert f"{'above' if above else 'below'} 40" in found.words


def test_one_case_across_is_overlap_enough() -> None:
    x, yes = np.array([20.0, 30, 41, 50, 40, 60]), np.array([0, 0, 0, 1, 1, 1], dtype=bool)
    assert separation(x, yes) is None
    assert isinstance(logistic_fit(x, yes, confidence=0.95), LogisticFit)


@pytest.mark.parametrize(
    ("x", "yes"), [([1.0, 2.0], [True, True]), ([1.0, 2.0], [False, False]), ([3.0, 3.0], [True, False])]
)
def test_nothing_to_tell_apart_is_refused(x, yes) -> None:
    with pytest.raises(Missing, match="Both outcomes and at least two values are needed"):
        logistic_fit(np.array(x), np.array(yes), confidence=0.95)
