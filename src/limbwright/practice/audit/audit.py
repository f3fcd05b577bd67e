"""The whole audit: every question asked of the same columns, with the practice profile's least numbers."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from limbwright.finding import Finding, Number, Severity, ordered
from limbwright.practice.audit.accuracy import Accuracy, accuracy
from limbwright.practice.audit.calf_release import CalfRelease, calf_release
from limbwright.practice.audit.columns import AuditColumns, Floats
from limbwright.practice.audit.complication import (
    ComplicationRate,
    Event,
    complication_rates,
    event_counts,
)
from limbwright.practice.audit.drift import DriftComparison, drift_comparisons
from limbwright.practice.audit.funnel import (
    FAR_CONFIDENCE,
    Funnel,
    FunnelPeriod,
    FunnelPoint,
    Period,
    Place,
    funnel,
)
from limbwright.practice.audit.group import By
from limbwright.practice.audit.healing_curve import HealingCurve, healing_curves
from limbwright.practice.audit.healing_index import HealingIndex, healing_index
from limbwright.practice.audit.logistic import Separated
from limbwright.practice.profile import Profile
from limbwright.published import COMMON_PRACTICE, Source, Status
from limbwright.quantity import Value

# Every way in which the healing index is told apart, from coarse to fine.
HEALING_INDEX_BY = (
    (By.BONE,),
    (By.BONE, By.ENTRY),
    (By.BONE, By.AGE),
    (By.BONE, By.LEVEL),
    (By.BONE, By.AGE, By.LEVEL),
)
PERCENT = 100.0
CHANCE = Source(text="exact binomial limits around the practice's own pooled rate", status=Status.DERIVED)


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeAudit(Value):
    """What all treated bones together teach. Each result names its number, its cases and its method."""

    n: int
    """Treated bones."""
    cases: tuple[str, ...]
    """Cases they belong to."""
    confidence: float
    """Confidence of every interval, from 0 to 1."""
    healing_index: tuple[HealingIndex, ...]
    """By bone; by bone and entry; by bone and age; by bone and level; by all three."""
    adult_healing_index: tuple[HealingIndex, ...]
    """Adults only, by bone, and by bone and entry: what the practice profile's healing index is about."""
    healing_curves: tuple[HealingCurve, ...]
    """Time to healing by bone."""
    accuracy: tuple[Accuracy, ...]
    """Length and alignment against the plan, all bones and each bone."""
    drift: tuple[DriftComparison, ...]
    """Drift with and without blocking screws, by bone and plane."""
    calf_release: CalfRelease
    """Calf release against length gained."""
    complications: tuple[ComplicationRate, ...]
    """Rates by class, all bones and each bone."""
    funnels: tuple[Funnel, ...]
    """Complications, obstacles and drift beyond the limit, by period."""
    findings: tuple[Finding, ...]
    """What to weigh when reading the numbers, worst first."""


def practice_audit(columns: AuditColumns, profile: Profile, *, period: Period = Period.YEAR) -> PracticeAudit:
    """Every question of the audit asked of all treated bones.

    Parameters
    ----------
    columns : AuditColumns
        One row for each treated bone.
    profile : Profile
        Confidence, least numbers, tolerances, age limits.
    period : Period
        Periods of the funnels.
    """
    confidence = profile.audit_confidence_percent / PERCENT
    adult = columns.age_years >= profile.child_below_age_years
    cuts = tuple(sorted({profile.child_below_age_years, profile.new_bone_risk_age_years}))

    def index(by: tuple[By, ...], *, adults: bool = False) -> tuple[HealingIndex, ...]:
        return healing_index(
            columns,
            by=by,
            age_cuts_years=(profile.child_below_age_years,) if adults else cuts,
            min_gained_mm=profile.audit_min_gained_mm,
            min_n=profile.audit_min_bones_median,
            confidence=confidence,
            among=adult if adults else None,
        )

    indices = tuple(found for by in HEALING_INDEX_BY for found in index(by))
    calf = calf_release(columns, min_events=profile.audit_min_events_regression, confidence=confidence)
    funnels = tuple(
        funnel(
            columns,
            counts,
            event=event,
            period=period,
            min_n=profile.audit_min_bones_period,
            min_n_pooled=profile.audit_min_bones_rate,
            confidence=confidence,
        )
        for event, counts in _funnel_events(columns, limit_deg=profile.drift_limit_deg)
    )
    return PracticeAudit(
        n=len(columns),
        cases=columns.cases(np.arange(len(columns))),
        confidence=confidence,
        healing_index=indices,
        adult_healing_index=(
            *index((By.BONE, By.AGE), adults=True),
            *index((By.BONE, By.ENTRY, By.AGE), adults=True),
        ),
        healing_curves=healing_curves(
            columns, min_healed=profile.audit_min_healed_curve, confidence=confidence
        ),
        accuracy=accuracy(
            columns, profile=profile, min_n=profile.audit_min_bones_accuracy, confidence=confidence
        ),
        drift=drift_comparisons(
            columns,
            limit_deg=profile.drift_limit_deg,
            min_n=profile.audit_min_bones_drift,
            confidence=confidence,
        ),
        calf_release=calf,
        complications=complication_rates(columns, min_n=profile.audit_min_bones_rate, confidence=confidence),
        funnels=funnels,
        findings=ordered((*_unhealed(indices), *_separated(calf), *_outside(funnels))),
    )


def _funnel_events(columns: AuditColumns, *, limit_deg: float) -> Iterator[tuple[str, Floats]]:
    yield Event.ANY_COMPLICATION.value, event_counts(columns, Event.ANY_COMPLICATION)
    yield Event.OBSTACLE.value, event_counts(columns, Event.OBSTACLE)
    # fmax: one plane that was read is enough to tell; NaN only when neither was.
    drift = np.fmax(np.abs(columns.frontal_drift_deg), np.abs(columns.sagittal_drift_deg))
    beyond = np.where(np.isnan(drift), np.nan, (drift > limit_deg).astype(np.float64))
    yield f"drift beyond {limit_deg:g} deg", beyond


def _unhealed(indices: tuple[HealingIndex, ...]) -> Iterator[Finding]:
    for found in indices:
        only_bone = found.group.words == found.group.bone
        if only_bone and found.n and found.not_healed:
            yield Finding(
                id="audit-unhealed-left-out",
                severity=Severity.NOTE,
                words=f"{found.not_healed} of {found.n + found.not_healed} bones ({found.group.words}) were "
                "not seen to heal and have no healing index; the index of the rest looks shorter than it is.",
                next_step="Read the healing curve beside it, which counts them as far as they were followed.",
                numbers=(
                    Number(name="not seen to heal", value=found.not_healed, unit=""),
                    Number(name="with a healing index", value=found.n, unit=""),
                ),
                rule="A healing index exists only for a bone seen to heal.",
                source=COMMON_PRACTICE,
            )


def _separated(calf: CalfRelease) -> Iterator[Finding]:
    if isinstance(calf.fit, Separated):
        yield Finding(
            id="audit-calf-release-separated",
            severity=Severity.NOTE,
            words=f"No curve is fitted to calf release ({calf.released} of {calf.n} tibiae): "
            f"{calf.fit.words} (length gained in mm).",
            next_step="Read the cases themselves; more of them, or other rules of release, will overlap.",
            numbers=(Number(name="length that separates", value=calf.fit.at, unit="mm"),),
            rule="Logistic regression has no maximum when one number separates the outcomes.",
            source=Source(
                text="Albert & Anderson, On the existence of maximum likelihood estimates in logistic "
                "regression models, Biometrika 1984",
                status=Status.MEMORY,
            ),
        )


def _outside(funnels: tuple[Funnel, ...]) -> Iterator[Finding]:
    for one in funnels:
        for period in one.periods:
            if isinstance(period.point, FunnelPoint) and period.point.place is not Place.WITHIN:
                yield _outside_finding(one, period, period.point)


def _outside_finding(one: Funnel, period: FunnelPeriod, point: FunnelPoint) -> Finding:
    above = point.place in (Place.ABOVE, Place.FAR_ABOVE)
    far = point.place in (Place.FAR_ABOVE, Place.FAR_BELOW)
    limit = FAR_CONFIDENCE if far else one.confidence
    low, high = (point.far_low_share, point.far_high_share) if far else (point.low_share, point.high_share)
    return Finding(
        id="audit-period-outside-limits",
        severity=Severity.CAUTION if above else Severity.NOTE,
        words=f"{period.period}: {one.event} in {point.count} of {period.n} bones ({point.share:.1%}), "
        f"{point.place} what chance explains at the pooled rate ({low:.1%} to {high:.1%}).",
        next_step="Look through the period's cases for what changed; among many periods one lies outside by "
        "chance alone.",
        numbers=(
            Number(name="bones with the event", value=point.count, unit=""),
            Number(name="bones in the period", value=period.n, unit=""),
        ),
        rule=f"Counts outside exact binomial limits ({PERCENT * limit:g} %) around the pooled rate are "
        "pointed out.",
        source=CHANCE,
    )
