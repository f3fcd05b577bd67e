"""The forecast of one bone plan: drift by day and length, with bands, with and without its screws."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from limbwright.finding import ordered
from limbwright.mechanics import (
    Construct,
    CourseForecast,
    Outcome,
    Plane,
    Quantiles,
    Region,
    Spread,
    Stage,
    StageForecast,
    drawn_layouts,
    envelope,
    forecast_course,
    quantiles,
    solve_coupled,
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

PROBABILITY = (0.05, 0.5, 0.95)


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
    Angles and bands are of both planes solved together.
    """
    region = region_of_plan(plan)
    modelled = modelled_bone(plan, canals, profile)
    pull = tissue_pull_of(profile, region)
    stages = stages_of(days, pull, profile)
    chosen = sampling or Sampling()
    spreads = {p: tissue_and_fit_spreads(plan, region, p, profile) for p in Plane}

    def course(construct: Construct, solved: CourseForecast) -> CourseOfDrift:
        walking = None
        if weight_on_leg_kg is not None:
            loaded = stages_of(
                days, pull, profile, weight_bearing_n=walking_load_n(profile, weight_on_leg_kg)
            )
            walking = _walking_stress_mpa(construct, loaded[-1])
        bands = _bands(construct, stages, spreads, chosen)
        joint_mm = plan.osteotomy.above_distal_joint_mm
        return CourseOfDrift(
            moments=tuple(
                _moment(modelled, construct, s, bands[i], joint_mm=joint_mm)
                for i, s in enumerate(solved.stages)
            ),
            walking_stress_mpa=walking,
        )

    planned = forecast_course(modelled.construct, stages, coupled=True)
    bare = modelled.construct.with_blocking_screws()
    made = BoneForecast(
        bone=plan.bone,
        region=region,
        modelled=modelled,
        stages=stages,
        solved=planned.stages,
        planned=course(modelled.construct, planned),
        bare=course(bare, forecast_course(bare, stages, coupled=True)) if plan.blocking_screws else None,
        findings=(),
    )
    return replace(made, findings=ordered(forecast_findings(made, profile)))


def _bands(
    construct: Construct,
    stages: tuple[Stage, ...],
    spreads: Mapping[Plane, tuple[Spread, ...]],
    sampling: Sampling,
) -> list[dict[Plane, Quantiles | None]]:
    """Quantiles of every stage over the draws, both planes together."""
    if sampling.count == 0:
        return [dict.fromkeys(Plane) for _ in stages]
    drawn = drawn_layouts(
        construct,
        (construct.blocking_screws,),
        stages,
        spreads,
        count=sampling.count,
        seed=sampling.seed,
    )
    found: list[dict[Plane, Quantiles | None]] = []
    for s in range(len(stages)):
        columns = {p: drawn.angulation_deg[:, s, i] for i, p in enumerate(Plane)}
        # Where no draw carries a number the outcomes say why.
        found.append(
            {p: quantiles(c, PROBABILITY) if np.isfinite(c).any() else None for p, c in columns.items()}
        )
    return found


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
            band=_band(drawn[plane], angle) if known else None,
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


def _band(drawn: Quantiles | None, expected_deg: float) -> Band | None:
    """Band of the draws; the answer with every input as expected lies in it."""
    if drawn is None:
        return None
    return Band(
        low=min(drawn.value[0], expected_deg),
        high=max(drawn.value[-1], expected_deg),
        middle=drawn.value[1],
        without_number=drawn.without_number,
    )


def _walking_stress_mpa(construct: Construct, stage: Stage) -> float | None:
    found = solve_coupled(construct, stage.load, lengthening_mm=stage.lengthening_mm)
    if found.oblique_deg is None:
        return None
    return construct.nail.peak_stress_mpa(
        thick_moment_nm=found.thick_moment_nm, thin_moment_nm=found.thin_moment_nm
    )
