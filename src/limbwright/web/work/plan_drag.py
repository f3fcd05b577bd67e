"""An osteotomy, length, nail, line or blocking screw under the hand: the plan that follows, and limits."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from limbwright.error import LimbwrightError, Missing, OutOfRange
from limbwright.limb.anatomy import Bone, Fragment, Projection
from limbwright.limb.formula import FORMULAS
from limbwright.limb.landmark import Landmark
from limbwright.limb.view import Surface
from limbwright.plan.canal import BORDERS
from limbwright.plan.correction import Correction
from limbwright.plan.decision import BonePlan
from limbwright.plan.hardware_limits import Interval, hardware_limits
from limbwright.plan.leg import JOINT_CENTRES, SHAFT_POINTS, LegModel
from limbwright.plan.moved_pin import pin_at
from limbwright.plan.nail_fit import reamer_mm
from limbwright.plan.osteotomy import bone_line
from limbwright.plan.path import driving_fragment
from limbwright.plan.pin_room import pin_levels
from limbwright.plan.pins import PinLevels
from limbwright.plan.planner import PlannedBone
from limbwright.plan.route import Route, route_at
from limbwright.web.failure import said
from limbwright.web.work.altering import altered_bone, relevelled, require_one_cut
from limbwright.web.work.change import (
    Change,
    ChangedLengthening,
    ChosenNail,
    MovedBlockingScrew,
    MovedLandmark,
    MovedOsteotomy,
    MovedPath,
    MovedPin,
)
from limbwright.web.work.state import WorkState

HALVINGS = 6
Sliding = MovedPath | MovedBlockingScrew | MovedPin
"""Changes of one number, which are held where they cannot go on."""
ENDS: Mapping[Bone, frozenset[Landmark]] = {
    Bone.FEMUR: frozenset(
        {
            Landmark.GREATER_TROCHANTER_TIP,
            Landmark.MEDIAL_FEMORAL_CONDYLE,
            Landmark.LATERAL_FEMORAL_CONDYLE,
        }
    ),
    Bone.TIBIA: frozenset(
        {
            Landmark.MEDIAL_PLATEAU,
            Landmark.LATERAL_PLATEAU,
            Landmark.PLATEAU_ANTERIOR,
            Landmark.PLATEAU_POSTERIOR,
            Landmark.MEDIAL_PLAFOND,
            Landmark.LATERAL_PLAFOND,
            Landmark.PLAFOND_ANTERIOR,
            Landmark.PLAFOND_POSTERIOR,
        }
    ),
}
"""Landmarks of the surfaces a nail's line meets at both ends of a bone (`plan.entry`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DraggedBone:
    """One bone's plan under the hand."""

    plan: BonePlan
    change: Change
    limited: dict[str, Any] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneWork:
    """What every drag of one bone shares."""

    plan: BonePlan
    proposal: PlannedBone
    leg: LegModel
    """The treated leg with what the line of this bone needs; fewer points are solved faster."""
    warm: Correction
    """The aims, starting from the turns found before."""
    stretches: tuple[Interval, ...]
    """Stretches that may be cut."""
    pins: PinLevels
    """What its pins keep clear of."""


def bone_work(state: WorkState, bone: Bone) -> BoneWork:
    """Prepared once for all drags of a state. Raises Missing when the bone is not planned."""
    key = f"bone work {bone}"
    held: BoneWork | None = state.cache.get(key)
    if held is not None:
        return held
    planned = state.planned
    plan = None
    if planned is not None and planned.plan is not None:
        plan = next((b for b in planned.plan.bones if b.bone is bone), None)
    if planned is None or plan is None:
        raise Missing(
            f"there is no plan of the {bone} to change.",
            where="change",
            next_step="Plan the case first, or choose the bone in the goal.",
        )
    proposal = next(p for p in planned.proposals if p.bone is bone)
    limits = hardware_limits(
        bone=bone,
        length_mm=bone_line(planned.leg, bone).length_mm,
        hardware=state.case.examination.hardware,
        profile=state.practice.profile,
    )
    made = BoneWork(
        plan=plan,
        proposal=proposal,
        leg=_needed(planned.leg, bone, proposal.correction),
        warm=_warm(proposal),
        stretches=limits.osteotomy,
        pins=pin_levels(planned.leg, plan, state.case.examination, state.practice.profile),
    )
    state.cache[key] = made
    return made


def dragged_bone(state: WorkState, change: Change) -> DraggedBone:
    """The changed bone's plan, the change held at its limit where it cannot go on.

    Raises
    ------
    LimbwrightError
        When the change cannot be made at all.
    """
    if isinstance(change, MovedLandmark):
        raise TypeError("a landmark is no part of a plan")
    work = bone_work(state, change.bone)
    if isinstance(change, MovedOsteotomy | ChangedLengthening | ChosenNail | MovedPath):
        require_one_cut(work.plan)
    match change:
        case MovedOsteotomy():
            cut, limited = _on_stretch(work, change)
            plan = _solved(state, work, below_joint_mm=cut.below_joint_mm)
            return DraggedBone(plan=plan, change=cut, limited=limited)
        case ChangedLengthening():
            gain, limited = _within_stroke(work, change)
            plan = _solved(state, work, lengthening_mm=gain.lengthening_mm)
            return DraggedBone(plan=plan, change=gain, limited=limited)
        case ChosenNail():
            return DraggedBone(plan=_with_nail(state, work, change), change=change, limited=None)
        case MovedPath() | MovedBlockingScrew() | MovedPin():
            return _toward(state, work, change)
        case _:
            plan = altered_bone(work.plan, change, state.practice.profile)
            return DraggedBone(plan=plan, change=change, limited=None)


def _solved(
    state: WorkState,
    work: BoneWork,
    *,
    below_joint_mm: float | None = None,
    lengthening_mm: float | None = None,
) -> BonePlan:
    """The bone with its line found anew for another level or length, the same nail on it."""
    plan = work.plan
    gain = plan.lengthening_mm if lengthening_mm is None else lengthening_mm
    route = route_at(
        work.leg,
        bone=plan.bone,
        direction=plan.direction,
        below_joint_mm=plan.osteotomy.below_joint_mm if below_joint_mm is None else below_joint_mm,
        correction=work.warm,
        lengthening_mm=gain,
    )
    return _on_route(state, work, replace(plan, lengthening_mm=gain), route)


def _with_nail(state: WorkState, work: BoneWork, change: ChosenNail) -> BonePlan:
    nail = state.practice.catalogue.nail(change.nail)
    plan, profile = work.plan, state.practice.profile
    if (nail.bone, nail.direction) != (plan.bone, plan.direction):
        raise Missing(
            f"{nail.name} is a {nail.direction} nail of the {nail.bone}.",
            where=f"nail, {plan.bone}",
            next_step=f"Choose a {plan.direction} nail of the {plan.bone}.",
        )
    over = nail.reamer_over_mm if nail.reamer_over_mm is not None else profile.over_reaming_mm
    reamer = reamer_mm(thick_diameter_mm=nail.thick_diameter_mm, over_reaming_mm=over)
    route = work.proposal.route
    if route is None:
        raise Missing("no line has been found yet.", where=f"nail, {plan.bone}", next_step="Plan again.")
    return _on_route(state, work, replace(plan, nail=nail, reamer_mm=reamer), route)


def _on_route(state: WorkState, work: BoneWork, plan: BonePlan, route: Route) -> BonePlan:
    """Path, depth and blocking screws of a nail on a route, with the surgeon's own lines laid over it."""
    sunk = state.practice.profile.nail_end_below_surface_mm
    depth = route.osteotomy_depth_mm(plan.nail, sunk)
    line = bone_line(work.leg, plan.bone)
    level = line.below_joint_mm(route.cut.point_mm)
    apex = work.proposal.correction.apex_below_joint_mm
    driving = driving_fragment(plan.direction)
    moved = replace(
        plan,
        path=route.path_of(plan.nail, sunk),
        rotation_correction_deg=route.rotation_correction_deg,
        osteotomy=replace(
            plan.osteotomy,
            depth_mm=depth,
            below_joint_mm=level,
            above_distal_joint_mm=line.length_mm - level,
            off_apex_mm=None if apex is None else level - apex,
        ),
        blocking_screws=tuple(
            replace(s, depth_mm=depth + (-1 if s.fragment is driving else 1) * s.from_osteotomy_mm)
            for s in plan.blocking_screws
        ),
    )
    lines = [] if state.alterations is None else state.alterations.taken
    for alteration in lines:
        if isinstance(alteration, MovedPath) and alteration.bone is plan.bone:
            moved = altered_bone(moved, alteration, state.practice.profile)
    return moved


def _toward(state: WorkState, work: BoneWork, change: Sliding) -> DraggedBone:
    """The change as far as it can be made, halving the way back from where it was asked."""
    profile = state.practice.profile

    def made(tried: Sliding) -> BonePlan:
        if isinstance(tried, MovedPin):
            pin = pin_at(
                work.leg, work.plan, tried.index, tried.below_joint_mm, levels=work.pins, profile=profile
            )
            pins = tuple(pin if i == tried.index else p for i, p in enumerate(work.plan.pins))
            return replace(work.plan, pins=pins)
        plan = altered_bone(work.plan, tried, profile)
        if isinstance(tried, MovedPath) and state.planned is not None:
            plan = relevelled(state.planned, plan)
            _require_in_stretch(work, plan)
        return plan

    try:
        return DraggedBone(plan=made(change), change=change, limited=None)
    except LimbwrightError as error:
        reason = error
    name, start = _value_before(work, change)
    asked: float = getattr(change, name)
    best, taken, low, high = work.plan, change.model_copy(update={name: start}), 0.0, 1.0
    for _ in range(HALVINGS):
        share = (low + high) / 2
        tried = change.model_copy(update={name: start + share * (asked - start)})
        try:
            best, taken, low = made(tried), tried, share
        except LimbwrightError as error:
            reason, high = error, share
    limited = {
        **said(reason),
        "unit": "mm",
        "low": None,
        "high": None,
        "asked": asked,
        "taken": getattr(taken, name),
    }
    return DraggedBone(plan=best, change=taken, limited=limited)


def _value_before(work: BoneWork, change: Sliding) -> tuple[str, float]:
    if isinstance(change, MovedPin):
        if change.index >= len(work.plan.pins):
            raise Missing(
                f"there is no pin {change.index + 1} among {len(work.plan.pins)}.",
                where=f"pins, {work.plan.bone}",
                next_step="Choose one that is planned.",
            )
        return "below_joint_mm", work.plan.pins[change.index].below_joint_mm
    if isinstance(change, MovedBlockingScrew):
        screws = work.plan.blocking_screws
        if change.index >= len(screws):
            raise Missing(
                f"there is no blocking screw {change.index + 1} among {len(screws)}.",
                where=f"blocking screws, {work.plan.bone}",
                next_step="Choose one that is planned, or add one.",
            )
        return "from_osteotomy_mm", screws[change.index].from_osteotomy_mm
    path = work.plan.path.proximal if change.fragment is Fragment.PROXIMAL else work.plan.path.distal
    place = path.upper if change.end == "upper" else path.lower
    across = place.lateral_mm if change.projection == "frontal" else place.anterior_mm
    return "across_mm", across


def _on_stretch(work: BoneWork, change: MovedOsteotomy) -> tuple[MovedOsteotomy, dict[str, Any] | None]:
    """The level held on the nearest stretch that may be cut."""
    asked = change.below_joint_mm
    if any(s.holds(asked) for s in work.stretches):
        return change, None
    ends = [end for s in work.stretches for end in (s.from_mm, s.to_mm)]
    if not ends:
        raise Missing(
            f"no stretch of the {change.bone} may be cut.",
            where=f"osteotomy, {change.bone}",
            next_step="Look at the hardware in the bone and at the osteotomy margins in the profile.",
        )
    taken = min(ends, key=lambda end: abs(end - asked))
    near = next(s for s in work.stretches if taken in (s.from_mm, s.to_mm))
    limited = {
        "found": f"{asked:.1f} mm below the joint lies outside {near.from_mm:.1f} to {near.to_mm:.1f} mm, "
        "where the practice allows a cut.",
        "where": f"osteotomy, {change.bone}",
        "unit": "mm",
        "next": "Stay within it, or change the osteotomy's margins in the practice profile.",
        "low": near.from_mm,
        "high": near.to_mm,
        "asked": asked,
        "taken": taken,
    }
    return change.model_copy(update={"below_joint_mm": taken}), limited


def _within_stroke(
    work: BoneWork, change: ChangedLengthening
) -> tuple[ChangedLengthening, dict[str, Any] | None]:
    asked, nail = change.lengthening_mm, work.plan.nail
    if 0 <= asked <= nail.stroke_mm:
        return change, None
    taken = min(max(asked, 0.0), nail.stroke_mm)
    limited = {
        "found": f"{asked:.1f} mm is beyond what {nail.name} can give: 0 to {nail.stroke_mm:g} mm.",
        "where": f"lengthening, {change.bone}",
        "unit": "mm",
        "next": "Choose a nail with a longer stroke, or lengthen in stages.",
        "low": 0.0,
        "high": nail.stroke_mm,
        "asked": asked,
        "taken": taken,
    }
    return change.model_copy(update={"lengthening_mm": taken}), limited


def _require_in_stretch(work: BoneWork, plan: BonePlan) -> None:
    if not any(s.holds(plan.osteotomy.below_joint_mm) for s in work.stretches):
        raise OutOfRange(
            f"with this line the cut would lie {plan.osteotomy.below_joint_mm:.1f} mm below the joint, where "
            "it may not be.",
            where=f"nail path, {plan.bone}",
            next_step="Move the osteotomy first.",
        )


def _warm(proposal: PlannedBone) -> Correction:
    """The aims with the turns found before as the start; a plain turn without a measurement stays."""
    aims, route = proposal.correction, proposal.route
    if route is None or aims.apex_below_joint_mm is None:
        # Without an apex the turns also decide where the bone hinges; they are left as the planner had them.
        return aims
    frontal, sagittal = aims.frontal, aims.sagittal
    if frontal.measure is not None:
        frontal = replace(frontal, turn_deg=route.varus_deg)
    if sagittal.measure is not None:
        sagittal = replace(sagittal, turn_deg=route.procurvatum_deg)
    return replace(aims, frontal=frontal, sagittal=sagittal)


def _needed(leg: LegModel, bone: Bone, aims: Correction) -> LegModel:
    """The leg with what the line of one bone is found from: joint centres, its ends, what is aimed at, walls.

    Shaft points give a line only where the canal is not traced.
    """
    walls = tuple(w for w in leg.walls if w.bone is bone)
    inner = {w.border for w in walls if w.surface is Surface.INNER}
    planes = [p for p in Projection if p is Projection.FRONTAL or leg.has_sagittal]
    kept = {centre for pair in JOINT_CENTRES.values() for centre in pair} | ENDS[bone]
    if not all(set(BORDERS[p]) <= inner for p in planes):
        kept |= set(SHAFT_POINTS[bone])
    measures = {aims.frontal.measure, aims.sagittal.measure}
    kept |= {landmark for way in FORMULAS if way.measure in measures for landmark in way.landmarks}
    return replace(
        leg,
        frontal={k: v for k, v in leg.frontal.items() if k in kept},
        sagittal={k: v for k, v in leg.sagittal.items() if k in kept},
        walls=walls,
    )
