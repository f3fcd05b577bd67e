"""Where a lengthened bone is, with uncertainty, from everything reported and measured so far."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from limbwright.course.course import Treatment
from limbwright.course.kalman import Belief, Reading, filtered, predicted, smoothed
from limbwright.course.ledger import Ledger
from limbwright.course.state_model import (
    GIVEN,
    LENGTH,
    PROCURVATUM,
    PROCURVATUM_PER_MM,
    RATIO,
    RISE,
    VARUS,
    VARUS_PER_MM,
    Expectation,
    over_days,
    reading,
    start_of_course,
)
from limbwright.course.visit import Visit
from limbwright.limb.anatomy import Bone
from limbwright.practice.profile import Profile
from limbwright.quantity import Measured, Value


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneState(Value):
    """One bone on one day."""

    day: int
    """Days since the operation."""
    length: Measured
    """Length gained [mm]."""
    given_per_mm: Measured
    """Length given for each millimetre of steps made [mm/mm]."""
    varus: Measured
    """Angulation since the operation on the frontal film, varus + [deg]."""
    varus_per_mm: Measured
    """Varus gained for each millimetre [deg/mm]."""
    procurvatum: Measured
    """Angulation since the operation on the sagittal film, procurvatum + [deg]."""
    procurvatum_per_mm: Measured
    """Procurvatum gained for each millimetre [deg/mm]."""
    ratio: Measured
    """Pixel value ratio of the deciding cortex."""
    ratio_per_day: Measured
    """Its rise in a day [1/d]."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Estimate:
    """The state at every visit and today."""

    at_visits: tuple[BoneState, ...]
    """From the readings up to each visit."""
    looking_back: tuple[BoneState, ...]
    """At the same visits, from all readings."""
    now: BoneState
    """On the ledger's last day."""
    belief: Belief
    """The same as mean and covariance of the whole state, for forecasts."""


def estimate(
    treatment: Treatment,
    visits: tuple[Visit, ...],
    book: Ledger,
    profile: Profile,
    expected: Expectation,
) -> Estimate:
    """Estimate a bone's state on each visit and on the ledger's last day.

    Parameters
    ----------
    treatment : Treatment
        The bone's treatment; gives the days of the visits.
    visits : tuple of Visit
        In the order of their dates; those after the ledger's last day are left out.
    book : Ledger
        Steps reported day by day.
    profile : Profile
        Reading errors.
    expected : Expectation
        What was expected before the first visit.

    Notes
    -----
    The model is that of `course.state_model`. Visits before the operation's day 0 do not exist; one on the
    day itself reads the start.
    """
    bone = treatment.prescription.bone
    today = book.last.number
    seen = [(treatment.day_number(v.seen_on), v) for v in visits]
    seen = [(day, v) for day, v in seen if 0 <= day <= today]
    days = [0, *(day for day, _ in seen)]
    readings = (None, *(visit_reading(v, bone, profile) for _, v in seen))
    changes = tuple(d.change_mm for d in book.days)
    steps = tuple(over_days(changes[a + 1 : b + 1]) for a, b in pairwise(days))
    run = filtered(start_of_course(expected, profile), steps, readings)
    back = smoothed(run, steps)
    now = predicted(run.updated[-1], over_days(changes[days[-1] + 1 : today + 1]))
    return Estimate(
        at_visits=tuple(bone_state(d, b) for d, b in zip(days[1:], run.updated[1:], strict=True)),
        looking_back=tuple(bone_state(d, b) for d, b in zip(days[1:], back[1:], strict=True)),
        now=bone_state(today, now),
        belief=now,
    )


def visit_reading(visit: Visit, bone: Bone, profile: Profile) -> Reading | None:
    """What a visit measured of a bone, with the practice's reading errors where it gives none."""
    gain, alignment, new = visit.gained_of(bone), visit.alignment_of(bone), visit.new_bone_of(bone)
    length = None
    if gain is not None and gain.measured_mm is not None:
        sd = profile.gap_reading_sd_mm if gain.measured_sd_mm is None else gain.measured_sd_mm
        length = (gain.measured_mm, sd)
    angle_sd = profile.angle_reading_sd_deg
    if alignment is not None and alignment.angle_sd_deg is not None:
        angle_sd = alignment.angle_sd_deg
    varus = None if alignment is None else alignment.varus_deg
    procurvatum = None if alignment is None else alignment.procurvatum_deg
    ratio = None if new is None else new.carrying_ratio(default_sd=profile.pixel_value_ratio_sd)
    return reading(
        length=length,
        varus=None if varus is None else (varus, angle_sd),
        procurvatum=None if procurvatum is None else (procurvatum, angle_sd),
        ratio=None if ratio is None else (ratio.value, ratio.sd),
    )


def bone_state(day: int, belief: Belief) -> BoneState:
    """A belief in words and units."""

    def part(index: int, unit: str) -> Measured:
        variance = max(float(belief.covariance[index, index]), 0.0)
        return Measured(value=float(belief.mean[index]), sd=float(np.sqrt(variance)), unit=unit)

    return BoneState(
        day=day,
        length=part(LENGTH, "mm"),
        given_per_mm=part(GIVEN, "mm/mm"),
        varus=part(VARUS, "deg"),
        varus_per_mm=part(VARUS_PER_MM, "deg/mm"),
        procurvatum=part(PROCURVATUM, "deg"),
        procurvatum_per_mm=part(PROCURVATUM_PER_MM, "deg/mm"),
        ratio=part(RATIO, ""),
        ratio_per_day=part(RISE, "1/d"),
    )
