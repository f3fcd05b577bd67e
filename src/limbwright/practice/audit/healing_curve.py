"""Time to healing: the share of bones consolidated by each day, bones still followed included."""

from dataclasses import dataclass

import numpy as np

from limbwright.practice.audit.columns import AuditColumns, Floats, Rows, Truths
from limbwright.practice.audit.group import By, Group, groups
from limbwright.practice.audit.sample import Interval, TooFew
from limbwright.quantity import Value

METHOD = (
    "Kaplan-Meier from the operation to consolidation, bones not seen to heal censored at their last visit; "
    "variance by Greenwood, band by the log(-log) transform, pointwise: it holds for one day, not for all at "
    "once. Bones of one patient count as independent."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve(Value):
    """Share of bones healed by each day on which one healed; before the first of them it is 0."""

    days: tuple[float, ...]
    """Days on which at least one bone was consolidated, rising [days after the operation]."""
    healed_share: tuple[float, ...]
    """Estimated share healed by that day, from 0 to 1."""
    low_share: tuple[float, ...]
    """Lower end of the band; on the day the last bone heals it stays what it was before."""
    high_share: tuple[float, ...]
    """Upper end of the band."""
    at_risk: tuple[int, ...]
    """Bones followed and not yet healed just before that day."""
    followed_to_days: float
    """Longest follow-up; beyond it the curve says nothing [days after the operation]."""
    median_days: float | None
    """Day by which half have healed; None when the curve does not reach one half."""
    median_interval: Interval | None
    """Days at which the band crosses one half; open where it does not; None without a median."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HealingCurve(Value):
    """Time to healing of one group of treated bones."""

    group: Group
    """Which bones."""
    n: int
    """Bones with a follow-up."""
    healed: int
    """Bones seen to heal; the others are censored."""
    cases: tuple[str, ...]
    """Cases of the bones with a follow-up."""
    curve: Curve | TooFew
    """The curve with its band."""
    method: str
    """How it was computed."""


def healing_curves(
    columns: AuditColumns, *, by: tuple[By, ...] = (By.BONE,), min_healed: int, confidence: float
) -> tuple[HealingCurve, ...]:
    """Time to healing of each group of treated bones.

    Parameters
    ----------
    columns : AuditColumns
        All treated bones.
    by : tuple of By
        What groups are told apart by; age is not among them.
    min_healed : int
        Least number of bones seen to heal for which a curve is given.
    confidence : float
        Confidence of the band.
    """
    rows = np.flatnonzero(~np.isnan(columns.followed_days))
    found = []
    for group, members in groups(columns, rows, by, age_cuts_years=()):
        healed = columns.healed[members]
        events = int(np.count_nonzero(healed))
        found.append(
            HealingCurve(
                group=group,
                n=len(members),
                healed=events,
                cases=columns.cases(members),
                curve=curve(columns.followed_days[members], healed, confidence=confidence)
                if events >= min_healed
                else TooFew(n=events, needed=min_healed, of=f"{group.words}, healed"),
                method=METHOD,
            )
        )
    return tuple(found)


def curve(followed_days: Floats, healed: Truths, *, confidence: float) -> Curve:
    """Kaplan-Meier curve of at least one healed bone.

    Parameters
    ----------
    followed_days : (n,) float64
        Days from the operation to consolidation, or to the last visit. [days]
    healed : (n,) bool
        Whether consolidation was seen; a bone censored on a day still counts as followed on that day.
    confidence : float
        Pointwise confidence of the band.

    References
    ----------
    Kaplan & Meier, Nonparametric estimation from incomplete observations, J Am Stat Assoc 1958; Brookmeyer &
    Crowley, A confidence interval for the median survival time, Biometrics 1982 (interval of the median, here
    on the transformed band).
    """
    from lifelines import KaplanMeierFitter  # type: ignore[import-untyped]  # carries no type hints

    days, events, counts = _tallied(followed_days, healed)
    fitted = KaplanMeierFitter(alpha=1 - confidence).fit(days, event_observed=events, weights=counts)
    table = fitted.event_table
    at = np.flatnonzero(table["observed"].to_numpy() > 0)
    not_healed = fitted.survival_function_.to_numpy()[at, 0]
    band = fitted.confidence_interval_.to_numpy()[at]
    low, high = band[:, 0], band[:, 1]
    if not_healed[-1] <= 0:
        # All have healed, and the transform has no value. A share that only rises keeps the bound it had.
        low[-1], high[-1] = 0.0, high[-2] if len(high) > 1 else 1.0
    day = table.index.to_numpy(dtype=np.float64)[at]
    median = _first_at_half(day, not_healed)
    return Curve(
        days=tuple(day.tolist()),
        healed_share=tuple((1 - not_healed).tolist()),
        low_share=tuple((1 - high).tolist()),
        high_share=tuple((1 - low).tolist()),
        at_risk=tuple(table["at_risk"].to_numpy()[at].astype(int).tolist()),
        followed_to_days=float(np.max(followed_days)),
        median_days=median,
        # The band's lower end of "not yet healed" crosses first: it gives the earliest day.
        median_interval=None
        if median is None
        else Interval(low=_first_at_half(day, low), high=_first_at_half(day, high)),
    )


def _tallied(followed_days: Floats, healed: Truths) -> tuple[Floats, Rows, Rows]:
    """Distinct pairs of day and outcome with how often each occurs: far fewer rows, the same curve."""
    healed_days, healed_counts = np.unique(followed_days[healed], return_counts=True)
    censored_days, censored_counts = np.unique(followed_days[~healed], return_counts=True)
    events = np.repeat((1, 0), (len(healed_days), len(censored_days)))
    return (
        np.concatenate((healed_days, censored_days)),
        events,
        np.concatenate((healed_counts, censored_counts)),
    )


def _first_at_half(days: Floats, not_healed: Floats) -> float | None:
    """First day on which the share not yet healed is one half or less, rounding set aside."""
    reached = np.flatnonzero(not_healed <= 0.5 + 1e-9)
    return float(days[reached[0]]) if len(reached) else None
