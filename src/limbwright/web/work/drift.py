"""Expected drift over the days of a plan, worked out once for each state and kept with it."""

import threading
from typing import Any

from limbwright.case.forecast import case_forecasts, course_days
from limbwright.course.prescription import Prescription
from limbwright.error import LimbwrightError
from limbwright.finding import ordered
from limbwright.interop.plain import finding_plain
from limbwright.mechanics import Plane
from limbwright.plan.forecast.drift_by_day import DriftOnDay, DriftRange, drift_by_day
from limbwright.plan.forecast.drift_course import BoneForecast
from limbwright.plan.forecast.forecast_finding import NOT_VALIDATED, SENSES
from limbwright.web.failure import said
from limbwright.web.work.state import WorkState

KEPT = "drift"
# One forecast at a time: each uses what the machine has.
_ONE_AT_A_TIME = threading.Lock()


def drift_answer(state: WorkState) -> dict[str, Any]:
    """Drift of every lengthened bone by day, with bands of nine in ten draws."""
    with _ONE_AT_A_TIME:
        kept: dict[str, Any] | None = state.cache.get(KEPT)
        if kept is None:
            kept = state.cache[KEPT] = _computed(state)
    return kept


def drift_if_known(state: WorkState) -> dict[str, Any] | None:
    """The answer if it has been worked out for this state."""
    return state.cache.get(KEPT)


def _computed(state: WorkState) -> dict[str, Any]:
    planned = state.planned
    if planned is None or planned.plan is None:
        absent = state.planned_absent
        return _absent(
            {"found": "there is no plan.", "where": "drift", "unit": "", "next": "Resolve what stops it."}
            if absent is None
            else said(absent)
        )
    try:
        made = case_forecasts(planned, state.practice.profile)
    except LimbwrightError as error:
        return _absent(said(error))
    prescriptions = {p.bone: p for p in planned.prescriptions}
    bones = [_bone(forecast, prescriptions[bone]) for bone, forecast in made.items()]
    findings = ordered(tuple({(f.id, f.words): f for m in made.values() for f in m.findings}.values()))
    widest = max(bones, key=_reach, default=None)
    return {
        "bones": bones,
        "days": [] if widest is None else widest["planes"][0]["days"],
        "words": NOT_VALIDATED,
        "findings": [finding_plain(f) for f in findings],
        "drift_absent": None,
    }


def _absent(reason: dict[str, str]) -> dict[str, Any]:
    return {"bones": [], "days": [], "words": NOT_VALIDATED, "findings": [], "drift_absent": reason}


def _bone(made: BoneForecast, prescription: Prescription) -> dict[str, Any]:
    days = drift_by_day(made, course_days(prescription))
    return {
        "bone": made.bone.value,
        "planes": [_plane(days, plane, screws=True) for plane in Plane],
        "planes_without_screws": [_plane(days, plane, screws=False) for plane in Plane]
        if made.bare is not None
        else None,
    }


def _range(on: DriftOnDay, plane: Plane, *, screws: bool) -> DriftRange | None:
    if plane is Plane.FRONTAL:
        return on.frontal if screws else on.frontal_without_screws
    return on.sagittal if screws else on.sagittal_without_screws


def _plane(days: tuple[DriftOnDay, ...], plane: Plane, *, screws: bool) -> dict[str, Any]:
    """One plane, counted in the direction expected on its last day; days without a band are left out."""
    known = [(on.day, found) for on in days if (found := _range(on, plane, screws=screws)) is not None]
    positive, negative = SENSES[plane]
    toward_positive = bool(known) and known[-1][1].expected_deg > 0
    told = ((day, _toward(found, 1.0 if toward_positive else -1.0)) for day, found in known)
    return {
        "plane": plane.value,
        "direction": (positive if toward_positive else negative).value,
        "days": [{"day": round(day), **band} for day, band in told if band is not None],
    }


def _toward(found: DriftRange, sign: float) -> dict[str, float] | None:
    """A range counted in one direction, below zero the other way; None without a band."""
    if found.low_deg is None or found.high_deg is None:
        return None
    low, high = sorted((sign * found.low_deg, sign * found.high_deg))
    return {
        "low_deg": round(low, 3),
        "typical_deg": round(sign * found.expected_deg, 3),
        "high_deg": round(high, 3),
    }


def _reach(bone: dict[str, Any]) -> float:
    """How far the frontal band of a bone reaches on its last day. [deg]"""
    days = bone["planes"][0]["days"]
    return float(days[-1]["high_deg"]) if days else -1.0
