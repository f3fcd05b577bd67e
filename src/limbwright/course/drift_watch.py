"""Real drift told from reading noise, and the day on which the practice's limit is passed."""

from dataclasses import dataclass

from limbwright.course.forecast import Forecast, ForecastDay, normal_share
from limbwright.course.state import BoneState
from limbwright.limb.anatomy import Projection
from limbwright.practice.profile import Profile
from limbwright.quantity import PROCURVATUM_RECURVATUM, VARUS_VALGUS, Measured, Sense, Value

EARLIEST, LIKELY, LATEST = 0.10, 0.50, 0.90


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftWatch(Value):
    """One plane of one bone."""

    projection: Projection
    """Film on which it shows."""
    now: Measured
    """Angulation since the operation, varus or procurvatum + [deg]."""
    per_mm: Measured
    """Angulation gained for each millimetre [deg/mm]."""
    direction: Sense
    """Where it goes."""
    real_probability: float
    """Probability that the fragment has really moved in this direction, 0.5 to 1."""
    real: bool
    """Whether that is enough by the practice's `drift_real_percent` (two-sided)."""
    limit_deg: float
    """The practice's limit [deg]."""
    at_end: Measured
    """Angulation foreseen on the last day of lengthening [deg]."""
    beyond_now: float
    """Probability that it is beyond the limit in this direction today."""
    beyond_at_end: float
    """Probability that it is beyond the limit in this direction on the last day of lengthening."""
    crossing_earliest_day: int | None
    """Day by which the limit is passed with a probability of 10 %; None = not while lengthening."""
    crossing_day: int | None
    """Day by which it is passed with a probability of one half; None = not while lengthening."""
    crossing_latest_day: int | None
    """Day by which it is passed with a probability of 90 %; None = not while lengthening."""
    crossing_length_mm: float | None
    """Length gained on the day of one half [mm]."""


def drift_watch(state: BoneState, ahead: Forecast, profile: Profile) -> tuple[DriftWatch, DriftWatch]:
    """Frontal and sagittal drift of a bone.

    Parameters
    ----------
    state : BoneState
        Today.
    ahead : Forecast
        From today on.
    profile : Profile
        Limit, and probability from which drift counts as real.

    Notes
    -----
    The estimate already weighs the reading error of this and of the first film, so a single reading beyond
    the limit need not be real, and a small one that grows from film to film may be. Only the direction in
    which the bone goes is counted, so that not knowing is not taken for drift.
    """
    return (
        _watch(Projection.FRONTAL, state.varus, state.varus_per_mm, ahead, profile),
        _watch(Projection.SAGITTAL, state.procurvatum, state.procurvatum_per_mm, ahead, profile),
    )


def _watch(
    projection: Projection, now: Measured, per_mm: Measured, ahead: Forecast, profile: Profile
) -> DriftWatch:
    limit = profile.drift_limit_deg
    senses = VARUS_VALGUS if projection is Projection.FRONTAL else PROCURVATUM_RECURVATUM
    share = normal_share(abs(now.value) / max(now.sd, 1e-9))
    lengthening = [day for day in ahead.days if day.number <= ahead.end.number]
    sign = 1.0 if now.value >= 0 else -1.0
    beyond = [(day, _beyond(_angle(day, projection), sign, limit)) for day in lengthening]

    def first(probability: float) -> ForecastDay | None:
        return next((day for day, p in beyond if p >= probability), None)

    half = first(LIKELY)
    return DriftWatch(
        projection=projection,
        now=now,
        per_mm=per_mm,
        direction=senses[0] if now.value >= 0 else senses[1],
        real_probability=share,
        real=2 * share - 1 >= profile.drift_real_percent / 100,
        limit_deg=limit,
        at_end=_angle(ahead.end, projection),
        beyond_now=beyond[0][1],
        beyond_at_end=beyond[-1][1],
        crossing_earliest_day=_number(first(EARLIEST)),
        crossing_day=_number(half),
        crossing_latest_day=_number(first(LATEST)),
        crossing_length_mm=None if half is None else half.length.value,
    )


def _number(day: ForecastDay | None) -> int | None:
    return None if day is None else day.number


def _angle(day: ForecastDay, projection: Projection) -> Measured:
    return day.varus if projection is Projection.FRONTAL else day.procurvatum


def _beyond(angle: Measured, sign: float, limit: float) -> float:
    """Probability of an angle beyond the limit in one direction."""
    return normal_share((sign * angle.value - limit) / max(angle.sd, 1e-9))
