"""A planned case looked ahead with the mechanical model: drift by day, blocking screws, leg with drift."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from limbwright.case.case import Case
from limbwright.case.planned import PlannedCase
from limbwright.course.prescription import Prescription
from limbwright.course.schedule import schedule
from limbwright.finding import Finding, ordered
from limbwright.limb.anatomy import Bone
from limbwright.plan.drift import Drift
from limbwright.plan.forecast.drift_course import BoneForecast
from limbwright.plan.forecast.forecast import Sampling, bone_forecast
from limbwright.plan.forecast.loads import CourseDay
from limbwright.plan.forecast.recipe import DrillRecipe, Steering, drill_recipe, steering
from limbwright.plan.forecast.screw_values import BlockingAdvice
from limbwright.plan.forecast.screws import blocking_advice
from limbwright.plan.outlook import Outlook, outlook
from limbwright.plan.planner import PlannedBone
from limbwright.practice.profile import Profile
from limbwright.quantity import Value

ANY_DAY = date(2000, 1, 1)  # a schedule wants a calendar day; the forecast counts from the operation


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneAhead(Value):
    """One lengthened bone looked ahead."""

    bone: Bone
    """Bone."""
    forecast: BoneForecast
    """Drift along the course, with and without the planned screws."""
    screws: BlockingAdvice
    """Layouts of blocking screws compared."""
    recipes: tuple[DrillRecipe, ...]
    """How the screws of the plan are put in."""
    steering: tuple[Steering, ...]
    """What they do for the correction itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseAhead(Value):
    """A planned case looked ahead. The model has not been validated clinically."""

    planned: PlannedCase
    """The plan."""
    bones: tuple[BoneAhead, ...]
    """Every bone that is lengthened."""
    drifts: Mapping[Bone, Drift]
    """Drift at full length of each bone that has a number."""
    outlook: Outlook | None
    """The leg at full length with the forecast drift; None without any number, or without a plan."""
    findings: tuple[Finding, ...]
    """Findings of the forecast, worst first; those of the plan are in the plan."""

    def of(self, bone: Bone) -> BoneAhead | None:
        """One bone; None when it is not lengthened."""
        return next((b for b in self.bones if b.bone is bone), None)


def course_days(prescription: Prescription) -> tuple[CourseDay, ...]:
    """Length gained by the end of each day of a prescription."""
    return tuple(
        CourseDay(day=day.number, gained_mm=day.gained_mm) for day in schedule(prescription, ANY_DAY)
    )


def case_forecasts(
    planned: PlannedCase, profile: Profile, *, sampling: Sampling | None = None
) -> Mapping[Bone, BoneForecast]:
    """Drift of every lengthened bone along its prescription: the quick part of `case_ahead`.

    Parameters
    ----------
    planned, profile, sampling
        As for `case_ahead`.
    """
    prescriptions = {p.bone: p for p in planned.prescriptions}
    return {
        done.plan.bone: bone_forecast(
            done.plan,
            proposal.canals,
            course_days(prescriptions[done.plan.bone]),
            profile,
            weight_on_leg_kg=done.weight.limit_kg,
            sampling=sampling,
        )
        for done, proposal in zip(planned.completed, planned.proposals, strict=False)
        if done.plan.bone in prescriptions
    }


def case_ahead(
    case: Case, planned: PlannedCase, profile: Profile, *, sampling: Sampling | None = None
) -> CaseAhead:
    """Forecast every lengthened bone of a planned case, and measure the leg at full length with its drift.

    Parameters
    ----------
    case : Case
        The case that was planned.
    planned : PlannedCase
        Its plan; without one nothing is foretold and the findings of the plan say why.
    profile : Profile
        The surgeon's numbers.
    sampling : Sampling, optional
        Draws of the bands.
    """
    prescriptions = {p.bone: p for p in planned.prescriptions}
    forecasts = case_forecasts(planned, profile, sampling=sampling)
    ahead = []
    for done, proposal in zip(planned.completed, planned.proposals, strict=False):
        forecast = forecasts.get(done.plan.bone)
        if forecast is None:
            continue
        days = course_days(prescriptions[done.plan.bone])
        turns = _turns(proposal)
        held = steering(
            done.plan,
            forecast.modelled,
            done.plan.blocking_screws,
            profile,
            varus_deg=turns[0],
            procurvatum_deg=turns[1],
        )
        ahead.append(
            BoneAhead(
                bone=done.plan.bone,
                forecast=forecast,
                screws=blocking_advice(
                    done.plan, proposal.canals, days, profile, hardware=case.examination.hardware
                ),
                recipes=tuple(
                    drill_recipe(done.plan, s, forecast.modelled, steers=any(h.avoided_deg > 0 for h in held))
                    for s in done.plan.blocking_screws
                ),
                steering=held,
            )
        )
    drifts = {b.bone: drift for b in ahead if (drift := b.forecast.planned.drift()) is not None}
    found = [f for b in ahead for f in (*b.forecast.findings, *b.screws.findings)]
    return CaseAhead(
        planned=planned,
        bones=tuple(ahead),
        drifts=drifts,
        outlook=_outlook(case, planned, profile, drifts) if drifts else None,
        findings=ordered(tuple({(f.id, f.words): f for f in found}.values())),
    )


def _turns(proposal: PlannedBone) -> tuple[float, float]:
    route = proposal.route
    return (0.0, 0.0) if route is None else (route.varus_deg, route.procurvatum_deg)


def _outlook(
    case: Case, planned: PlannedCase, profile: Profile, drifts: Mapping[Bone, Drift]
) -> Outlook | None:
    if planned.plan is None:
        return None
    other = planned.measured.other
    foot = case.examination.foot_height_difference_mm
    return outlook(
        planned.leg,
        None if other is None else other.views.frontal,
        planned.plan,
        profile,
        age_years=planned.measured.age_years,
        targets=planned.targets,
        drifts=drifts,
        foot_difference_mm=None if foot is None else -foot,
    )
