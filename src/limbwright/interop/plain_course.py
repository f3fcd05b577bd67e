"""A course as a plain JSON object: where each bone is, where it is heading, what the rules say."""

from limbwright.course.advice.pace import Advice
from limbwright.course.advice.weight import weight_allowed
from limbwright.course.drift_watch import DriftWatch
from limbwright.course.forecast import DayRange, ForecastDay
from limbwright.course.outlook import BoneOutlook, CourseOutlook
from limbwright.course.standing import Standing
from limbwright.course.what_if import WhatIf
from limbwright.interop.plain import Plain, finding_plain, measured_plain
from limbwright.limb.anatomy import Projection
from limbwright.quantity import PROCURVATUM_RECURVATUM, VARUS_VALGUS, Measured, lb_from_kg


def course_outlook_plain(outlook: CourseOutlook) -> Plain:
    """Everything that is known of a leg on one day."""
    return {
        "on": outlook.on.isoformat(),
        "bones": [bone_outlook_plain(bone) for bone in outlook.bones],
        "findings": [finding_plain(f) for f in outlook.findings],
    }


def bone_outlook_plain(bone: BoneOutlook) -> Plain:
    """One lengthened bone."""
    s = bone.standing
    allowed = weight_allowed(s)
    last = s.book.last
    measured = s.book.last_measured()
    return {
        "bone": s.bone.value,
        "operated_on": s.treatment.operated_on.isoformat(),
        "day": s.today,
        "consolidated_on": None
        if s.treatment.consolidated_on is None
        else s.treatment.consolidated_on.isoformat(),
        "target_mm": s.treatment.target_mm,
        "lengthening": s.lengthening,
        "rate_mm_per_day": s.rate_mm_per_day,
        "length": {
            "planned_mm": last.planned_mm,
            "prescribed_mm": last.prescribed_mm,
            "reported_mm": last.reported_mm,
            "measured": None
            if measured is None or measured.measured is None
            else {**number_plain(measured.measured), "on": measured.on.isoformat()},
            "estimated": number_plain(s.now.length),
            "gained_of_reported_percent": round(100 * s.now.given_per_mm.value, 1),
        },
        "drift": [_drift(plane, s) for plane in s.drift],
        "new_bone": {
            "deciding_pixel_value_ratio": number_plain(s.now.ratio),
            "cortices_that_carry": allowed.cortices,
            "usual_healing_day": None if s.healing is None else round(s.healing.mean_day, 1),
        },
        "target_day": _range(s.ahead.target_day, s),
        "healed_day": _range(s.ahead.healed_day, s),
        "weight": {
            "step": allowed.step.value,
            "limit_kg": None if allowed.limit_kg is None else round(allowed.limit_kg, 1),
            "limit_lb": None if allowed.limit_kg is None else round(lb_from_kg(allowed.limit_kg), 1),
        },
        "advice": _advice(bone.advice),
        "history": [{"on": on.isoformat(), **_advice(said)} for on, said in bone.history],
        "forecast": [forecast_day_plain(day) for day in s.ahead.days],
    }


def what_if_plain(tried: WhatIf, s: Standing) -> Plain:
    """A change tried out, beside the course as prescribed."""
    return {
        "bone": s.bone.value,
        "from_day": tried.change.from_day,
        "rate_mm_per_day": tried.change.phases[0].rate_mm_per_day if tried.change.phases else 0.0,
        "target_mm": tried.change.target_mm,
        "target_day": _range(tried.after.target_day, s),
        "target_later_days": tried.later_days,
        "healed_day": _range(tried.after.healed_day, s),
        "drift": [_drift(plane, s) for plane in tried.drift_after],
        "findings": [finding_plain(f) for f in tried.findings],
    }


def forecast_day_plain(day: ForecastDay) -> Plain:
    """One day ahead with standard uncertainties."""
    return {
        "day": day.number,
        "on": day.on.isoformat(),
        "length": number_plain(day.length),
        "frontal": measured_plain(day.varus, VARUS_VALGUS),
        "sagittal": measured_plain(day.procurvatum, PROCURVATUM_RECURVATUM),
        "deciding_pixel_value_ratio": number_plain(day.ratio),
    }


def number_plain(value: Measured) -> Plain:
    """A value whose sign needs no word, with its standard uncertainty; `ratio` where it has no unit."""
    unit = value.unit or "ratio"
    return {unit: round(value.value, 4), f"sd_{unit}": round(value.sd, 4)}


def _drift(plane: DriftWatch, s: Standing) -> Plain:
    senses = VARUS_VALGUS if plane.projection is Projection.FRONTAL else PROCURVATUM_RECURVATUM
    return {
        "projection": plane.projection.value,
        "now": measured_plain(plane.now, senses),
        "at_full_length": measured_plain(plane.at_end, senses),
        "real": plane.real,
        "real_percent": round(100 * plane.real_probability, 1),
        "limit_deg": plane.limit_deg,
        "beyond_limit_now_percent": round(100 * plane.beyond_now, 1),
        "beyond_limit_at_full_length_percent": round(100 * plane.beyond_at_end, 1),
        "crosses_limit": {
            "earliest_10_percent": _day(plane.crossing_earliest_day, s),
            "likely_50_percent": _day(plane.crossing_day, s),
            "latest_90_percent": _day(plane.crossing_latest_day, s),
        },
    }


def _advice(said: Advice) -> Plain:
    return {
        "pace": said.pace.value,
        "film_sooner": said.film_sooner,
        "lesser_goal": said.lesser_goal,
        "findings": [f.id for f in said.findings],
    }


def _range(days: DayRange, s: Standing) -> Plain:
    return {
        "early": _day(days.early, s),
        "likely": _day(days.likely, s),
        "late": _day(days.late, s),
    }


def _day(number: int | None, s: Standing) -> Plain | None:
    return None if number is None else {"day": number, "on": s.day_on(number).isoformat()}
