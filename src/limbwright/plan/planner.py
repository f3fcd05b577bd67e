"""A first plan for one bone, put together in a fixed order: aim, level, path, nail, blocking screws.

It is deterministic and tries levels one by one, best first; a search over all plans uses the same functions.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from limbwright.finding import Finding, ordered
from limbwright.implant.catalogue import Catalogue
from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import SIDES_OF_A_CUT, Bone, Projection
from limbwright.limb.reading import Measure
from limbwright.plan.approach import approach_options
from limbwright.plan.blocking import BlockingPlan, blocking_plan
from limbwright.plan.canal import CanalAlong, canal_not_traced, outer_edges_mm
from limbwright.plan.circumstances import Examination
from limbwright.plan.correction import Correction, correction_for
from limbwright.plan.decision import BonePlan, Osteotomy
from limbwright.plan.drift import ExpectedDrift, expected_drift, third_of
from limbwright.plan.entry import entry_finding
from limbwright.plan.goal import BoneChoice
from limbwright.plan.hardware_limits import HardwareLimits, hardware_limits
from limbwright.plan.leg import LegModel
from limbwright.plan.nail_fit import NailDemand, NailVerdict, nail_verdict, offered
from limbwright.plan.osteotomy import (
    LevelScore,
    OffApex,
    bone_line,
    level_score,
    off_apex_table,
    scored_levels,
)
from limbwright.plan.path import vector
from limbwright.plan.planner_finding import (
    chosen_level_outside,
    chosen_nail_unfit,
    drift_expected,
    entry_blocked,
    level_reason,
    nail_reason,
    no_level_left,
    no_nail_fits,
    turn_disagrees,
)
from limbwright.plan.planner_rules import blocking_rules, nail_in_bone, nail_rules
from limbwright.plan.route import Route, canals_on, route_at
from limbwright.plan.situation import BoneSituation
from limbwright.practice.profile import Profile
from limbwright.quantity import Value

LEVEL_STEP_MM = 5.0  # the search refines to 1 mm; a first plan does not need it
OFF_APEX_MM = (-40.0, -30.0, -20.0, -10.0, 0.0, 10.0, 20.0, 30.0, 40.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneTask(Value):
    """What is asked of the planner for one bone."""

    leg: LegModel
    """The treated leg as it stands."""
    direction: Direction
    """Way of driving the nail."""
    lengthening_mm: float
    """Length to gain [mm]."""
    situation: BoneSituation
    """The bone, its angulations with their levels, and its rotation."""
    targets: Mapping[Measure, float] = field(default_factory=dict)
    """Wanted joint-orientation angles at full length [deg]."""
    profile: Profile = field(default_factory=Profile)
    """The surgeon's rules."""
    catalogue: Catalogue
    """The surgeon's nails."""
    examination: Examination = field(default_factory=Examination)
    """Bone quality, hardware, knee."""
    choice: BoneChoice | None = None
    """What the surgeon has fixed."""
    correct_alignment: bool = True
    """False when only length is wanted."""

    @property
    def bone(self) -> Bone:
        """The bone."""
        return self.situation.bone

    def nails(self) -> tuple[Nail, ...]:
        """Nails to judge: the chosen one, or all of the catalogue for this bone and way."""
        if self.choice is not None and self.choice.nail is not None:
            return (self.catalogue.nail(self.choice.nail),)
        return self.catalogue.nails_for(self.bone, self.direction)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedBone(Value):
    """What the planner proposes for one bone, and what it weighed."""

    bone: Bone
    """Bone."""
    plan: BonePlan | None
    """The proposal, without fibula and pins; None when something stops it, named among the findings."""
    nail: NailVerdict | None = None
    """The chosen nail with its numbers."""
    runners_up: tuple[NailVerdict, ...] = ()
    """Other nails that would do, in the order of preference."""
    rejected: tuple[NailVerdict, ...] = ()
    """Nails that do not fit at the chosen level (or the last one tried), each with its reasons."""
    correction: Correction
    """What is aimed at."""
    route: Route | None = None
    """The nail's lines."""
    canals: tuple[CanalAlong, ...] = ()
    """Traced canals along the chosen nail."""
    levels: tuple[LevelScore, ...] = ()
    """Levels that may be cut, best first."""
    off_apex: tuple[OffApex, ...] = ()
    """What each distance from the apex would cost; empty without a correction or a traced width."""
    drift: ExpectedDrift | None = None
    """Usual drift at the chosen level."""
    blocking: BlockingPlan | None = None
    """Blocking screws and what they gain."""
    reasons: tuple[str, ...]
    """How the proposal came about, step by step."""
    findings: tuple[Finding, ...] = ()
    """What to weigh, worst first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelTried(Value):
    """One level with the nails judged at it."""

    score: LevelScore
    """The level."""
    route: Route
    """The nail's lines at it."""
    verdicts: tuple[NailVerdict, ...]
    """Every nail judged."""


def plan_bone(task: BoneTask) -> PlannedBone:
    """Propose osteotomy, path, nail and blocking screws for one bone.

    Raises
    ------
    Missing
        If the joint centres of the bone are not marked, or a fragment offers nothing to draw a line through.
    Refused
        If no turn of the distal fragment reaches the wanted angles.
    """
    profile, bone = task.profile, task.bone
    length_mm = bone_line(task.leg, bone).length_mm
    correction = correction_for(
        task.leg,
        task.situation,
        targets=task.targets,
        tolerance_deg=profile.angle_tolerance_deg,
        sagittal_tolerance_deg=profile.sagittal_tolerance_deg,
        rotation_tolerance_deg=profile.rotation_tolerance_deg,
        correct_alignment=task.correct_alignment,
    )
    limits = hardware_limits(
        bone=bone, length_mm=length_mm, hardware=task.examination.hardware, profile=profile
    )
    scores = _levels(task, correction, limits, length_mm)
    shown = PlannedBone(
        bone=bone, plan=None, correction=correction, levels=scores, reasons=(correction.reason,)
    )
    findings = list(limits.findings)
    if limits.reach(task.direction) is None:
        return _stopped(shown, [*findings, entry_blocked(bone, task.direction)])
    to_try = scores
    fixed_mm = task.choice.osteotomy_below_joint_mm if task.choice is not None else None
    if fixed_mm is not None:
        to_try = (_chosen_level(task, fixed_mm, correction, length_mm),)
        if not any(abs(s.below_joint_mm - fixed_mm) <= LEVEL_STEP_MM for s in scores):
            findings.append(chosen_level_outside(bone, fixed_mm, profile))
    if not to_try:
        return _stopped(shown, [*findings, no_level_left(bone, length_mm, profile)])
    tried = level_tried(task, to_try[0], correction, limits)
    for score in to_try[1:]:
        if any(v.fits for v in tried.verdicts):
            break
        tried = level_tried(task, score, correction, limits)
    findings += _turn_findings(tried.route, correction, profile)
    offers = offered(
        tried.verdicts,
        length_preference=profile.nail_length_preference,
        diameter_preference=profile.nail_diameter_preference,
        lengths=profile.nail_lengths_offered,
    )
    if not offers and task.choice is not None and task.choice.nail is not None:
        offers = tried.verdicts
        findings.append(chosen_nail_unfit(offers[0], profile))
    shown = replace(
        shown, route=tried.route, rejected=tuple(v for v in tried.verdicts if not v.fits and v not in offers)
    )
    if not offers:
        return _stopped(shown, [*findings, no_nail_fits(bone, tried.verdicts, profile)])
    return proposal(task, shown, tried, offers, findings)


def _turn_findings(route: Route, correction: Correction, profile: Profile) -> list[Finding]:
    allowed = 2 * profile.angle_tolerance_deg
    aim = correction.frontal
    if not correction.needed or aim.measure is None or abs(route.varus_deg - aim.turn_deg) <= allowed:
        return []
    return [
        turn_disagrees(
            route.bone,
            aim=aim.measure,
            turn_deg=route.varus_deg,
            measured_deg=aim.turn_deg,
            allowed_deg=allowed,
            profile=profile,
        )
    ]


def _stopped(shown: PlannedBone, findings: list[Finding]) -> PlannedBone:
    return replace(shown, findings=ordered(tuple(findings)))


def _levels(
    task: BoneTask, correction: Correction, limits: HardwareLimits, length_mm: float
) -> tuple[LevelScore, ...]:
    profile = task.profile
    return scored_levels(
        bone=task.bone,
        length_mm=length_mm,
        free=limits.osteotomy,
        step_mm=LEVEL_STEP_MM,
        apex_below_joint_mm=correction.apex_below_joint_mm,
        correction_deg=correction.size_deg,
        near_apex_mm=profile.osteotomy_to_apex_mm,
        metaphysis_preference_mm=profile.metaphysis_preference_mm,
        max_translation_mm=profile.max_translation_at_osteotomy_mm,
        judged=task.examination.bone_quality,
        from_distal=task.direction is Direction.RETROGRADE,
    )


def _chosen_level(
    task: BoneTask, below_joint_mm: float, correction: Correction, length_mm: float
) -> LevelScore:
    return level_score(
        below_joint_mm,
        bone=task.bone,
        length_mm=length_mm,
        apex_below_joint_mm=correction.apex_below_joint_mm,
        correction_deg=correction.size_deg,
        judged=task.examination.bone_quality,
    )


def level_tried(
    task: BoneTask, score: LevelScore, correction: Correction, limits: HardwareLimits
) -> LevelTried:
    """Draw the nail's lines for one level and judge every nail at it."""
    route = route_at(
        task.leg,
        bone=task.bone,
        direction=task.direction,
        below_joint_mm=score.below_joint_mm,
        correction=correction,
        lengthening_mm=task.lengthening_mm,
    )
    rules, sunk = nail_rules(task.profile), task.profile.nail_end_below_surface_mm
    beyond_cut = far_room_mm(route, limits, score.below_joint_mm, rules.tip_clearance_mm)
    canals: dict[float, tuple[CanalAlong, ...]] = {}
    verdicts = []
    for nail in task.nails():
        depth = route.osteotomy_depth_mm(nail, sunk)
        if depth not in canals:
            canals[depth] = canals_on(task.leg, route, depth)
        demand = NailDemand(
            osteotomy_depth_mm=depth, lengthening_mm=task.lengthening_mm, room_mm=depth + beyond_cut
        )
        verdicts.append(nail_verdict(nail, demand=demand, rules=rules, canals=canals[depth]))
    return LevelTried(score=score, route=route, verdicts=tuple(verdicts))


def far_room_mm(route: Route, limits: HardwareLimits, below_joint_mm: float, clearance_mm: float) -> float:
    """Free length beyond the osteotomy: to the far surface, or to hardware in the canal before it. [mm]"""
    reach = limits.reach(route.direction)
    room = route.cut_to_far_end_mm
    if reach is None:
        return room
    # The free stretch already keeps the tip's clearance from hardware; it is taken off again with the nail.
    if route.direction is Direction.ANTEGRADE and reach.to_mm < limits.length_mm:
        room = min(room, reach.to_mm - below_joint_mm + clearance_mm)
    if route.direction is Direction.RETROGRADE and reach.from_mm > 0:
        room = min(room, below_joint_mm - reach.from_mm + clearance_mm)
    return room


def proposal(
    task: BoneTask,
    shown: PlannedBone,
    tried: LevelTried,
    offers: tuple[NailVerdict, ...],
    findings: list[Finding],
) -> PlannedBone:
    """The proposal for the first nail offered, with blocking screws, reasons and findings."""
    profile, route, nail = task.profile, tried.route, offers[0].nail
    line = bone_line(task.leg, task.bone)
    sunk = profile.nail_end_below_surface_mm
    depth = route.osteotomy_depth_mm(nail, sunk)
    path = route.path_of(nail, sunk)
    canals = canals_on(task.leg, route, depth)
    level = line.below_joint_mm(route.cut.point_mm)
    drift = expected_drift(task.bone, third_of(level, line.length_mm))
    blocking = blocking_plan(
        nail=nail_in_bone(nail, osteotomy_depth_mm=depth, lengthening_mm=task.lengthening_mm),
        canals=canals,
        senses=drift.senses(),
        rules=blocking_rules(profile),
    )
    apex = shown.correction.apex_below_joint_mm
    choice = task.choice
    approach = choice.approach if choice is not None else None
    if approach is None:
        approach = approach_options(
            bone=task.bone, direction=task.direction, examination=task.examination, profile=profile
        )[0].approach
    plan = BonePlan(
        bone=task.bone,
        direction=task.direction,
        approach=approach,
        lengthening_mm=task.lengthening_mm,
        osteotomy=Osteotomy(
            bone=task.bone,
            depth_mm=depth,
            below_joint_mm=level,
            above_distal_joint_mm=line.length_mm - level,
            off_apex_mm=level - apex if apex is not None else None,
        ),
        path=path,
        rotation_correction_deg=route.rotation_correction_deg,
        nail=nail,
        reamer_mm=offers[0].number("reamer"),
        blocking_screws=blocking.screws,
        fibula=None,
        pins=(),
        calf_release=choice.calf_release if choice is not None else None,
    )
    seen = {(c.fragment, c.projection) for c in canals}
    missing = [
        canal_not_traced(task.bone, projection, fragments)
        for projection in Projection
        if (fragments := [f for f in SIDES_OF_A_CUT if (f, projection) not in seen])
        and (projection is Projection.FRONTAL or task.leg.has_sagittal)
    ]
    found = [
        *findings,
        *missing,
        *blocking.findings,
        drift_expected(drift, blocking, canal_known=bool(canals), profile=profile),
        entry_finding(task.leg, task.bone, task.direction, vector(path.entry)),
    ]
    return replace(
        shown,
        plan=plan,
        nail=offers[0],
        runners_up=offers[1:],
        canals=canals,
        off_apex=_off_apex(task, shown.correction, route),
        drift=drift,
        blocking=blocking,
        reasons=(*shown.reasons, level_reason(tried.score, nail), nail_reason(offers[0], offers[1:])),
        findings=ordered(tuple(found)),
    )


def _off_apex(task: BoneTask, correction: Correction, route: Route) -> tuple[OffApex, ...]:
    edges = outer_edges_mm(task.leg, task.bone, Projection.FRONTAL, route.cut.point_mm, route.along())
    if not correction.needed or edges is None:
        return ()
    return off_apex_table(
        correction_deg=correction.size_deg, bone_width_mm=edges[1] - edges[0], distances_mm=OFF_APEX_MM
    )
