"""The forecast of one bone plan: drift by day and length, with bands, with and without its screws."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from limbwright.error import OutOfRange
from limbwright.finding import ordered
from limbwright.mechanics import (
    Construct,
    CourseForecast,
    Outcome,
    Plane,
    Quantiles,
    Region,
    Stage,
    StageForecast,
    course_spread,
    envelope,
    forecast_course,
    solve,
)
from limbwright.plan.canal import CanalAlong
from limbwright.plan.decision import BonePlan
from limbwright.plan.drift import third_of
from limbwright.plan.forecast.construct import ModelledBone, modelled_bone
from limbwright.plan.forecast.drift_course import (
    Band,
    BoneForecast,
    ContactOfNail,
    CourseOfDrift,
    MomentOfCourse,
    PlaneForecast,
)
from limbwright.plan.forecast.forecast_finding import forecast_findings
from limbwright.plan.forecast.loads import (
    CourseDay,
    region_of,
    stages_of,
    tissue_pull_of,
    walking_load_n,
)
from limbwright.plan.forecast.spread import tissue_and_fit_spreads
from limbwright.practice.profile import Profile
from limbwright.quantity import Value

PROBABILITY = (0.05, 0.25, 0.5, 0.75, 0.95)
NUMBERED = (Outcome.DETERMINED, Outcome.NAIL_FORCED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sampling(Value):
    """How the bands are drawn."""

    count: int = 256
    """Quasi-random draws; 0 for no bands."""
    seed: int = 1
    """Seed of the scrambling; the same seed gives the same bands."""


def region_of_plan(plan: BonePlan) -> Region:
    """Bone and level of a plan's osteotomy."""
    cut = plan.osteotomy
    return region_of(plan.bone, third_of(cut.below_joint_mm, cut.below_joint_mm + cut.above_distal_joint_mm))


def bone_forecast(
    plan: BonePlan,
    canals: Sequence[CanalAlong],
    days: Sequence[CourseDay],
    profile: Profile,
    *,
    weight_on_leg_kg: float | None = None,
    sampling: Sampling | None = None,
) -> BoneForecast:
    """Forecast drift, contacts and nail stress of one bone plan along its prescription.

    Parameters
    ----------
    plan : BonePlan
        The plan, with its blocking screws.
    canals : sequence of CanalAlong
        Traced canals along the nail (`route.canals_on`); what is missing is idealised and said.
    days : sequence of CourseDay
        Length gained by day.
    profile : Profile
        The surgeon's numbers.
    weight_on_leg_kg : float, optional
        Weight allowed on the leg, for the stress in walking. [kg]
    sampling : Sampling, optional
        Draws of the bands.

    Notes
    -----
    Angles are of the coupled solve of both planes. A band is that of its plane alone, scaled by the ratio of
    the coupled answer to the plane's own (docs/forecast.md).
    """
    region = region_of_plan(plan)
    modelled = modelled_bone(plan, canals, profile)
    pull = tissue_pull_of(profile, region)
    stages = stages_of(days, pull, profile)
    chosen = sampling or Sampling()

    def course(construct: Construct) -> CourseOfDrift:
        walking = None
        if weight_on_leg_kg is not None:
            loaded = stages_of(
                days, pull, profile, weight_bearing_n=walking_load_n(profile, weight_on_leg_kg)
            )
            walking = _walking_stress_mpa(construct, loaded[-1])
        solved = forecast_course(construct, stages, coupled=True)
        bands = {
            p: _bands(construct, plan, region, p, stages=stages, profile=profile, sampling=chosen)
            for p in Plane
        }
        return CourseOfDrift(
            moments=tuple(
                _moment(
                    modelled,
                    construct,
                    s,
                    {p: bands[p][i] for p in Plane},
                    joint_mm=plan.osteotomy.above_distal_joint_mm,
                )
                for i, s in enumerate(solved.stages)
            ),
            walking_stress_mpa=walking,
        )

    made = BoneForecast(
        bone=plan.bone,
        region=region,
        modelled=modelled,
        stages=stages,
        planned=course(modelled.construct),
        bare=course(modelled.construct.with_blocking_screws()) if plan.blocking_screws else None,
        findings=(),
    )
    return replace(made, findings=ordered(forecast_findings(made, profile)))


def _bands(
    construct: Construct,
    plan: BonePlan,
    region: Region,
    plane: Plane,
    *,
    stages: tuple[Stage, ...],
    profile: Profile,
    sampling: Sampling,
) -> tuple[Quantiles | None, ...]:
    if sampling.count == 0:
        return (None,) * len(stages)
    try:
        spread = course_spread(
            construct,
            plane,
            stages,
            tissue_and_fit_spreads(plan, region, plane, profile),
            count=sampling.count,
            seed=sampling.seed,
            probability=PROBABILITY,
        )
    except OutOfRange:  # no draw carries a number; the outcomes say why
        return (None,) * len(stages)
    return spread.angulation_deg


def _moment(
    modelled: ModelledBone,
    construct: Construct,
    solved: StageForecast,
    drawn: Mapping[Plane, Quantiles | None],
    *,
    joint_mm: float,
) -> MomentOfCourse:
    one = CourseForecast(stages=(solved,))
    both = solved.coupled
    gained = solved.stage.lengthening_mm
    planes = {}
    for plane in Plane:
        alone = solved.frontal if plane is Plane.FRONTAL else solved.sagittal
        angle = float(one.angulation_deg(plane)[0])
        step = modelled.distal_step_mm(float(one.step_mm(plane)[0]), angle, gained)
        known = not math.isnan(angle)
        planes[plane] = PlaneForecast(
            angulation_deg=angle if known else None,
            alone_deg=alone.angulation_deg,
            step_mm=step if known else None,
            joint_shift_mm=step - math.tan(math.radians(angle)) * joint_mm if known else None,
            band=_scaled(drawn[plane], angle, alone.angulation_deg) if known else None,
            play=None if known else _play(construct, plane, solved),
        )
    return MomentOfCourse(
        day=solved.stage.day,
        lengthening_mm=gained,
        frontal=planes[Plane.FRONTAL],
        sagittal=planes[Plane.SAGITTAL],
        oblique_deg=None if both is None else both.oblique_deg,
        outcomes=(solved.frontal.outcome, solved.sagittal.outcome, *((both.outcome,) if both else ())),
        overlap_mm=solved.overlap_mm,
        peak_stress_mpa=solved.peak_stress_mpa,
        contacts=tuple(
            ContactOfNail(
                support=c.support,
                fragment=modelled.fragment_of(c.fragment),
                depth_mm=c.depth_mm,
                lateral_n=c.lateral_n,
                anterior_n=c.anterior_n,
            )
            for c in (both.contacts if both is not None else ())
        ),
        slack=solved.slack_screws,
    )


def _play(construct: Construct, plane: Plane, solved: StageForecast) -> Band | None:
    """Range of a rigid nail where the place in the play is not determined."""
    if solved.coupled is None or solved.coupled.outcome is not Outcome.UNDETERMINED:
        return None
    rigid = envelope(construct, plane, lengthening_mm=solved.stage.lengthening_mm)
    return Band(low=rigid.lowest_deg, high=rigid.highest_deg)


def _scaled(drawn: Quantiles | None, coupled_deg: float, alone_deg: float | None) -> Band | None:
    """Band of a plane alone, carried over to the coupled answer by their ratio (never widened)."""
    if drawn is None:
        return None
    ratio = 1.0
    if alone_deg is not None and abs(alone_deg) > 1e-6:
        ratio = min(max(coupled_deg / alone_deg, 0.0), 1.0)
    low, middle, high = (drawn.value[i] * ratio for i in (0, PROBABILITY.index(0.5), -1))
    return Band(
        low=min(low, coupled_deg),
        high=max(high, coupled_deg),
        middle=middle,
        without_number=drawn.without_number,
    )


def _walking_stress_mpa(construct: Construct, stage: Stage) -> float | None:
    found = [
        solve(construct, plane, stage.load.in_plane(plane), lengthening_mm=stage.lengthening_mm)
        for plane in Plane
    ]
    if any(r.outcome not in NUMBERED for r in found):
        return None
    return construct.nail.peak_stress_mpa(
        thick_moment_nm=math.hypot(*(r.thick_moment_nm for r in found)),
        thin_moment_nm=math.hypot(*(r.thin_moment_nm for r in found)),
    )
