"""Nails judged at a level, and the proposal made of the first that fits."""

from dataclasses import replace

from limbwright.error import OutOfRange
from limbwright.finding import Finding, ordered
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import SIDES_OF_A_CUT, Fragment, Projection
from limbwright.plan.approach import approach_options
from limbwright.plan.blocking import Against, blocking_plan
from limbwright.plan.bone_task import BoneTask, LevelTried, PlannedBone
from limbwright.plan.canal import CanalAlong, by_side, canal_not_traced, outer_edges_mm
from limbwright.plan.correction import Correction
from limbwright.plan.cut import Cut
from limbwright.plan.decision import BonePlan, MiddleHold, Osteotomy, SecondOsteotomy
from limbwright.plan.drift import expected_drift, third_of
from limbwright.plan.entry import entry_finding
from limbwright.plan.forecast.construct import modelled_bone
from limbwright.plan.forecast.screw_limits import screw_limits
from limbwright.plan.hardware_limits import HardwareLimits
from limbwright.plan.nail_fit import NailDemand, NailVerdict, nail_verdict
from limbwright.plan.osteotomy import BoneLine, LevelScore, OffApex, bone_line, off_apex_table
from limbwright.plan.path import vector
from limbwright.plan.planner_finding import drift_expected, level_reason, nail_reason
from limbwright.plan.planner_rules import blocking_rules, nail_in_bone, nail_rules
from limbwright.plan.route import Route, canals_on, route_at

OFF_APEX_MM = (-40.0, -30.0, -20.0, -10.0, 0.0, 10.0, 20.0, 30.0, 40.0)


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
    return judged(task, route, score, limits)


def judged(
    task: BoneTask,
    route: Route,
    score: LevelScore,
    limits: HardwareLimits,
    second_score: LevelScore | None = None,
) -> LevelTried:
    """Judge every nail on a route."""
    rules, sunk = nail_rules(task.profile), task.profile.nail_end_below_surface_mm
    beyond_cut = far_room_mm(route, limits, score.below_joint_mm, rules.tip_clearance_mm)
    canals: dict[float, tuple[CanalAlong, ...]] = {}
    verdicts = []
    for nail in task.nails():
        depth = route.osteotomy_depth_mm(nail, sunk)
        if depth not in canals:
            canals[depth] = canals_on(task.leg, route, depth)
        demand = NailDemand(
            osteotomy_depth_mm=depth,
            lengthening_mm=task.lengthening_mm,
            room_mm=depth + beyond_cut,
            second_depth_mm=None if route.second is None else depth + route.second.deeper_mm,
        )
        verdicts.append(nail_verdict(nail, demand=demand, rules=rules, canals=canals[depth]))
    return LevelTried(score=score, route=route, verdicts=tuple(verdicts), second_score=second_score)


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
    depth = route.osteotomy_depth_mm(nail, profile.nail_end_below_surface_mm)
    traced = canals_on(task.leg, route, depth)
    plan = _written(task, shown, tried, offers[0], line)
    canals = by_side(traced, plan.middle_side)
    drift = expected_drift(task.bone, third_of(plan.osteotomy.below_joint_mm, line.length_mm))
    blocking = blocking_plan(
        nail=nail_in_bone(nail, osteotomy_depth_mm=depth, lengthening_mm=task.lengthening_mm),
        canals=canals,
        senses=drift.senses(),
        rules=blocking_rules(profile),
        against=_against(task, plan, canals),
    )
    fragments = (*SIDES_OF_A_CUT, *([] if plan.second is None else [Fragment.MIDDLE]))
    seen = {(c.fragment, c.projection) for c in traced}
    missing = [
        canal_not_traced(task.bone, projection, unseen)
        for projection in Projection
        if (unseen := [f for f in fragments if (f, projection) not in seen])
        and (projection is Projection.FRONTAL or task.leg.has_sagittal)
    ]
    found = [
        *findings,
        *missing,
        *blocking.findings,
        drift_expected(drift, blocking, canal_known=bool(canals), profile=profile),
        entry_finding(task.leg, task.bone, task.direction, vector(plan.path.entry)),
    ]
    return replace(
        shown,
        plan=replace(plan, blocking_screws=blocking.screws),
        nail=offers[0],
        runners_up=offers[1:],
        canals=canals,
        off_apex=_off_apex(task, shown.correction, route),
        drift=drift,
        blocking=blocking,
        reasons=(*shown.reasons, level_reason(tried.score, nail), nail_reason(offers[0], offers[1:])),
        findings=ordered(tuple(found)),
    )


def _against(task: BoneTask, plan: BonePlan, canals: tuple[CanalAlong, ...]) -> Against:
    """What bars a blocking screw from a place: the limits the computation of screws has too."""
    try:
        modelled = modelled_bone(plan, canals, task.profile)
    except (
        OutOfRange
    ) as refusal:  # a level that the surgeon fixed beyond the nail, told by findings of its own
        found = refusal.found.rstrip(".")
        return lambda _fragment, _side, _depth_mm: found
    return screw_limits(modelled, plan, canals, task.profile, hardware=task.examination.hardware).against


def _written(
    task: BoneTask, shown: PlannedBone, tried: LevelTried, offer: NailVerdict, line: BoneLine
) -> BonePlan:
    """The decisions of a proposal, without blocking screws."""
    route, choice, sunk = tried.route, task.choice, task.profile.nail_end_below_surface_mm
    depth = route.osteotomy_depth_mm(offer.nail, sunk)
    approach = choice.approach if choice is not None else None
    if approach is None:
        approach = approach_options(
            bone=task.bone, direction=task.direction, examination=task.examination, profile=task.profile
        )[0].approach
    second = None
    if route.second is not None:
        locked = offer.number("locking holes in the middle fragment") > 0
        second = SecondOsteotomy(
            osteotomy=_osteotomy(
                line, route.second.cut, depth + route.second.deeper_mm, shown.second_correction
            ),
            rotation_correction_deg=route.second.rotation_correction_deg,
            hold=MiddleHold.LOCKED if locked else MiddleHold.PLATE,
        )
    return BonePlan(
        bone=task.bone,
        direction=task.direction,
        approach=approach,
        lengthening_mm=task.lengthening_mm,
        osteotomy=_osteotomy(line, route.cut, depth, shown.correction),
        path=route.path_of(offer.nail, sunk),
        rotation_correction_deg=route.rotation_correction_deg,
        nail=offer.nail,
        reamer_mm=offer.number("reamer"),
        blocking_screws=(),
        fibula=None,
        pins=(),
        calf_release=choice.calf_release if choice is not None else None,
        second=second,
    )


def _osteotomy(line: BoneLine, cut: Cut, depth_mm: float, correction: Correction | None) -> Osteotomy:
    level = line.below_joint_mm(cut.point_mm)
    apex = None if correction is None else correction.apex_below_joint_mm
    return Osteotomy(
        bone=line.bone,
        depth_mm=depth_mm,
        below_joint_mm=level,
        above_distal_joint_mm=line.length_mm - level,
        off_apex_mm=level - apex if apex is not None else None,
    )


def _off_apex(task: BoneTask, correction: Correction, route: Route) -> tuple[OffApex, ...]:
    edges = outer_edges_mm(task.leg, task.bone, Projection.FRONTAL, route.cut.point_mm, route.along())
    if not correction.needed or edges is None:
        return ()
    return off_apex_table(
        correction_deg=correction.size_deg, bone_width_mm=edges[1] - edges[0], distances_mm=OFF_APEX_MM
    )
