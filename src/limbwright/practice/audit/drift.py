"""Drift while lengthening, in bones with blocking screws against bones without."""

from dataclasses import dataclass

import numpy as np

from limbwright.practice.audit.columns import BONES, AuditColumns, Floats
from limbwright.practice.audit.group import Group
from limbwright.practice.audit.proportion import Proportion, proportion
from limbwright.practice.audit.sample import Interval, TooFew
from limbwright.quantity import PROCURVATUM_RECURVATUM, VARUS_VALGUS, Sense, Value

METHOD = (
    "Angulation from the operation to full length. Difference of means by Welch's unequal-variance t; "
    "difference of shares by Newcombe's hybrid score interval. Screws are placed where drift is feared: this "
    "compares the bones as they were treated and does not tell what the screws did."
)
PLANES: dict[str, tuple[Sense, Sense]] = {
    "frontal": VARUS_VALGUS,
    "sagittal": PROCURVATUM_RECURVATUM,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanDifference(Value):
    """Two means and what lies between them."""

    with_screws: float
    """Mean with blocking screws."""
    without_screws: float
    """Mean without."""
    difference: float
    """With minus without."""
    interval: Interval
    """Interval of the difference."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftDifference(Value):
    """Drift with against without blocking screws, in degrees."""

    signed_deg: MeanDifference
    """Drift with its direction, varus + or procurvatum + [deg]."""
    size_deg: MeanDifference
    """Size of the drift, whatever its direction [deg]."""
    beyond_limit_with: Proportion
    """Bones with screws that drifted by more than the limit."""
    beyond_limit_without: Proportion
    """Bones without screws that drifted by more than the limit."""
    beyond_limit_difference: float
    """Share beyond the limit, with minus without."""
    beyond_limit_interval: Interval
    """Its interval."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftComparison(Value):
    """Drift of one bone in one plane, with and without blocking screws."""

    group: Group
    """Which bones."""
    plane: str
    """`frontal` or `sagittal`."""
    limit_deg: float
    """Drift above which the practice profile asks for a change [deg]."""
    n_with: int
    """Bones with blocking screws and a known drift."""
    n_without: int
    """Bones without blocking screws and with a known drift."""
    cases_with: tuple[str, ...]
    """Cases of the former."""
    cases_without: tuple[str, ...]
    """Cases of the latter."""
    drift: DriftDifference | TooFew
    """The comparison; refused while either side has too few."""
    method: str
    """How it was computed, and what it does not tell."""

    @property
    def n(self) -> int:
        """Bones compared."""
        return self.n_with + self.n_without

    @property
    def cases(self) -> tuple[str, ...]:
        """Cases of both sides."""
        return tuple(dict.fromkeys((*self.cases_with, *self.cases_without)))


def drift_comparisons(
    columns: AuditColumns, *, limit_deg: float, min_n: int, confidence: float
) -> tuple[DriftComparison, ...]:
    """Drift with and without blocking screws, for each bone in each plane.

    Parameters
    ----------
    columns : AuditColumns
        All treated bones.
    limit_deg : float
        Drift above which a bone counts as beyond the limit. [deg]
    min_n : int
        Least number of bones on either side for which the comparison is given.
    confidence : float
        Confidence of the intervals.
    """
    found = []
    screws = columns.blocking_screws
    for bone in BONES:
        for plane in PLANES:
            drift = columns.frontal_drift_deg if plane == "frontal" else columns.sagittal_drift_deg
            known = (columns.bone == bone) & ~np.isnan(drift)
            held, free = np.flatnonzero(known & (screws > 0)), np.flatnonzero(known & (screws == 0))
            fewer = min(len(held), len(free))
            side = "with" if len(held) <= len(free) else "without"
            found.append(
                DriftComparison(
                    group=Group(bone=bone),
                    plane=plane,
                    limit_deg=limit_deg,
                    n_with=len(held),
                    n_without=len(free),
                    cases_with=columns.cases(held),
                    cases_without=columns.cases(free),
                    drift=drift_difference(
                        drift[held], drift[free], limit_deg=limit_deg, confidence=confidence
                    )
                    if fewer >= min_n
                    else TooFew(n=fewer, needed=min_n, of=f"{bone} {side} blocking screws, {plane} drift"),
                    method=METHOD,
                )
            )
    return tuple(found)


def drift_difference(
    with_deg: Floats, without_deg: Floats, *, limit_deg: float, confidence: float
) -> DriftDifference:
    """Two samples of signed drift compared; at least two bones on either side. [deg]

    References
    ----------
    Welch, The generalization of Student's problem when several different population variances are involved,
    Biometrika 1947; Newcombe, Interval estimation for the difference between independent proportions,
    Stat Med 1998.
    """
    # statsmodels carries no type hints.
    from statsmodels.stats.proportion import (  # type: ignore[import-untyped]
        confint_proportions_2indep,
    )

    beyond = [
        proportion(int(np.count_nonzero(np.abs(d) > limit_deg)), len(d), confidence=confidence)
        for d in (with_deg, without_deg)
    ]
    low, high = confint_proportions_2indep(
        beyond[0].count,
        beyond[0].n,
        beyond[1].count,
        beyond[1].n,
        method="newcomb",
        compare="diff",
        alpha=1 - confidence,
    )
    return DriftDifference(
        signed_deg=mean_difference(with_deg, without_deg, confidence=confidence),
        size_deg=mean_difference(np.abs(with_deg), np.abs(without_deg), confidence=confidence),
        beyond_limit_with=beyond[0],
        beyond_limit_without=beyond[1],
        beyond_limit_difference=beyond[0].share - beyond[1].share,
        beyond_limit_interval=Interval(low=float(low), high=float(high)),
    )


def mean_difference(with_screws: Floats, without_screws: Floats, *, confidence: float) -> MeanDifference:
    """Difference of two means with Welch's interval."""
    from scipy.stats import ttest_ind

    first, second = float(np.mean(with_screws)), float(np.mean(without_screws))
    if np.ptp(with_screws) == 0 and np.ptp(without_screws) == 0:
        # No spread on either side leaves nothing to estimate the interval from.
        interval = Interval(low=None, high=None)
    else:
        ends = ttest_ind(with_screws, without_screws, equal_var=False).confidence_interval(confidence)
        interval = Interval(low=float(ends.low), high=float(ends.high))
    return MeanDifference(
        with_screws=first, without_screws=second, difference=first - second, interval=interval
    )
