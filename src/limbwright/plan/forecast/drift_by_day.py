"""Forecast drift day by day, between the moments that were solved: for a strip of time and for drawings."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.mechanics import Plane
from limbwright.plan.drift import Drift
from limbwright.plan.forecast.drift_course import BoneForecast, CourseOfDrift
from limbwright.plan.forecast.loads import CourseDay
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftRange(Value):
    """Angulation in one plane at one length, varus + or procurvatum +."""

    expected_deg: float
    """Answer of the model with every input as expected [deg]."""
    low_deg: float | None
    """5 % of the draws lie below; None where no band was drawn [deg]."""
    median_deg: float | None
    """Half of the draws lie below [deg]."""
    high_deg: float | None
    """5 % of the draws lie above [deg]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftOnDay(Value):
    """What the model foresees for one day; a plane is None where it has no number."""

    day: float
    """Days since the operation."""
    gained_mm: float
    """Length gained by then [mm]."""
    frontal: DriftRange | None
    """Frontal plane with the blocking screws of the plan."""
    sagittal: DriftRange | None
    """Sagittal plane with them."""
    frontal_without_screws: DriftRange | None
    """Frontal plane without blocking screws."""
    sagittal_without_screws: DriftRange | None
    """Sagittal plane without them."""


def drift_by_day(made: BoneForecast, days: Sequence[CourseDay]) -> tuple[DriftOnDay, ...]:
    """Drift of one bone on each day, with and without its blocking screws.

    Parameters
    ----------
    made : BoneForecast
        Forecast of the bone.
    days : sequence of CourseDay
        Days and the length gained by each, as `bone_forecast` was given them.

    Notes
    -----
    In proportion to the length between the moments that were solved; before the first millimetre there is
    none, and after the last one the drift stays as it was.
    """
    return tuple(
        DriftOnDay(
            day=d.day,
            gained_mm=d.gained_mm,
            frontal=_range(made.planned, Plane.FRONTAL, d.gained_mm),
            sagittal=_range(made.planned, Plane.SAGITTAL, d.gained_mm),
            frontal_without_screws=_range(made.without_screws, Plane.FRONTAL, d.gained_mm),
            sagittal_without_screws=_range(made.without_screws, Plane.SAGITTAL, d.gained_mm),
        )
        for d in days
    )


def drift_at(course: CourseOfDrift, gained_mm: float) -> Drift | None:
    """Turn and shift of the distal fragment at one length, as a drawing takes it; None without a number."""
    planes = [[m.in_plane(p) for m in course.moments] for p in Plane]
    angles = [_between(course, [f.angulation_deg for f in found], gained_mm) for found in planes]
    steps = [_between(course, [f.step_mm for f in found], gained_mm) for found in planes]
    if angles[0] is None or angles[1] is None or steps[0] is None or steps[1] is None:
        return None
    return Drift(varus_deg=angles[0], procurvatum_deg=angles[1], lateral_mm=steps[0], anterior_mm=steps[1])


def _range(course: CourseOfDrift, plane: Plane, gained_mm: float) -> DriftRange | None:
    found = [m.in_plane(plane) for m in course.moments]
    expected = _between(course, [f.angulation_deg for f in found], gained_mm)
    if expected is None:
        return None
    bands = [f.band for f in found]
    return DriftRange(
        expected_deg=expected,
        low_deg=_between(course, [None if b is None else b.low for b in bands], gained_mm),
        median_deg=_between(course, [None if b is None else b.middle for b in bands], gained_mm),
        high_deg=_between(course, [None if b is None else b.high for b in bands], gained_mm),
    )


def _between(course: CourseOfDrift, values: list[float | None], gained_mm: float) -> float | None:
    """Value at one length; None where a moment on either side of it has none."""
    length = np.array([0.0, *(m.lengthening_mm for m in course.moments)])
    known = np.array([0.0, *(np.nan if v is None else v for v in values)])
    found = float(np.interp(gained_mm, length, known))
    return None if np.isnan(found) else found
