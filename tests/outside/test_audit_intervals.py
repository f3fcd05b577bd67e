"""Intervals and limits of the audit against published tables and worked examples."""

import numpy as np
import pytest
from statsmodels.stats.proportion import proportion_confint

from limbwright.practice.audit.accuracy import agreement
from limbwright.practice.audit.drift import drift_difference
from limbwright.practice.audit.proportion import proportion
from limbwright.practice.audit.spread import median_rank


@pytest.mark.parametrize(
    ("count", "n", "low", "high"),
    [
        (81, 263, 0.2527, 0.3676),
        (15, 148, 0.0578, 0.1617),
        (0, 20, 0.0000, 0.1684),
        (1, 29, 0.0009, 0.1776),
    ],
)
def test_exact_interval_of_a_share(count, n, low, high) -> None:
    """Newcombe, Two-sided confidence intervals for the single proportion: comparison of seven methods, Stat
    Med 1998, 17:857, table I, Clopper-Pearson. Values from memory.
    """
    found = proportion(count, n, confidence=0.95).interval
    assert (round(found.low, 4), round(found.high, 4)) == (low, high)


@pytest.mark.parametrize("count", range(0, 31, 3))
def test_exact_interval_by_the_beta_distribution_of_another_library(count) -> None:
    """`statsmodels.stats.proportion.proportion_confint(count, 30, method="beta")`."""
    found = proportion(count, 30, confidence=0.95).interval
    assert (found.low, found.high) == pytest.approx(proportion_confint(count, 30, method="beta"), abs=1e-9)


@pytest.mark.parametrize(
    ("first", "second", "low", "high"),
    [
        ((56, 70), (48, 80), 0.0524, 0.3339),
        ((9, 10), (3, 10), 0.1705, 0.8090),
        ((6, 7), (2, 7), 0.0582, 0.8062),
        ((5, 56), (0, 29), -0.0381, 0.1926),
        ((0, 10), (0, 20), -0.1611, 0.2775),
        ((10, 10), (0, 10), 0.6075, 1.0),
    ],
)
def test_interval_of_a_difference_of_shares(first, second, low, high) -> None:
    """Newcombe, Interval estimation for the difference between independent proportions, Stat Med 1998,
    17:873, table II, method 10. Values from memory.
    """

    def bones(pair):
        beyond, n = pair
        return np.array([9.0] * beyond + [0.0] * (n - beyond))

    found = drift_difference(bones(first), bones(second), limit_deg=3, confidence=0.95)
    assert found.beyond_limit_interval.low == pytest.approx(low, abs=6e-5)
    assert found.beyond_limit_interval.high == pytest.approx(high, abs=6e-5)


@pytest.mark.parametrize(
    ("n", "rank"),
    [(6, 1), (8, 1), (9, 2), (10, 2), (12, 3), (15, 4), (20, 6), (25, 8), (30, 10), (50, 18), (100, 40)],
)
def test_ranks_that_bound_the_median(n, rank) -> None:
    """Campbell & Gardner, Calculating confidence intervals for some non-parametric analyses, BMJ 1988,
    296:1454, and tables of the sign test: ranks for 95 %. Values from memory.
    """
    assert median_rank(n, confidence=0.95) == rank


def test_limits_of_agreement_of_two_flow_meters() -> None:
    """Bland & Altman, Statistical methods for assessing agreement between two methods of clinical
    measurement, Lancet 1986: peak flow of 17 persons by a large and a mini meter; mean difference
    -2.1 l/min, standard deviation 38.8, limits -79.7 and 75.5 (with 2 standard deviations); intervals
    -22.0 to 17.8 of the mean, -114.3 to -45.1 and 40.9 to 110.1 of the limits (with 3 for the exact
    factor). Values from memory.
    """
    large = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
    mini = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]
    found = agreement(np.subtract(large, mini).astype(float), tolerance=40, confidence=0.95)
    assert round(found.bias, 1) == -2.1
    assert round(found.precision_sd, 1) == 38.8
    assert found.bias_interval.low == pytest.approx(-22.0, abs=0.1)
    assert found.bias_interval.high == pytest.approx(17.8, abs=0.1)
    # Theirs rounds 1.96 to 2 (0.04 of 38.8) and the factor of the limits' error to 3.
    assert found.lower_limit == pytest.approx(-79.7, abs=1.7)
    assert found.upper_limit == pytest.approx(75.5, abs=1.7)
    assert found.lower_limit_interval.low == pytest.approx(-114.3, abs=1.7)
    assert found.lower_limit_interval.high == pytest.approx(-45.1, abs=2)
    assert found.upper_limit_interval.low == pytest.approx(40.9, abs=2)
    assert found.upper_limit_interval.high == pytest.approx(110.1, abs=1.7)
