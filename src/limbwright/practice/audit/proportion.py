"""A share with its exact interval."""

from dataclasses import dataclass

from limbwright.practice.audit.sample import Interval
from limbwright.quantity import Value

METHOD = "Exact interval of a share by Clopper and Pearson: it holds at least the stated confidence."


@dataclass(frozen=True, slots=True, kw_only=True)
class Proportion(Value):
    """So many of so many."""

    count: int
    """How many."""
    n: int
    """Out of how many."""
    share: float
    """Their share, from 0 to 1."""
    interval: Interval
    """Exact interval of the share."""


def proportion(count: int, n: int, *, confidence: float) -> Proportion:
    """The share of `count` out of `n` with its exact interval.

    References
    ----------
    Clopper & Pearson, The use of confidence or fiducial limits illustrated in the case of the binomial,
    Biometrika 1934.
    """
    from scipy.stats import binomtest

    ends = binomtest(count, n).proportion_ci(confidence_level=confidence, method="exact")
    return Proportion(
        count=count, n=n, share=count / n, interval=Interval(low=float(ends.low), high=float(ends.high))
    )
