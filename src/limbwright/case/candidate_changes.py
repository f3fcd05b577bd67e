"""What turns a case into one of its candidates: a goal for the planner, and what a goal has no place for."""

from dataclasses import dataclass, replace

from limbwright.case.candidates import CaseCandidate, planner_task
from limbwright.case.case import Case
from limbwright.case.planned import PlannedCase
from limbwright.implant.catalogue import Catalogue
from limbwright.limb.anatomy import Bone, Fragment, Projection
from limbwright.plan.bone_task import BoneTask
from limbwright.plan.canal import ACROSS
from limbwright.plan.decision import BlockingScrew, BonePlan
from limbwright.plan.goal import BoneChoice, Goal
from limbwright.plan.motion import PROXIMAL
from limbwright.plan.path import distal_direction, vector
from limbwright.plan.planner import plan_bone
from limbwright.plan.search.candidate import BoneCandidate
from limbwright.practice.profile import Profile
from limbwright.quantity import Value

LEAST_MOVE_MM = 0.005


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedEnd(Value):
    """One end of the nail's line in one fragment lies elsewhere in one plane than the planner puts it."""

    bone: Bone
    """Bone."""
    fragment: Fragment
    """Fragment."""
    upper: bool
    """Whether it is the proximal end of the line."""
    projection: Projection
    """Plane."""
    across_mm: float
    """Where it lies, lateral or anterior + in the leg frame [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneChange(Value):
    """What turns the planner's plan of one bone, at a candidate's level, nail and length, into it."""

    bone: Bone
    """Bone."""
    ends: tuple[MovedEnd, ...]
    """Ends of the nail's lines that lie elsewhere."""
    screws_away: int
    """Blocking screws of the planner that are taken away; all of them or none."""
    screws: tuple[BlockingScrew, ...]
    """Blocking screws that are put in."""


def candidate_goal(case: Case, planned: PlannedCase, candidate: CaseCandidate) -> Goal:
    """The case's goal with direction, level, nail and length of a candidate fixed, so that the planner keeps
    to them.
    """
    goal = case.goal or Goal()
    kept = {c.bone: c for c in goal.bones}
    searched = {b.bone: (b.plan, b.level_mm) for b in candidate.leg.bones}
    bones = () if planned.plan is None else planned.plan.bones
    fixed = []
    for plan in bones:
        own, level_mm = searched.get(plan.bone, (plan, plan.osteotomy.below_joint_mm))
        choice = replace(
            kept.get(plan.bone, BoneChoice(bone=plan.bone)),
            direction=own.direction,
            lengthening_mm=own.lengthening_mm,
        )
        if plan.bone in searched:
            choice = replace(choice, osteotomy_below_joint_mm=level_mm, nail=own.nail.name)
            choice = _twice(choice, own)
        fixed.append(choice)
    staging = goal.staging if planned.plan is None else planned.plan.staging
    return replace(goal, bones=tuple(fixed), staging=staging)


def _twice(choice: BoneChoice, plan: BonePlan) -> BoneChoice:
    """The same with the second osteotomy of a plan fixed."""
    if plan.second is None:
        return choice
    return replace(
        choice, osteotomies=2, second_osteotomy_below_joint_mm=plan.second.osteotomy.below_joint_mm
    )


def candidate_changes(
    case: Case, planned: PlannedCase, candidate: CaseCandidate, profile: Profile, catalogue: Catalogue
) -> tuple[BoneChange, ...]:
    """What the goal has no place for: where the lines lie, and the blocking screws.

    Parameters
    ----------
    case, planned, profile, catalogue
        As for `case_candidates`.
    """
    return tuple(
        _change(planner_task(case, planned, b.plan, profile, catalogue), b) for b in candidate.leg.bones
    )


def _change(task: BoneTask, bone: BoneCandidate) -> BoneChange:
    choice = replace(
        task.choice or BoneChoice(bone=bone.bone),
        osteotomy_below_joint_mm=bone.level_mm,
        nail=bone.plan.nail.name,
    )
    base = plan_bone(replace(task, choice=_twice(choice, bone.plan))).plan
    if base is None:  # the candidate was worked out by the same functions, so this does not happen
        return BoneChange(bone=bone.bone, ends=(), screws_away=0, screws=bone.plan.blocking_screws)
    ends = []
    lines = ((base.path.proximal, bone.plan.path.proximal), (base.path.distal, bone.plan.path.distal))
    for old, new in lines:
        point, along = vector(new.upper), distal_direction(new)
        for upper, end in ((True, vector(old.upper)), (False, vector(old.lower))):
            there = point + along * (end[PROXIMAL] - point[PROXIMAL]) / along[PROXIMAL]
            ends += [
                MovedEnd(
                    bone=bone.bone,
                    fragment=old.fragment,
                    upper=upper,
                    projection=projection,
                    across_mm=float(there[across]),
                )
                for projection, across in ACROSS.items()
                if abs(there[across] - end[across]) > LEAST_MOVE_MM
                and (projection is Projection.FRONTAL or task.leg.has_sagittal)
            ]
    same = _places(base.blocking_screws) == _places(bone.plan.blocking_screws)
    return BoneChange(
        bone=bone.bone,
        ends=tuple(ends),
        screws_away=0 if same else len(base.blocking_screws),
        screws=() if same else bone.plan.blocking_screws,
    )


def _places(screws: tuple[BlockingScrew, ...]) -> list[tuple[str, str, float]]:
    return [(s.fragment.value, s.side.value, round(s.from_osteotomy_mm, 3)) for s in screws]
