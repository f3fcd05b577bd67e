"""Blocking screws chosen by computation: layouts compared over the whole course and over uncertain pull."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from limbwright.finding import ordered
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone
from limbwright.mechanics import BlockingScrew as ModelScrew
from limbwright.mechanics import (
    Candidate,
    Layout,
    Plane,
    Scenario,
    compare_layouts,
)
from limbwright.plan.canal import CanalAlong
from limbwright.plan.circumstances import StandingHardware
from limbwright.plan.decision import BlockingScrew, BonePlan
from limbwright.plan.drift import Drift, expected_drift, third_of
from limbwright.plan.forecast.caution_zones import structures_near
from limbwright.plan.forecast.construct import ModelledBone, modelled_bone, planned_screw
from limbwright.plan.forecast.forecast import Sampling, region_of_plan
from limbwright.plan.forecast.loads import CourseDay, stages_of, tissue_pull_of
from limbwright.plan.forecast.screw_finding import advice_findings
from limbwright.plan.forecast.screw_limits import screw_limits
from limbwright.plan.forecast.screw_values import BlockingAdvice, LayoutOffered
from limbwright.plan.forecast.spread import moment_spread, tissue_and_fit_spreads
from limbwright.plan.planner_rules import blocking_rules
from limbwright.practice.profile import Profile

LEVEL_STEP_MM = 5.0
DRAWN = Sampling(count=32)
MILD = "mild"


def blocking_advice(
    plan: BonePlan,
    canals: Sequence[CanalAlong],
    days: Sequence[CourseDay],
    profile: Profile,
    *,
    hardware: Sequence[StandingHardware] = (),
    sampling: Sampling | None = None,
) -> BlockingAdvice:
    """Which blocking screws earn their place in a plan, whatever screws it has now.

    Parameters
    ----------
    plan, canals, days, profile
        As in `bone_forecast`.
    hardware : sequence of StandingHardware
        What stands in the leg already or is planned beside; a blocking screw keeps clear of it.
    sampling : Sampling, optional
        Draws of uncertain inputs for the layouts shown first; `DRAWN` of them unless given.

    Notes
    -----
    Layouts are screened plane by plane; the best few tens of each size, and everything that is told of any
    layout, are solved in both planes together over the course. Where the direction of the pull is uncertain
    the scenarios stand side by side and nothing is picked.
    """
    region = region_of_plan(plan)
    drawn = sampling or DRAWN
    modelled = modelled_bone(plan, canals, profile)
    scenarios = scenarios_of(plan, days, profile)
    candidates = blocking_candidates(modelled, plan, canals, profile, hardware=hardware)
    ankle_mm = plan.osteotomy.above_distal_joint_mm
    if modelled.distal_sign < 0:
        ankle_mm = plan.osteotomy.below_joint_mm
    report = compare_layouts(
        modelled.construct,
        candidates,
        scenarios,
        max_screws=max(1, min(profile.blocking_screws_max, 3)),
        apart_mm=blocking_rules(profile).apart_mm,
        step_price_deg_per_mm=profile.blocking_screw_step_price_deg_per_mm,
        limit_deg=profile.drift_limit_deg,
        margin_deg=profile.blocking_screw_runner_up_deg,
        shift_beyond_osteotomy_mm=ankle_mm,
        spreads={p: tissue_and_fit_spreads(plan, region, p, profile) for p in Plane} if drawn.count else None,
        draw_count=drawn.count,
        seed=drawn.seed,
    )
    offers = _Offers(modelled, plan, profile, scenarios)
    advice = BlockingAdvice(
        bone=plan.bone,
        scenarios=report.scenarios,
        none=offers.offered(report.none),
        best=tuple(
            offers.offered(layout, bought_deg=bought)
            for layout, bought in zip(report.best, report.bought_deg, strict=True)
        ),
        smallest_within=None
        if report.smallest_within is None
        else offers.offered(report.smallest_within, bought_deg=report.smallest_within.gain_deg),
        runners_up=tuple(offers.offered(x) for x in report.runners_up),
        worst=offers.offered(report.worst),
        making_worse=tuple(offers.offered(x) for x in report.making_worse),
        best_by_scenario=tuple(offers.offered(x) for x in report.best_by_scenario),
        scenarios_agree=report.scenarios_agree,
        too_tight=tuple(
            (m.candidate.against, offers.screw(m.candidate.screw), m.gain_deg) for m in report.missed
        ),
        layouts_solved=report.plane_layouts,
        layouts_together=report.together,
        exhaustive=report.exhaustive,
        findings=(),
    )
    return replace(advice, findings=ordered(advice_findings(advice, plan, profile)))


def scenarios_of(plan: BonePlan, days: Sequence[CourseDay], profile: Profile) -> tuple[Scenario, ...]:
    """Pull as expected, at the strong end of its range, and where the direction is uncertain turned round.

    The frontal direction counts as uncertain where the published tendency is mild, and in the distal femur
    with a retrograde nail, where both are described.
    """
    region = region_of_plan(plan)
    pull = tissue_pull_of(profile, region)
    cut = plan.osteotomy
    third = third_of(cut.below_joint_mm, cut.below_joint_mm + cut.above_distal_joint_mm)
    strong = {p: 1 + moment_spread(region, p) for p in Plane}
    made = [
        Scenario(name="pull as expected", weight=2.0, stages=stages_of(days, pull, profile)),
        Scenario(
            name="strong pull",
            weight=1.0,
            stages=stages_of(
                days,
                pull,
                profile,
                frontal_factor=strong[Plane.FRONTAL],
                sagittal_factor=strong[Plane.SAGITTAL],
            ),
        ),
    ]
    both_ways = plan.bone is Bone.FEMUR and plan.direction is Direction.RETROGRADE
    if both_ways or expected_drift(plan.bone, third).degree == MILD:
        made.append(
            Scenario(
                name="frontal pull the other way",
                weight=0.5,
                stages=stages_of(days, pull, profile, frontal_factor=-1.0),
            )
        )
    return tuple(made)


def blocking_candidates(
    modelled: ModelledBone,
    plan: BonePlan,
    canals: Sequence[CanalAlong],
    profile: Profile,
    *,
    hardware: Sequence[StandingHardware] = (),
) -> tuple[Candidate, ...]:
    """All screws the surgeon's limits allow, and those they do not with the reason."""
    limits = screw_limits(modelled, plan, canals, profile, hardware=hardware)
    low, high = profile.blocking_screw_min_to_osteotomy_mm, profile.blocking_screw_max_to_osteotomy_mm
    return limits.candidates(tuple(float(x) for x in np.arange(low, high + 1e-6, LEVEL_STEP_MM)))


class _Offers:
    """Layouts of the model in the plan's own words."""

    def __init__(
        self, modelled: ModelledBone, plan: BonePlan, profile: Profile, scenarios: tuple[Scenario, ...]
    ) -> None:
        self.modelled, self.plan, self.profile = modelled, plan, profile
        self.end = scenarios[0].stages[-1]

    def screw(self, screw: ModelScrew) -> BlockingScrew:
        """A screw of the model as the plan has it."""
        return planned_screw(self.modelled, screw, self.plan, self.profile)

    def offered(self, layout: Layout, *, bought_deg: float = 0.0) -> LayoutOffered:
        """A layout in the plan's own words."""
        screws = tuple(self.screw(s) for s in layout.screws)
        sign = self.modelled.distal_sign
        length = self.plan.osteotomy.below_joint_mm + self.plan.osteotomy.above_distal_joint_mm
        near = [
            structure
            for s in screws
            for structure in structures_near(
                self.plan.bone,
                100
                * (self.plan.osteotomy.below_joint_mm + sign * (s.depth_mm - self.plan.osteotomy.depth_mm))
                / length,
                s.direction,
            )
        ]
        slack = any(
            self.modelled.construct.beside_thin_rod(s, self.end.lengthening_mm) for s in layout.screws
        )
        return LayoutOffered(
            screws=screws,
            worst_deg=layout.worst_deg,
            expected_deg=layout.expected_deg,
            worst_by_scenario_deg=layout.worst_by_scenario_deg,
            frontal_deg=layout.frontal_deg,
            sagittal_deg=layout.sagittal_deg,
            step_mm=layout.step_mm,
            shift_mm=layout.shift_mm,
            bought_deg=bought_deg,
            misplaced_deg=layout.misplaced_deg,
            ends_slack=slack,
            near=tuple(dict.fromkeys(near)),
            together=self._drift(layout),
            oblique_deg=None if layout.end_deg is None else math.hypot(*layout.end_deg),
            likely_deg=layout.likely_deg,
            rarely_above_deg=layout.rarely_above_deg,
        )

    def _drift(self, layout: Layout) -> Drift | None:
        """Drift at full length with the pull as expected."""
        if layout.end_deg is None or layout.end_step_mm is None:
            return None
        lateral, anterior = (
            self.modelled.distal_step_mm(step, angle, self.end.lengthening_mm)
            for step, angle in zip(layout.end_step_mm, layout.end_deg, strict=True)
        )
        return Drift(
            varus_deg=layout.end_deg[0],
            procurvatum_deg=layout.end_deg[1],
            lateral_mm=lateral,
            anterior_mm=anterior,
        )
