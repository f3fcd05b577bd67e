"""A rate period by period, against what chance alone would do to the pooled rate."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from limbwright.practice.audit.columns import AuditColumns, Floats
from limbwright.practice.audit.proportion import Proportion, proportion
from limbwright.practice.audit.sample import TooFew
from limbwright.quantity import Value

METHOD = (
    "Limits are the counts within which a binomial with the pooled rate stays (all periods together, the one "
    "compared among them); a period is outside when a count like its own or beyond has a chance of no more "
    "than half the risk. Exact, not interpolated."
)
FAR_CONFIDENCE = 0.998  # second, outer pair of limits of a funnel: three standard deviations
MONTHS_PER_QUARTER = 3


class Period(StrEnum):
    """How operations are sorted into periods."""

    YEAR = "year"
    QUARTER = "quarter"


class Place(StrEnum):
    """Where a period lies against the limits."""

    WITHIN = "within"
    BELOW = "below"
    ABOVE = "above"
    FAR_BELOW = "far below"
    FAR_ABOVE = "far above"


@dataclass(frozen=True, slots=True, kw_only=True)
class FunnelPoint(Value):
    """One period against its limits."""

    count: int
    """Bones with the event."""
    share: float
    """Their share, from 0 to 1."""
    low_share: float
    """Lowest share that is within the limits."""
    high_share: float
    """Highest share that is within the limits."""
    far_low_share: float
    """Lowest share that is within the outer limits."""
    far_high_share: float
    """Highest share that is within the outer limits."""
    place: Place
    """Within the limits, or beyond which of them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FunnelPeriod(Value):
    """The bones operated on in one period."""

    period: str
    """`2026` or `2026-Q3`."""
    n: int
    """Bones for which it was recorded whether they had the event."""
    cases: tuple[str, ...]
    """Their cases."""
    cases_with: tuple[str, ...]
    """Cases of the bones that had it."""
    point: FunnelPoint | TooFew
    """The rate against its limits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Funnel(Value):
    """A rate by period."""

    event: str
    """What is counted, in words."""
    n: int
    """Bones in all periods together."""
    cases: tuple[str, ...]
    """Their cases."""
    pooled: Proportion | TooFew
    """Rate of all periods together."""
    periods: tuple[FunnelPeriod, ...]
    """Periods in order, those without an operation left out."""
    confidence: float
    """Confidence of the inner limits; the outer ones have 99.8 %."""
    method: str
    """How it was computed."""


def funnel(
    columns: AuditColumns,
    counts: Floats,
    *,
    event: str,
    period: Period,
    min_n: int,
    min_n_pooled: int,
    confidence: float,
) -> Funnel:
    """A rate by period of the operation.

    Parameters
    ----------
    columns : AuditColumns
        All treated bones.
    counts : (n,) float64
        Events of each bone; NaN = not recorded. A bone counts once, however many events it had.
    event : str
        What is counted, in words.
    period : Period
        Years or quarters of the year.
    min_n : int
        Least number of bones in a period for which its rate is compared.
    min_n_pooled : int
        Least number of bones altogether.
    confidence : float
        Confidence of the inner limits.

    References
    ----------
    Spiegelhalter, Funnel plots for comparing institutional performance, Stat Med 2005 (the idea; its
    interpolation between whole counts is not used).
    """
    rows = np.flatnonzero(~np.isnan(counts) & ~np.isnat(columns.operated_on))
    having = counts[rows] > 0
    n = len(rows)
    enough = n >= min_n_pooled
    rate = float(np.mean(having)) if n else 0.0
    periods = []
    numbers = period_numbers(columns.operated_on[rows], period)
    order = np.argsort(numbers, kind="stable")
    found, starts = np.unique(numbers[order], return_index=True)
    for number, members in zip(found.tolist(), np.split(order, starts[1:]), strict=False):
        own, own_having = rows[members], rows[members][having[members]]
        point: FunnelPoint | TooFew
        if not enough:
            point = TooFew(n=n, needed=min_n_pooled, of=f"{event}, all periods")
        elif len(own) < min_n:
            point = TooFew(n=len(own), needed=min_n, of=f"{event}, {period_words(number, period)}")
        else:
            point = funnel_point(len(own_having), len(own), rate=rate, confidence=confidence)
        periods.append(
            FunnelPeriod(
                period=period_words(number, period),
                n=len(own),
                cases=columns.cases(own),
                cases_with=columns.cases(own_having),
                point=point,
            )
        )
    return Funnel(
        event=event,
        n=n,
        cases=columns.cases(rows),
        pooled=proportion(int(np.count_nonzero(having)), n, confidence=confidence)
        if enough
        else TooFew(n=n, needed=min_n_pooled, of=f"{event}, all periods"),
        periods=tuple(periods),
        confidence=confidence,
        method=METHOD,
    )


def funnel_point(count: int, n: int, *, rate: float, confidence: float) -> FunnelPoint:
    """One period's count against exact binomial limits around a rate."""
    low, high = _limits(n, rate, confidence)
    far_low, far_high = _limits(n, rate, max(FAR_CONFIDENCE, confidence))
    place = Place.WITHIN
    if count < low:
        place = Place.FAR_BELOW if count < far_low else Place.BELOW
    elif count > high:
        place = Place.FAR_ABOVE if count > far_high else Place.ABOVE
    return FunnelPoint(
        count=count,
        share=count / n,
        low_share=low / n,
        high_share=high / n,
        far_low_share=far_low / n,
        far_high_share=far_high / n,
        place=place,
    )


def _limits(n: int, rate: float, confidence: float) -> tuple[int, int]:
    """Lowest and highest count within the limits: each tail beyond has at most half the risk."""
    from scipy.stats import binom

    tail = (1 - confidence) / 2
    return int(binom.ppf(tail, n, rate)), int(binom.isf(tail, n, rate))


def period_numbers(operated_on: NDArray[np.datetime64], period: Period) -> NDArray[np.int64]:
    """Number of the year or quarter of each day, (n,), rising with time; meaningless for NaT."""
    if period is Period.YEAR:
        return operated_on.astype("datetime64[Y]").astype(np.int64) + 1970
    return operated_on.astype("datetime64[M]").astype(np.int64) // MONTHS_PER_QUARTER + 1970 * 4


def period_words(number: int, period: Period) -> str:
    """`2026` or `2026-Q3`."""
    return str(number) if period is Period.YEAR else f"{number // 4}-Q{number % 4 + 1}"
