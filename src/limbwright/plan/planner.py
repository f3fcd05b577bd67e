"""A first plan for one bone, put together in a fixed order: aim, level, path, nail, blocking screws.

It is deterministic and tries levels one by one, best first; a search over all plans uses the same functions.
"""

from dataclasses import replace

from limbwright.finding import Finding, ordered
from limbwright.implant.nail import Direction
from limbwright.plan.bone_task import BoneTask, LevelTried, PlannedBone
from limbwright.plan.correction import Correction
from limbwright.plan.hardware_limits import HardwareLimits, hardware_limits
from limbwright.plan.level_pair import LevelsWanted, levels_wanted
from limbwright.plan.nail_fit import offered
from limbwright.plan.osteotomy import LevelScore, bone_line, level_score, scored_levels
from limbwright.plan.planner_finding import (
    chosen_level_outside,
    chosen_nail_unfit,
    entry_blocked,
    no_level_left,
    no_nail_fits,
    turn_disagrees,
)
from limbwright.plan.planner_of_two import plan_twice
from limbwright.plan.proposal import far_room_mm, level_tried, proposal
from limbwright.plan.route import Route
from limbwright.plan.two_level_finding import apexes_left
from limbwright.practice.profile import Profile

__all__ = ["BoneTask", "LevelTried", "PlannedBone", "far_room_mm", "plan_bone", "proposal"]

LEVEL_STEP_MM = 5.0  # the search refines to 1 mm; a first plan does not need it


def plan_bone(task: BoneTask) -> PlannedBone:
    """Propose osteotomy (or two of them), path, nail and blocking screws for one bone.

    Two are proposed where one would leave an apex beyond tolerance, or where the surgeon asks for them. Where
    two are not asked for and cannot be planned, one is, with what it leaves.

    Raises
    ------
    Missing
        If the joint centres of the bone are not marked, or a fragment offers nothing to draw a line through.
    Refused
        If no turn of the distal fragment reaches the wanted angles.
    """
    profile, bone = task.profile, task.bone
    length_mm = bone_line(task.leg, bone).length_mm
    correction = task.correction()
    limits = hardware_limits(
        bone=bone, length_mm=length_mm, hardware=task.examination.hardware, profile=profile
    )
    scores = _levels(task, correction, limits, length_mm)
    wanted = levels_wanted(
        task.situation,
        task.choice,
        profile,
        has_sagittal=task.leg.has_sagittal,
        correct_alignment=task.correct_alignment,
    )
    shown = PlannedBone(
        bone=bone, plan=None, correction=correction, levels=scores, reasons=(correction.reason, wanted.reason)
    )
    findings = list(limits.findings)
    if limits.reach(task.direction) is None:
        return _weighed(shown, [*findings, entry_blocked(bone, task.direction)])
    if wanted.twice:
        two = plan_twice(task, wanted, limits)
        if two.plan is not None or wanted.asked:
            return _weighed(two, [*findings, *two.findings])
        findings += two.findings
    findings += _left(task, wanted)
    to_try = scores
    fixed_mm = task.choice.osteotomy_below_joint_mm if task.choice is not None else None
    if fixed_mm is not None:
        to_try = (_chosen_level(task, fixed_mm, correction, length_mm),)
        if not any(abs(s.below_joint_mm - fixed_mm) <= LEVEL_STEP_MM for s in scores):
            findings.append(chosen_level_outside(bone, fixed_mm, profile))
    if not to_try:
        return _weighed(shown, [*findings, no_level_left(bone, length_mm, profile)])
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
        return _weighed(shown, [*findings, no_nail_fits(bone, tried.verdicts, profile)])
    return proposal(task, shown, tried, offers, findings)


def _left(task: BoneTask, wanted: LevelsWanted) -> list[Finding]:
    """What one osteotomy leaves of several apexes."""
    left = wanted.left or wanted.apexes
    if len(left) < 2:
        return []
    return [apexes_left(task.bone, left, task.profile, has_sagittal=task.leg.has_sagittal, cuts=1)]


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


def _weighed(shown: PlannedBone, findings: list[Finding]) -> PlannedBone:
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
