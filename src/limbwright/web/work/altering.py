"""The surgeon's own lines and screws laid over what the planner proposes, and all that follows anew."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from limbwright.case.case import Case
from limbwright.case.planned import PlannedCase, carried_out
from limbwright.error import LimbwrightError, Missing, OutOfRange, Refused
from limbwright.finding import ordered
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone, Fragment
from limbwright.limb.view import Border
from limbwright.plan.blocking import screw_depth_mm
from limbwright.plan.canal import ACROSS
from limbwright.plan.complete import CompletedBone
from limbwright.plan.decision import BlockingScrew, BonePlan, ScrewDirection
from limbwright.plan.goal import Goal
from limbwright.plan.moved_pin import pin_at, with_pin
from limbwright.plan.osteotomy import bone_line
from limbwright.plan.path import bent_entry, depth_of_point, driving_fragment, place_of, vector
from limbwright.plan.pin_room import pin_levels
from limbwright.plan.planner_rules import blocking_rules, nail_in_bone
from limbwright.plan.reduction import lengthening_of, reduction_of
from limbwright.plan.steps import checklist, operation_steps
from limbwright.practice.profile import Profile
from limbwright.web.work.change import (
    AddedBlockingScrew,
    Alteration,
    MovedBlockingScrew,
    MovedPath,
    MovedPin,
    RemovedBlockingScrew,
)

LineOrScrew = MovedPath | MovedBlockingScrew | AddedBlockingScrew | RemovedBlockingScrew
FRONTAL_BORDERS = frozenset({Border.MEDIAL, Border.LATERAL})
NEAREST_TO_CUT_MM = 1.0
FARTHEST_FROM_CUT_MM = 150.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Altered:
    """A planned case with alterations, and which of them could not be made."""

    planned: PlannedCase
    taken: tuple[Alteration, ...] = ()
    refused: tuple[tuple[Alteration, LimbwrightError], ...] = ()


def altered(
    case: Case, planned: PlannedCase, alterations: tuple[Alteration, ...], profile: Profile
) -> Altered:
    """Lay alterations over a planned case; what cannot be made is left out and named."""
    if planned.plan is None or not alterations:
        none = Missing("there is no plan to alter.", where="alterations", next_step="Resolve what stops it.")
        return Altered(planned=planned, refused=tuple((a, none) for a in alterations))
    bones = {bone.bone: bone for bone in planned.plan.bones}
    taken: list[Alteration] = []
    refused: list[tuple[Alteration, LimbwrightError]] = []
    found = planned
    # Pins are placed beside the finished line, so they come last.
    ordered_by_kind = sorted(alterations, key=lambda a: isinstance(a, MovedPin))
    for alteration in ordered_by_kind:
        try:
            if alteration.bone not in bones:
                raise Missing(
                    f"the {alteration.bone} is not part of the plan.",
                    where="alterations",
                    next_step="Choose a bone that is treated.",
                )
            if isinstance(alteration, MovedPin):
                if found is planned and taken:
                    found = _carried_out(case, planned, bones, profile)
                found = _with_pin(case, found, alteration, profile)
            else:
                bones[alteration.bone] = altered_bone(bones[alteration.bone], alteration, profile)
            taken.append(alteration)
        except LimbwrightError as error:
            refused.append((alteration, error))
    if found is planned and taken:
        found = _carried_out(case, planned, bones, profile)
    return Altered(planned=found, taken=tuple(taken), refused=tuple(refused))


def altered_bone(plan: BonePlan, alteration: LineOrScrew, profile: Profile) -> BonePlan:
    """One alteration of one bone.

    Raises
    ------
    OutOfRange, Missing
        When it cannot be: no such screw, no room beside the osteotomy, a line without direction.
    """
    match alteration:
        case MovedPath():
            require_one_cut(plan)
            return _with_path(plan, alteration)
        case MovedBlockingScrew():
            screws = list(plan.blocking_screws)
            screw = _screw_at(plan, alteration.index)
            screws[alteration.index] = placed_screw(
                plan,
                fragment=screw.fragment,
                side=screw.side,
                from_osteotomy_mm=alteration.from_osteotomy_mm,
                profile=profile,
            )
            return replace(plan, blocking_screws=tuple(screws))
        case AddedBlockingScrew():
            if len(plan.blocking_screws) >= MOST_SCREWS:
                raise OutOfRange(
                    f"{len(plan.blocking_screws)} blocking screws already, expected at most {MOST_SCREWS}.",
                    where=f"blocking screws, {plan.bone}",
                    next_step="Take one away first.",
                )
            new = placed_screw(
                plan,
                fragment=alteration.fragment,
                side=alteration.side,
                from_osteotomy_mm=alteration.from_osteotomy_mm,
                profile=profile,
            )
            return replace(plan, blocking_screws=(*plan.blocking_screws, new))
        case RemovedBlockingScrew():
            gone = _screw_at(plan, alteration.index)
            kept = tuple(s for s in plan.blocking_screws if s is not gone)
            return replace(plan, blocking_screws=kept)


def require_one_cut(plan: BonePlan) -> None:
    """Refuse to pull at the lines of a bone that is cut twice: they follow from both levels together."""
    if plan.second is not None:
        raise Refused(
            f"the {plan.bone} is cut twice; its levels and lines follow from each other and are not pulled "
            "one by one.",
            where=f"change, {plan.bone}",
            next_step="Set the level of either osteotomy in the goal and plan again.",
        )


MOST_SCREWS = 12


def _screw_at(plan: BonePlan, index: int) -> BlockingScrew:
    if index >= len(plan.blocking_screws):
        raise Missing(
            f"there is no blocking screw {index + 1} among {len(plan.blocking_screws)}.",
            where=f"blocking screws, {plan.bone}",
            next_step="Choose one that is planned, or add one.",
        )
    return plan.blocking_screws[index]


def placed_screw(
    plan: BonePlan, *, fragment: Fragment, side: Border, from_osteotomy_mm: float, profile: Profile
) -> BlockingScrew:
    """A blocking screw beside the nail at a distance from the osteotomy, by the practice's numbers."""
    rules = blocking_rules(profile)
    nail = nail_in_bone(
        plan.nail, osteotomy_depth_mm=plan.osteotomy.depth_mm, lengthening_mm=plan.lengthening_mm
    )
    if not NEAREST_TO_CUT_MM <= from_osteotomy_mm <= FARTHEST_FROM_CUT_MM:
        raise OutOfRange(
            f"a blocking screw {from_osteotomy_mm:.1f} mm from the osteotomy, expected "
            f"{NEAREST_TO_CUT_MM:g} to {FARTHEST_FROM_CUT_MM:g} mm.",
            where=f"blocking screw, {plan.bone}, {fragment} fragment",
            next_step=f"Usual are {rules.min_to_osteotomy_mm:g} to {rules.max_to_osteotomy_mm:g} mm.",
        )
    depth = nail.osteotomy_depth_mm + nail.sign(fragment) * from_osteotomy_mm
    if not 0 < depth < nail.length_mm:
        raise OutOfRange(
            f"depth {depth:.1f} mm lies beyond the nail, which is {nail.length_mm:g} mm long.",
            where=f"blocking screw, {plan.bone}, {fragment} fragment",
            next_step="Place it beside the nail.",
        )
    spread = rules.from_lock_mm(nail.hole_diameter_mm)
    near = min((abs(depth - hole) for hole in nail.hole_depths_mm), default=spread)
    if near < spread - 1e-9:
        free = screw_depth_mm(nail, fragment, rules)
        offer = "" if free is None else f" Free is {abs(free - nail.osteotomy_depth_mm):.0f} mm."
        raise OutOfRange(
            f"a blocking screw {from_osteotomy_mm:.1f} mm from the osteotomy lies {near:.1f} mm from a "
            f"locking screw, expected {spread:.1f} mm or more.",
            where=f"blocking screw, {plan.bone}, {fragment} fragment",
            next_step=f"Move it along the bone.{offer}",
        )
    return BlockingScrew(
        fragment=fragment,
        side=side,
        direction=ScrewDirection.ANTEROPOSTERIOR if side in FRONTAL_BORDERS else ScrewDirection.MEDIOLATERAL,
        depth_mm=depth,
        from_osteotomy_mm=from_osteotomy_mm,
        offset_mm=nail.radius_mm(depth) + rules.diameter_mm / 2 + rules.clearance_mm,
        diameter_mm=rules.diameter_mm,
        drill_mm=rules.drill_mm,
    )


def _with_path(plan: BonePlan, moved: MovedPath) -> BonePlan:
    """One end of a line moved across in one plane; entry, depth and screws follow the driving line."""
    path = plan.path.proximal if moved.fragment is Fragment.PROXIMAL else plan.path.distal
    end = vector(path.upper if moved.end == "upper" else path.lower)
    end[ACROSS[moved.projection]] = moved.across_mm
    new = replace(path, upper=place_of(end)) if moved.end == "upper" else replace(path, lower=place_of(end))
    upper = moved.fragment is Fragment.PROXIMAL
    whole = replace(plan.path, proximal=new) if upper else replace(plan.path, distal=new)
    if moved.fragment is not driving_fragment(plan.direction):
        return replace(plan, path=whole)
    antegrade = plan.direction is Direction.ANTEGRADE
    start = vector(new.upper if antegrade else new.lower)
    stop = vector(new.lower if antegrade else new.upper)
    span = float(np.linalg.norm(stop - start))
    if span < 1.0:
        raise OutOfRange(
            f"the line's two points lie {span:.2f} mm apart, expected 1 or more.",
            where=f"nail path, {plan.bone}",
            next_step="Keep the two ends of the line apart.",
        )
    entry = bent_entry(plan.nail, start, (stop - start) / span)
    whole = replace(whole, entry=place_of(entry))
    # The saw stays where it was in the bone; only its depth along the new line changes.
    cut_mm = reduction_of(plan).cut.point_mm
    depth = depth_of_point(whole, plan.direction, cut_mm)
    shift = depth - plan.osteotomy.depth_mm
    screws = tuple(replace(s, depth_mm=s.depth_mm + shift) for s in plan.blocking_screws)
    return replace(
        plan, path=whole, osteotomy=replace(plan.osteotomy, depth_mm=depth), blocking_screws=screws
    )


def relevelled(planned: PlannedCase, plan: BonePlan) -> BonePlan:
    """The osteotomy's distances from both joints after its line has moved.

    They are counted where the planner counted them, so that an alteration which leaves the saw where it was
    leaves them too: only the movement along the bone is added.
    """
    before = plan
    if planned.plan is not None:
        before = next((b for b in planned.plan.bones if b.bone is plan.bone), plan)
    line = bone_line(planned.leg, plan.bone)
    moved = line.below_joint_mm(lengthening_of(plan).cut.point_mm) - line.below_joint_mm(
        lengthening_of(before).cut.point_mm
    )
    old = before.osteotomy
    level = old.below_joint_mm + moved
    cut = replace(
        plan.osteotomy,
        below_joint_mm=level,
        above_distal_joint_mm=line.length_mm - level,
        off_apex_mm=None if old.off_apex_mm is None else old.off_apex_mm + moved,
    )
    return replace(plan, osteotomy=cut)


def _carried_out(
    case: Case, planned: PlannedCase, plans: Mapping[Bone, BonePlan], profile: Profile
) -> PlannedCase:
    """The altered bones completed, the leg looked ahead again."""
    proposals = tuple(
        replace(proposal, plan=relevelled(planned, plans[proposal.bone])) for proposal in planned.proposals
    )
    return carried_out(case, planned, proposals, goal=case.goal or Goal(), profile=profile)


def _with_pin(case: Case, planned: PlannedCase, moved: MovedPin, profile: Profile) -> PlannedCase:
    """One pin at another level; steps and findings follow."""
    if planned.plan is None:
        raise Missing("there is no plan to alter.", where="alterations", next_step="Resolve what stops it.")
    done = tuple(
        _pinned(case, planned, bone, moved, profile) if bone.plan.bone is moved.bone else bone
        for bone in planned.completed
    )
    old = {(f.id, f.words) for bone in planned.completed for f in bone.findings}
    kept = [f for f in planned.findings if (f.id, f.words) not in old]
    new = [f for bone in done for f in bone.findings]
    findings = ordered(tuple({(f.id, f.words): f for f in (*kept, *new)}.values()))
    bones = tuple(bone.plan for bone in done)
    steps = operation_steps(
        bones,
        staging=planned.plan.staging,
        trochanter_below_head_mm=next(
            (b.trochanter_below_head_mm for b in done if b.trochanter_below_head_mm is not None), None
        ),
        fibular_courses=next(
            ((b.fibula.proximal_course, b.fibula.distal_course) for b in done if b.fibula.fixation), ("", "")
        ),
    )
    plan = replace(planned.plan, bones=bones, steps=checklist(steps), findings=findings)
    return replace(planned, completed=done, plan=plan, steps=steps, findings=findings)


def _pinned(
    case: Case, planned: PlannedCase, whole: CompletedBone, moved: MovedPin, profile: Profile
) -> CompletedBone:
    levels = pin_levels(planned.leg, whole.plan, case.examination, profile)
    pin = pin_at(planned.leg, whole.plan, moved.index, moved.below_joint_mm, levels=levels, profile=profile)
    return with_pin(whole, moved.index, pin, levels, profile)
