"""Drift at full length that the accepted plan foresees, for a course to start from."""

from collections.abc import Mapping
from functools import lru_cache

from limbwright.case.case import Case
from limbwright.case.forecast import course_days
from limbwright.course.prescription import Prescription
from limbwright.error import LimbwrightError
from limbwright.limb.anatomy import Bone
from limbwright.plan.decision import BonePlan
from limbwright.plan.drift import Drift
from limbwright.practice.profile import Profile


def planned_drifts(case: Case, profile: Profile) -> Mapping[Bone, Drift]:
    """Forecast drift of every treated bone that has an accepted plan.

    Parameters
    ----------
    case : Case
        With a plan and a course; without either nothing is foreseen.
    profile : Profile
        The surgeon's numbers.

    Notes
    -----
    Canals are idealised by the nail's reamer: films may have changed since the plan was accepted, the plan
    has not. A bone for which the model gives no number, or refuses, is left out; the course then starts from
    no drift and a wide spread.
    """
    if case.plan is None or case.course is None:
        return {}
    plans = {plan.bone: plan for plan in case.plan.bones}
    found = {
        t.prescription.bone: _drift(plans[t.prescription.bone], t.prescription, profile)
        for t in case.course.treatments
        if t.prescription.bone in plans
    }
    return {bone: drift for bone, drift in found.items() if drift is not None}


@lru_cache(maxsize=64)
def _drift(plan: BonePlan, prescription: Prescription, profile: Profile) -> Drift | None:
    # Loads the compiled model: only when there is a plan to look ahead from.
    from limbwright.plan.forecast.forecast import Sampling, bone_forecast

    try:
        made = bone_forecast(plan, (), course_days(prescription), profile, sampling=Sampling(count=0))
    except LimbwrightError:
        return None
    return made.planned.drift()
