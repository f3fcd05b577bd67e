"""A proposed bone made whole: fibula, pins, approach, soft tissue, weight, distances for the theatre."""

from dataclasses import dataclass, replace

from limbwright.finding import Finding, Severity, ordered
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone, Fragment, Projection
from limbwright.limb.landmark import Landmark
from limbwright.plan.approach import ApproachOption, approach_options
from limbwright.plan.circumstances import Examination
from limbwright.plan.decision import BonePlan
from limbwright.plan.fibula import FibularPlan, fibular_plan
from limbwright.plan.fibula_finding import TibialLevels
from limbwright.plan.goal import BoneChoice
from limbwright.plan.leg import LegModel
from limbwright.plan.nerve import nerve_stretch_deg
from limbwright.plan.osteotomy import BoneLine, bone_line
from limbwright.plan.pin_room import first_room, pin_levels
from limbwright.plan.pins import PinPlan, pin_plan
from limbwright.plan.reduction import reductions_of
from limbwright.plan.soft_tissue import CalfRelease, SoftTissue, soft_tissue
from limbwright.plan.stage import cut_faces
from limbwright.plan.theatre import TheatreMark, level_scale, theatre_marks
from limbwright.plan.weight_bearing import WeightBearing, weight_bearing
from limbwright.practice.profile import Profile
from limbwright.published import COMMON_PRACTICE
from limbwright.quantity import Value

_STEP_MM = 2.0  # along the bone, when a level with traced outer edges is looked for


@dataclass(frozen=True, slots=True, kw_only=True)
class CompletedBone(Value):
    """One bone with everything its operation needs."""

    plan: BonePlan
    """All decisions about the bone."""
    approach: ApproachOption
    """The way to the entry point and what it means."""
    fibula: FibularPlan
    """Fibular osteotomy and screws; empty for the femur."""
    pins: PinPlan | None
    """Pins and markers; None when nothing is corrected or the sagittal outline is not traced."""
    soft_tissue: SoftTissue
    """Equinus, calf release, knee and nerve."""
    weight: WeightBearing
    """Weight on the leg while the nail lengthens."""
    marks: tuple[TheatreMark, ...]
    """Distances found under fluoroscopy, from proximal to distal."""
    trochanter_below_head_mm: float | None
    """Tip of the greater trochanter below the head centre; femur only [mm]."""
    findings: tuple[Finding, ...]
    """What to weigh about all of these, worst first."""


def completed(
    leg: LegModel,
    plan: BonePlan,
    *,
    examination: Examination,
    choice: BoneChoice | None,
    profile: Profile,
) -> CompletedBone:
    """Add to a proposed bone what follows from its nail, path and osteotomy.

    Parameters
    ----------
    leg : LegModel
        The treated leg as it stands.
    plan : BonePlan
        Osteotomy, path, nail and blocking screws.
    examination : Examination
        Joints, hardware.
    choice : BoneChoice, optional
        What the surgeon has fixed.
    profile : Profile
        The surgeon's rules.
    """
    line = bone_line(leg, plan.bone)
    approach = _approach(plan, examination, profile)
    tip_mm = level_scale(plan).below_joint_mm(plan.nail.length_mm)
    levels = _tibial_levels(leg, plan, line, tip_mm)
    fibula = fibular_plan(plan.bone, levels, lengthening_mm=plan.lengthening_mm, profile=profile)
    faces = [cut_faces(leg, reduced) for reduced in reductions_of(plan)]
    corrects = max(max(abs(f.angulation_deg), abs(f.external_deg)) for f in faces) > 0.5
    pins: PinPlan | None = None
    pin_findings: tuple[Finding, ...] = ()
    if corrects:
        pins, pin_findings = _pins(leg, plan, examination=examination, profile=profile)
    valgus_out, flexion_out = nerve_stretch_deg(
        valgus_before_deg=max(0.0, sum(f.varus_deg for f in faces)),
        valgus_after_deg=0.0,
        flexion_before_deg=max(0.0, -sum(f.procurvatum_deg for f in faces)),
        flexion_after_deg=0.0,
    )
    tissue = soft_tissue(
        bone=plan.bone,
        lengthening_mm=plan.lengthening_mm,
        bone_length_mm=line.length_mm,
        valgus_taken_out_deg=valgus_out,
        flexion_taken_out_deg=flexion_out,
        calf_release_chosen=None if choice is None else choice.calf_release,
        examination=examination,
        profile=profile,
    )
    whole = replace(
        plan,
        fibula=fibula.fixation,
        pins=() if pins is None else pins.pins,
        calf_release=_calf_release(tissue),
    )
    trochanter = _trochanter_mm(leg, plan.bone)
    weight = weight_bearing(plan.nail, profile)
    malleolus = _tip_mm(leg, Landmark.LATERAL_MALLEOLUS_TIP, line)
    return CompletedBone(
        plan=whole,
        approach=approach,
        fibula=fibula,
        pins=pins,
        soft_tissue=tissue,
        weight=weight,
        marks=theatre_marks(
            whole,
            trochanter_below_head_mm=trochanter,
            malleolus_below_plafond_mm=0.0 if malleolus is None else malleolus - line.length_mm,
        ),
        trochanter_below_head_mm=trochanter,
        findings=ordered(
            (
                *approach.findings,
                *fibula.findings,
                *pin_findings,
                *tissue.findings,
                *weight.findings,
            )
        ),
    )


def _approach(plan: BonePlan, examination: Examination, profile: Profile) -> ApproachOption:
    options = approach_options(
        bone=plan.bone, direction=plan.direction, examination=examination, profile=profile
    )
    return next(option for option in options if option.approach is plan.approach)


def _calf_release(tissue: SoftTissue) -> bool | None:
    """Decision at the operation: yes, no, or left open for later."""
    if tissue.calf_release is None or tissue.calf_release is CalfRelease.STAGED:
        return None
    return tissue.calf_release is CalfRelease.AT_OPERATION


def _tibial_levels(leg: LegModel, plan: BonePlan, line: BoneLine, tip_mm: float) -> TibialLevels:
    malleolus = _tip_mm(leg, Landmark.LATERAL_MALLEOLUS_TIP, line)
    return TibialLevels(
        tibia_length_mm=line.length_mm,
        osteotomy_below_plateau_mm=plan.osteotomy.below_joint_mm,
        fibular_head_below_plateau_mm=_tip_mm(leg, Landmark.FIBULAR_HEAD_TIP, line),
        malleolus_below_plafond_mm=None if malleolus is None else malleolus - line.length_mm,
        nail_tip_above_plafond_mm=line.length_mm - tip_mm,
    )


def _tip_mm(leg: LegModel, landmark: Landmark, line: BoneLine) -> float | None:
    """Level of a fibular tip on the tibia's line; None when it is not marked."""
    if line.bone is not Bone.TIBIA or landmark not in leg.points(Projection.FRONTAL):
        return None
    return line.below_joint_mm(leg.place_mm(landmark))


def _trochanter_mm(leg: LegModel, bone: Bone) -> float | None:
    landmark = Landmark.GREATER_TROCHANTER_TIP
    if bone is not Bone.FEMUR or landmark not in leg.points(Projection.FRONTAL):
        return None
    return bone_line(leg, bone).below_joint_mm(leg.place_mm(landmark))


def _pins(
    leg: LegModel, plan: BonePlan, *, examination: Examination, profile: Profile
) -> tuple[PinPlan | None, tuple[Finding, ...]]:
    """Pins out of the nail's path, at the level nearest the joint where the outline is traced."""
    margin = profile.pin_clearance_to_joint_mm + profile.pin_diameter_mm / 2
    to_cut = profile.pin_clearance_to_osteotomy_mm + profile.pin_diameter_mm / 2
    levels = pin_levels(leg, plan, examination, profile)
    cuts = levels.osteotomies_mm
    proximal = first_room(leg, plan, Fragment.PROXIMAL, from_mm=margin, to_mm=cuts[0] - to_cut)
    distal = first_room(
        leg, plan, Fragment.DISTAL, from_mm=levels.bone_length_mm - margin, to_mm=cuts[-1] + to_cut
    )
    driving, far = (proximal, distal) if plan.direction is Direction.ANTEGRADE else (distal, proximal)
    if driving is None:
        return None, (_not_placed(plan.bone),)
    placed = pin_plan(
        bone=plan.bone,
        direction=plan.direction,
        levels=levels,
        driving_end=driving,
        far_end=far,
        reamed_diameter_mm=plan.reamer_mm,
        profile=profile,
    )
    return placed, placed.findings


def _not_placed(bone: Bone) -> Finding:
    return Finding(
        id="pins-not-placed",
        severity=Severity.CAUTION,
        words=f"No pin was placed in the {bone}: its outer edges are not traced on a sagittal film beside "
        "the nail, so the room behind the nail is not known.",
        next_step="Trace the anterior and posterior outer edge of both fragments on the sagittal film.",
        rule="A pin is proposed only where its clearance from the nail's path can be computed.",
        source=COMMON_PRACTICE,
    )
