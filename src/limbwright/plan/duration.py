"""How long a lengthening is expected to take: latency, distraction, and the healing band.

Healing indexes are counted from the operation to consolidation, so latency and distraction lie inside them
and are not added again. Day 0 is the operation; with a latency of 7 days the first step is made on day 8.
"""

import math
from dataclasses import dataclass

from limbwright.practice.by_bone import Rhythm
from limbwright.quantity import Measured, Value

HAIR = 1e-9  # a length that is a whole number of steps but for rounding is a whole number of steps


@dataclass(frozen=True, slots=True, kw_only=True)
class Duration(Value):
    """Expected days of one lengthening, counted from its operation."""

    latency_days: float
    """Days of rest before the first step."""
    distraction_days: int
    """Days on which the bone is lengthened."""
    lengthened_day: float
    """Day of the last step."""
    healed_low_day: float
    """Consolidated, one standard deviation quicker than the mean; never before the last step."""
    healed_typical_day: float
    """Consolidated, mean of the series; never before the last step."""
    healed_high_day: float
    """Consolidated, one standard deviation slower than the mean; never before the last step."""


def distraction_days(lengthening_mm: float, rhythm: Rhythm) -> int:
    """Days needed to gain a length: fast start, then the steady rhythm, the last day perhaps shorter.

    Parameters
    ----------
    lengthening_mm : float
        Length to gain, not negative. [mm]
    rhythm : Rhythm
        Step, fast start and steady rhythm.
    """
    steps = math.ceil(lengthening_mm / rhythm.step_mm - HAIR)
    in_fast_start = rhythm.fast_start_days * rhythm.fast_start_steps_per_day
    if steps <= in_fast_start:
        return math.ceil(steps / rhythm.fast_start_steps_per_day)
    return rhythm.fast_start_days + math.ceil((steps - in_fast_start) / rhythm.steady_steps_per_day)


def duration(
    *, lengthening_mm: float, latency_days: float, rhythm: Rhythm, healing_index: Measured
) -> Duration:
    """Expected days of one lengthening.

    Parameters
    ----------
    lengthening_mm : float
        Length to gain. [mm]
    latency_days : float
        Days of rest after the operation. [days]
    rhythm : Rhythm
        How the bone is lengthened.
    healing_index : Measured
        Days from operation to consolidation per centimetre gained, with its spread between patients.
        [days/cm]
    """
    days = distraction_days(lengthening_mm, rhythm)
    ends = latency_days + days
    mean, sd = healing_index.value, healing_index.sd
    low, typical, high = (max(ends, index * lengthening_mm / 10) for index in (mean - sd, mean, mean + sd))
    return Duration(
        latency_days=latency_days,
        distraction_days=days,
        lengthened_day=ends,
        healed_low_day=low,
        healed_typical_day=typical,
        healed_high_day=high,
    )
