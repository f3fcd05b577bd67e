"""A case after its operation: where each bone stands on a day, and what the rules say."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from limbwright.case.case import Case
from limbwright.case.measured import measured_case
from limbwright.case.planned_drift import planned_drifts
from limbwright.course.advice.growth import GrowingLegs
from limbwright.course.course import Treatment
from limbwright.course.outlook import CourseOutlook, course_outlook
from limbwright.course.standing import BoneFacts
from limbwright.error import LimbwrightError, Missing
from limbwright.finding import Finding, Severity, ordered
from limbwright.growth.multiplier import multiplier_grown_years
from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import Bone
from limbwright.limb.reading import Measure
from limbwright.plan.drift import Drift
from limbwright.practice.profile import Profile
from limbwright.published import COMMON_PRACTICE
from limbwright.quantity import DAYS_PER_YEAR


def followed_case(
    case: Case, profile: Profile, *, on: date, drifts: Mapping[Bone, Drift] | None = None
) -> CourseOutlook:
    """Where the treated leg stands on a day.

    Parameters
    ----------
    case : Case
        With a course. Nail, direction and osteotomy come from its plan, a nail recorded with the treatment
        wins; what neither holds is not known, and findings say so.
    profile : Profile
        The surgeon's rules.
    on : date
        The day.
    drifts : mapping, optional
        Drift at full length that the plan foresees, by bone; forecast from the accepted plan unless given.

    Raises
    ------
    Missing
        If the case has no course, or none of its bones has been operated on by that day.
    """
    course = case.course
    if course is None or all(t.operated_on > on for t in course.treatments):
        raise Missing(
            "no bone has been operated on." if course is None else f"no bone was operated on by {on}.",
            where=f"case {case.id!r}, course",
            next_step="Record the operation and the prescription, or ask for a later day.",
        )
    foreseen = planned_drifts(case, profile) if drifts is None else drifts
    legs, said = _growing_legs(case, profile, on)
    found = course_outlook(
        course,
        on=on,
        facts={t.prescription.bone: _facts(case, t, foreseen) for t in course.treatments},
        profile=profile,
        legs=legs,
    )
    return replace(found, findings=ordered((*found.findings, *said)))


def nail_of(case: Case, treatment: Treatment) -> Nail | None:
    """The nail in a bone: the one recorded with its treatment, else the plan's; None without either."""
    plans = case.plan.bones if case.plan is not None else ()
    planned = next((p.nail for p in plans if p.bone is treatment.prescription.bone), None)
    return treatment.nail or planned


def _facts(case: Case, treatment: Treatment, drifts: Mapping[Bone, Drift]) -> BoneFacts:
    bone = treatment.prescription.bone
    plans = case.plan.bones if case.plan is not None else ()
    plan = next((p for p in plans if p.bone is bone), None)
    nail = nail_of(case, treatment)
    way = plan.direction if plan is not None else nail.direction if nail is not None else None
    # The cut was planned for the planned nail; another nail may lie at another depth.
    same = plan is not None and (treatment.nail is None or treatment.nail == plan.nail)
    return BoneFacts(
        age_years=case.age_years(treatment.operated_on),
        nail=nail,
        retrograde=way is Direction.RETROGRADE,
        osteotomy_depth_mm=plan.osteotomy.depth_mm if plan is not None and same else None,
        drift=drifts.get(bone),
    )


def _growing_legs(case: Case, profile: Profile, on: date) -> tuple[GrowingLegs | None, tuple[Finding, ...]]:
    """Both legs before the operation, while there is growth to come; else nothing."""
    age = case.age_years(on)
    if age >= multiplier_grown_years(case.patient.sex):
        return None, ()
    try:
        measured = measured_case(case, profile)
        between = measured.difference
        if between is None or between.total is None or measured.other is None:
            raise Missing(
                "no film shows both legs with scale.",
                where="growth",
                next_step="Add a frontal film of both legs to the case.",
            )
        other_mm = measured.other.frontal.need(Measure.LEG_LENGTH).value.value
    except LimbwrightError as reason:
        return None, (_not_projected(reason),)
    films_on = case.first_film_on()
    skeletal = case.patient.skeletal_age_years
    years = 0.0 if films_on is None else (on - films_on).days / DAYS_PER_YEAR
    legs = GrowingLegs(
        treated_leg_mm=other_mm + between.total.value,
        other_leg_mm=other_mm,
        discrepancy_sd_mm=between.total.sd,
        sex=case.patient.sex,
        # Both legs are as long as on the films; growth since is part of the growth to come.
        age_years=age - years,
        skeletal_age_years=skeletal,
        examination=case.examination,
    )
    return legs, ()


def _not_projected(reason: LimbwrightError) -> Finding:
    return Finding(
        id="growth-not-projected",
        severity=Severity.CAUTION,
        words="The patient still grows, and what growth will do to the discrepancy is not known: "
        f"{reason.found}",
        next_step=reason.next_step,
        rule="While a patient grows, the discrepancy at maturity is projected again with the length gained.",
        source=COMMON_PRACTICE,
    )
