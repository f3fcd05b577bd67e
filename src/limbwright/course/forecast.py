"""Where a bone is heading: length, angles and new bone day by day with bands, target and healing days."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from statistics import NormalDist

import numpy as np

from limbwright.course.kalman import Belief, predicted
from limbwright.course.schedule import Day
from limbwright.course.state import bone_state
from limbwright.course.state_model import LENGTH, RATIO, RISE, model_number, moved
from limbwright.practice.profile import Profile
from limbwright.quantity import Measured, Value

LATE, MIDDLE, EARLY = 0.975, 0.5, 0.025
LONGEST_HEALING_DAYS = 1500
DAYS_APART_AFTERWARDS = 7  # nothing moves any more, and a chart needs no more


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastDay(Value):
    """One day ahead; bands are `Measured.interval95()`."""

    number: int
    """Days since the operation."""
    on: date
    """Calendar day."""
    length: Measured
    """Length gained by the end of the day [mm]."""
    varus: Measured
    """Angulation since the operation, varus + [deg]."""
    procurvatum: Measured
    """Angulation since the operation, procurvatum + [deg]."""
    ratio: Measured
    """Pixel value ratio of the deciding cortex."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DayRange(Value):
    """When something is reached: 95 % interval and middle, in days after the operation."""

    early: int | None
    """Reached by this day with a probability of 2.5 %; None = not within the schedule."""
    likely: int | None
    """Reached by this day with a probability of one half; None = not within the schedule."""
    late: int | None
    """Reached by this day with a probability of 97.5 %; None = not within the schedule."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast(Value):
    """A bone from today to healing, if everything goes on as prescribed."""

    days: tuple[ForecastDay, ...]
    """Today, every day of the schedule left, then every seventh day on to the likely day of healing."""
    target_mm: float
    """Length prescribed [mm]."""
    end: ForecastDay
    """The last day on which the nail moves, today where it moves no more."""
    target_day: DayRange
    """When the target is reached; a bound that is None lies beyond the doses prescribed."""
    healed_day: DayRange
    """When the new bone is dense enough; not before the last lengthening."""


def forecast(
    belief: Belief,
    today: int,
    days: tuple[Day, ...],
    profile: Profile,
    *,
    target_mm: float,
) -> Forecast:
    """Carry a bone's state forward along its schedule and on to healing.

    Parameters
    ----------
    belief : Belief
        State on `today`.
    today : int
        Days since the operation.
    days : tuple of Day
        Schedule with all changes.
    profile : Profile
        Density from which new bone counts as healed, size of a step, reading error of a gained length.
    target_mm : float
        Length prescribed. [mm]

    Notes
    -----
    Days are reached with the probability that the state lies beyond the limit on that day. Half a step short
    of the target counts as reached; after the last dose, one reading error of a film short of it, since no
    film could tell the rest.
    """
    last = max((d.number for d in days if d.steps and d.number > today), default=today)
    healed = healed_days(belief, today, last, profile)
    scheduled = max(days[-1].number, today)
    until = min(healed.likely or 0, LONGEST_HEALING_DAYS)
    changes = {d.number: d.change_mm for d in days}
    first_on = days[0].on.toordinal()
    ahead = [_day(today, days[0].on.fromordinal(first_on + today), belief)]
    reached: list[tuple[int, float]] = []
    short_mm = profile.distraction_step_mm / 2
    numbers = [*range(today, scheduled + 1)]
    while numbers[-1] < until:
        numbers.append(numbers[-1] + DAYS_APART_AFTERWARDS)
    for before, number in zip([today, *numbers], numbers, strict=False):
        if number > today:
            belief = predicted(belief, moved(changes.get(number, 0.0), number - before))
            ahead.append(_day(number, days[0].on.fromordinal(first_on + number), belief))
        if number >= last:
            short_mm = max(short_mm, profile.gap_reading_sd_mm)
        reached.append((number, above(belief, LENGTH, target_mm - short_mm)))
    return Forecast(
        days=tuple(ahead),
        target_mm=target_mm,
        end=ahead[last - today],
        target_day=_range(lambda p: next((n for n, q in reached if q >= p), None)),
        healed_day=healed,
    )


def healed_days(belief: Belief, today: int, last_move: int, profile: Profile) -> DayRange:
    """When the deciding cortex reaches the practice's healed ratio; not before the last lengthening.

    Notes
    -----
    Mean and variance of the ratio after t days are m + r t and Pmm + 2 t Pmr + t² Prr + noise² t. A day that
    lies beyond `LONGEST_HEALING_DAYS` is given as None.
    """
    t = np.arange(LONGEST_HEALING_DAYS + 1)
    p = belief.covariance
    mean = belief.mean[RATIO] + belief.mean[RISE] * t
    variance = (
        p[RATIO, RATIO]
        + 2 * t * p[RATIO, RISE]
        + t**2 * p[RISE, RISE]
        + model_number("ratio_noise")[0] ** 2 * t
    )
    z = (mean - profile.pixel_value_ratio_healed) / np.sqrt(np.maximum(variance, 1e-12))

    def day(probability: float) -> int | None:
        reached = np.flatnonzero(z >= quantile(probability))
        return max(last_move, today + int(reached[0])) if len(reached) else None

    return _range(day)


def above(belief: Belief, index: int, limit: float) -> float:
    """Probability that a part of the state is at least `limit`."""
    sd = math.sqrt(max(float(belief.covariance[index, index]), 1e-18))
    return normal_share((float(belief.mean[index]) - limit) / sd)


def normal_share(z: float) -> float:
    """Share of a standard normal distribution below z."""
    return 0.5 * math.erfc(-z / math.sqrt(2))


def quantile(share: float) -> float:
    """z below which a share of a standard normal distribution lies."""
    return NormalDist().inv_cdf(share)


def _range(day: Callable[[float], int | None]) -> DayRange:
    return DayRange(early=day(EARLY), likely=day(MIDDLE), late=day(LATE))


def _day(number: int, on: date, belief: Belief) -> ForecastDay:
    state = bone_state(number, belief)
    return ForecastDay(
        number=number,
        on=on,
        length=state.length,
        varus=state.varus,
        procurvatum=state.procurvatum,
        ratio=state.ratio,
    )
