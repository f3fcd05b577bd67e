"""Accuracy of length and alignment: how far the end lies from the plan, on average and in the single leg."""

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from limbwright.practice.audit.columns import BONES, AuditColumns, Floats
from limbwright.practice.audit.group import Group
from limbwright.practice.audit.proportion import Proportion, proportion
from limbwright.practice.audit.sample import Interval, TooFew
from limbwright.practice.profile import Profile
from limbwright.quantity import (
    LONGER_SHORTER,
    MEDIAL_LATERAL,
    PROCURVATUM_RECURVATUM,
    VARUS_VALGUS,
    Sense,
    Value,
)

METHOD = (
    "End minus plan. Bias = mean difference, precision = standard deviation of the differences, limits of "
    "agreement = bias with z standard deviations either way (z = 1.96 at 95 %), which hold that share of the "
    "bones if differences are normally distributed; intervals of the limits by the large-sample formula."
)


class Outcome(StrEnum):
    """What is compared with the plan."""

    LENGTH = "length"
    FRONTAL = "frontal alignment"
    SAGITTAL = "sagittal alignment"
    AXIS = "mechanical axis deviation"

    @property
    def unit(self) -> str:
        """Its unit."""
        return "mm" if self in (Outcome.LENGTH, Outcome.AXIS) else "deg"

    @property
    def senses(self) -> tuple[Sense, Sense]:
        """Words for more and for less than planned."""
        return {
            Outcome.LENGTH: LONGER_SHORTER,
            Outcome.FRONTAL: VARUS_VALGUS,
            Outcome.SAGITTAL: PROCURVATUM_RECURVATUM,
            Outcome.AXIS: MEDIAL_LATERAL,
        }[self]


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement(Value):
    """Agreement of ends with plans, signed as inside the package, in the outcome's unit."""

    bias: float
    """Mean of end minus plan."""
    bias_interval: Interval
    """Its interval, by Student's t."""
    precision_sd: float
    """Standard deviation of end minus plan."""
    precision_interval: Interval
    """Its interval, by chi-squared."""
    lower_limit: float
    """Lower limit of agreement."""
    lower_limit_interval: Interval
    """Its interval."""
    upper_limit: float
    """Upper limit of agreement."""
    upper_limit_interval: Interval
    """Its interval."""
    within_tolerance: Proportion
    """Bones that end within the tolerance of the practice profile."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy(Value):
    """One outcome against the plan in one group of treated bones."""

    outcome: Outcome
    """What is compared."""
    group: Group
    """Which bones."""
    tolerance: float
    """Difference that the practice profile tolerates, in the outcome's unit."""
    n: int
    """Bones with both plan and end recorded."""
    cases: tuple[str, ...]
    """Their cases."""
    agreement: Agreement | TooFew
    """Bias, precision and limits of agreement."""
    method: str
    """How it was computed."""


def differences(columns: AuditColumns, outcome: Outcome) -> Floats:
    """End minus plan of each bone, NaN where either was not recorded, (n,), signed as inside the package."""
    return {
        Outcome.LENGTH: columns.gained_mm - columns.planned_mm,
        Outcome.FRONTAL: columns.frontal_error_deg,
        Outcome.SAGITTAL: columns.sagittal_error_deg,
        Outcome.AXIS: columns.mad_error_mm,
    }[outcome]


def accuracy(
    columns: AuditColumns, *, profile: Profile, min_n: int, confidence: float
) -> tuple[Accuracy, ...]:
    """Every outcome against the plan, for all bones together and for each bone."""
    tolerances = {
        Outcome.LENGTH: profile.length_tolerance_mm,
        Outcome.FRONTAL: profile.angle_tolerance_deg,
        Outcome.SAGITTAL: profile.sagittal_tolerance_deg,
        Outcome.AXIS: profile.mad_tolerance_mm,
    }
    found = []
    for outcome, tolerance in tolerances.items():
        difference = differences(columns, outcome)
        known = ~np.isnan(difference)
        for bone in ("", *BONES):
            rows = np.flatnonzero(known & (columns.bone == bone) if bone else known)
            n = len(rows)
            found.append(
                Accuracy(
                    outcome=outcome,
                    group=Group(bone=bone),
                    tolerance=tolerance,
                    n=n,
                    cases=columns.cases(rows),
                    agreement=agreement(difference[rows], tolerance=tolerance, confidence=confidence)
                    if n >= min_n
                    else TooFew(n=n, needed=min_n, of=f"{outcome}, {Group(bone=bone).words}"),
                    method=METHOD,
                )
            )
    return tuple(found)


def agreement(difference: Floats, *, tolerance: float, confidence: float) -> Agreement:
    """Bias, precision and limits of agreement of at least two differences.

    Parameters
    ----------
    difference : (n,) float64
        End minus plan.
    tolerance : float
        Greatest difference that is tolerated, in the same unit.
    confidence : float
        Confidence of the intervals, and share of bones between the limits of agreement.

    References
    ----------
    Bland & Altman, Statistical methods for assessing agreement between two methods of clinical measurement,
    Lancet 1986.
    """
    from scipy import stats

    n = len(difference)
    tail = (1 - confidence) / 2
    z = float(stats.norm.ppf(1 - tail))
    t = float(stats.t.ppf(1 - tail, n - 1))
    bias, sd = float(np.mean(difference)), float(np.std(difference, ddof=1))
    below, above = float(stats.chi2.ppf(tail, n - 1)), float(stats.chi2.ppf(1 - tail, n - 1))

    def around(value: float, standard_error: float) -> Interval:
        return Interval(low=value - t * standard_error, high=value + t * standard_error)

    limit_error = sd * math.sqrt(1 / n + z**2 / (2 * (n - 1)))
    lower, upper = bias - z * sd, bias + z * sd
    # Readings carry rounding: a difference equal to the tolerance counts as tolerated.
    within = int(np.count_nonzero(np.abs(difference) <= tolerance + 1e-9))
    return Agreement(
        bias=bias,
        bias_interval=around(bias, sd / math.sqrt(n)),
        precision_sd=sd,
        precision_interval=Interval(
            low=sd * math.sqrt((n - 1) / above), high=sd * math.sqrt((n - 1) / below)
        ),
        lower_limit=lower,
        lower_limit_interval=around(lower, limit_error),
        upper_limit=upper,
        upper_limit_interval=around(upper, limit_error),
        within_tolerance=proportion(within, n, confidence=confidence),
    )
