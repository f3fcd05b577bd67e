"""A change of the prescription tried out: target day, bands, limits and drift before and after."""

from dataclasses import dataclass

from limbwright.course.amendment import Amendment
from limbwright.course.change import amended, at_rate
from limbwright.course.drift_watch import DriftWatch, drift_watch
from limbwright.course.forecast import Forecast, forecast
from limbwright.course.healing import HealingBand, expected_healing
from limbwright.course.limits import schedule_findings
from limbwright.course.standing import Standing
from limbwright.finding import Finding
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf(Value):
    """One course with and without a change."""

    change: Amendment
    """The change that is tried out; nothing is prescribed by it."""
    before: Forecast
    """As prescribed."""
    after: Forecast
    """With the change."""
    drift_before: tuple[DriftWatch, DriftWatch]
    """Frontal and sagittal drift as prescribed."""
    drift_after: tuple[DriftWatch, DriftWatch]
    """With the change."""
    healing_after: HealingBand | None
    """When bones of this kind consolidate after the change's length; None when nothing is gained."""
    later_days: int | None
    """Days by which the target comes later, sooner negative; None where one of both does not reach it."""
    findings: tuple[Finding, ...]
    """Limits of nail and practice that the changed schedule meets."""


def what_if(s: Standing, change: Amendment) -> WhatIf:
    """Try a change of the prescription from today on.

    Parameters
    ----------
    s : Standing
        The bone today.
    change : Amendment
        From `limbwright.course.change`; its first day should be tomorrow or later.

    Notes
    -----
    The state today stays what it is; only the days ahead are moved.
    """
    treatment = amended(s.treatment, change)
    days = treatment.days()
    after = forecast(s.estimate.belief, s.today, days, s.profile, target_mm=treatment.target_mm)
    nail = s.facts.nail
    healing = None
    if treatment.target_mm > 0:
        healing = expected_healing(
            s.profile,
            bone=s.bone,
            retrograde=s.facts.retrograde,
            age_years=s.facts.age_years,
            gained_mm=treatment.target_mm,
            last_distraction_day=after.end.number,
        )
    was, becomes = s.ahead.target_day.likely, after.target_day.likely
    return WhatIf(
        change=change,
        before=s.ahead,
        after=after,
        drift_before=s.drift,
        drift_after=drift_watch(s.now, after, s.profile),
        healing_after=healing,
        later_days=None if was is None or becomes is None else becomes - was,
        findings=schedule_findings(
            s.bone,
            change.phases,
            days,
            target_mm=treatment.target_mm,
            profile=s.profile,
            stroke_mm=None if nail is None else nail.stroke_mm,
            nail_rate_limit_mm_per_day=None if nail is None else nail.rate_limit_mm_per_day,
        ),
    )


def at_another_rate(s: Standing, rate_mm_per_day: float) -> WhatIf:
    """Another rate from tomorrow on, starting from the length that is most likely there. [mm/day]"""
    step_mm = s.profile.distraction_step_mm
    # a prescription counts in whole steps
    gained = round(s.now.length.value / step_mm) * step_mm
    return what_if(
        s,
        at_rate(
            s.treatment,
            s.profile,
            from_day=s.today + 1,
            gained_mm=max(0.0, gained),
            rate_mm_per_day=rate_mm_per_day,
        ),
    )
