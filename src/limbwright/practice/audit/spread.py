"""Median, quartiles, mean and standard deviation of a sample, each with an interval that is exact."""

import math
from dataclasses import dataclass

import numpy as np

from limbwright.practice.audit.columns import Floats
from limbwright.practice.audit.sample import Interval
from limbwright.quantity import Value

METHOD = (
    "Median with an exact interval between order statistics (free of the distribution); quartiles by linear "
    "interpolation; interval of the mean by Student's t, of the standard deviation by chi-squared."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread(Value):
    """Middle and spread of a sample, in the sample's unit."""

    median: float
    """Median."""
    median_interval: Interval
    """Interval of the median between two order statistics; holds at least the stated confidence."""
    lower_quartile: float
    """A quarter of the sample lies below."""
    upper_quartile: float
    """A quarter of the sample lies above."""
    mean: float
    """Arithmetic mean."""
    mean_interval: Interval
    """Interval of the mean."""
    sd: float
    """Standard deviation with n - 1."""
    sd_interval: Interval
    """Interval of the standard deviation, if the sample is normally distributed."""


def spread(values: Floats, *, confidence: float) -> Spread:
    """Middle and spread of at least `least_for_median(confidence)` finite numbers.

    Parameters
    ----------
    values : (n,) float64
        The sample, in any order.
    confidence : float
        Confidence of the intervals, above 0 and below 1.
    """
    from scipy import stats

    n = len(values)
    tail = (1 - confidence) / 2
    ordered = np.sort(values)
    rank = median_rank(n, confidence=confidence)
    lower, median, upper = (float(q) for q in np.quantile(ordered, (0.25, 0.5, 0.75)))
    mean, sd = float(np.mean(ordered)), float(np.std(ordered, ddof=1))
    half = float(stats.t.ppf(1 - tail, n - 1)) * sd / math.sqrt(n)
    below, above = float(stats.chi2.ppf(tail, n - 1)), float(stats.chi2.ppf(1 - tail, n - 1))
    return Spread(
        median=median,
        median_interval=Interval(low=float(ordered[rank - 1]), high=float(ordered[n - rank])),
        lower_quartile=lower,
        upper_quartile=upper,
        mean=mean,
        mean_interval=Interval(low=mean - half, high=mean + half),
        sd=sd,
        sd_interval=Interval(low=sd * math.sqrt((n - 1) / above), high=sd * math.sqrt((n - 1) / below)),
    )


def median_rank(n: int, *, confidence: float) -> int:
    """Rank r, counted from 1, such that the r-th smallest and r-th largest bound the median; 0 for none.

    Notes
    -----
    The largest r with P(X < r) at most half the risk, X binomial with n tosses of a fair coin.
    """
    from scipy import stats

    tail = (1 - confidence) / 2
    rank = int(stats.binom.ppf(tail, n, 0.5))
    # `ppf` is the smallest count whose probability up to it reaches the tail: one more when it just does.
    return rank + 1 if stats.binom.cdf(rank, n, 0.5) <= tail else rank


def least_for_median(confidence: float) -> int:
    """Least sample size for which the median has an interval: both extremes must bound it."""
    return math.ceil(1 + math.log2(1 / (1 - confidence)) - 1e-9)
