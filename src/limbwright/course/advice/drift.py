"""Angulation since the operation: noise, real drift, the limit passed, and the day on which it will be."""

from collections.abc import Iterator

from limbwright.course.advice.said import Pace, Said, numbers
from limbwright.course.drift_watch import DriftWatch
from limbwright.course.standing import Standing
from limbwright.finding import Finding, Number, Severity
from limbwright.limb.anatomy import Projection
from limbwright.plan.rule import rule_source
from limbwright.quantity import Measured


def drift(s: Standing) -> Iterator[Said]:
    """Both planes at the latest visit."""
    for plane in s.drift:
        read_deg = _last_reading_deg(s, plane.projection)
        if read_deg is not None:
            yield from _plane(s, plane, read_deg)


def _plane(s: Standing, plane: DriftWatch, read_deg: float) -> Iterator[Said]:
    size = abs(plane.now.value)
    if plane.real and size >= plane.limit_deg:
        yield _beyond(s, plane)
    elif s.lengthening and plane.beyond_at_end >= s.profile.drift_crossing_percent / 100:
        yield _will_cross(s, plane)
    elif plane.real and size >= s.profile.drift_watch_deg:
        yield _real(s, plane)
    elif abs(read_deg) >= s.profile.drift_watch_deg and not plane.real:
        yield _noise(s, plane, read_deg)


def _beyond(s: Standing, plane: DriftWatch) -> Said:
    return Said(
        Finding(
            id="drift-beyond-limit",
            severity=Severity.STOP,
            words=f"The {s.bone} stands in {_said(plane.now)} of {plane.direction} against the operation, "
            "beyond "
            f"the limit of {plane.limit_deg:g} deg.",
            next_step="Consider a rest and how to correct it: a blocking screw, a correction under "
            "anaesthesia while the new bone is soft, or a lesser goal."
            if s.lengthening
            else "Consider how to correct it: a blocking screw, a correction under anaesthesia while the new "
            "bone is soft, or an osteotomy once it is healed.",
            numbers=_numbers(plane),
            rule="Drift beyond drift_limit_deg that is more than reading noise changes plan or course.",
            source=rule_source(s.profile, "drift_limit_deg", "drift_real_percent"),
        ),
        Pace.HOLD if s.lengthening else None,
        sooner=True,
    )


def _will_cross(s: Standing, plane: DriftWatch) -> Said:
    chance = 100 * plane.beyond_at_end
    when = f" {plane.limit_deg:g} deg are passed before then with a probability of {chance:.0f} %"
    if plane.crossing_earliest_day is not None:
        first = plane.crossing_earliest_day
        when += f", at the earliest (10 %) on day {first} ({s.day_on(first)})"
    if plane.crossing_day is not None and plane.crossing_length_mm is not None:
        late = plane.crossing_latest_day
        when += (
            f", more likely than not by day {plane.crossing_day} ({s.day_on(plane.crossing_day)}) at "
            f"{plane.crossing_length_mm:.0f} mm"
        )
        when += "" if late is None else f", nearly surely (90 %) by day {late}"
    return Said(
        Finding(
            id="drift-will-cross",
            severity=Severity.CAUTION,
            words=f"The {s.bone} drifts into {plane.direction}, {_said(plane.now)} now and "
            f"{_said(plane.at_end)} "
            f"foreseen at full length.{when}.",
            next_step="Consider a sooner film, and a blocking screw or another way to hold the fragment "
            "before "
            "that day. A slower rate moves the day, not the length at which it is reached.",
            numbers=_numbers(plane),
            rule="Drift that passes drift_limit_deg before full length with a probability of "
            "drift_crossing_percent is foretold.",
            source=rule_source(s.profile, "drift_limit_deg", "drift_crossing_percent"),
        ),
        sooner=True,
    )


def _real(s: Standing, plane: DriftWatch) -> Said:
    return Said(
        Finding(
            id="drift-real",
            severity=Severity.CAUTION,
            words=f"The {s.bone} has drifted into {plane.direction}: {_said(plane.now)}, more than reading "
            "noise "
            f"({100 * plane.real_probability:.0f} % sure).",
            next_step="Consider a sooner film.",
            numbers=_numbers(plane),
            rule="Drift from drift_watch_deg on that is more than reading noise is watched.",
            source=rule_source(s.profile, "drift_watch_deg", "drift_real_percent"),
        ),
        sooner=True,
    )


def _noise(s: Standing, plane: DriftWatch, read_deg: float) -> Said:
    return Said(
        Finding(
            id="drift-not-told-from-noise",
            severity=Severity.NOTE,
            words=f"The {plane.projection} film reads {abs(read_deg):.1f} deg against the operation; all "
            "films "
            f"together say {_said(plane.now)}, which reading noise can explain.",
            next_step="Compare with the next film before acting on it.",
            numbers=(
                *numbers(("reading", abs(read_deg), "deg")),
                *_numbers(plane),
            ),
            rule="A reading beyond drift_watch_deg is weighed against the errors of this and the first film.",
            source=rule_source(s.profile, "drift_watch_deg", "angle_reading_sd_deg"),
        )
    )


def _last_reading_deg(s: Standing, projection: Projection) -> float | None:
    """Angle read at the latest visit, varus or procurvatum +. [deg]"""
    alignment = s.visit.alignment_of(s.bone) if s.visit else None
    if alignment is None:
        return None
    return alignment.varus_deg if projection is Projection.FRONTAL else alignment.procurvatum_deg


def _said(angle: Measured) -> str:
    return f"{abs(angle.value):.1f} ± {1.96 * angle.sd:.1f} deg"


def _numbers(plane: DriftWatch) -> tuple[Number, ...]:
    return numbers(
        (f"{plane.direction} now", abs(plane.now.value), "deg"),
        ("its standard uncertainty", plane.now.sd, "deg"),
        ("foreseen at full length", abs(plane.at_end.value), "deg"),
        ("limit", plane.limit_deg, "deg"),
        ("probability that it is real", 100 * plane.real_probability, "%"),
        ("probability beyond the limit at full length", 100 * plane.beyond_at_end, "%"),
    )
