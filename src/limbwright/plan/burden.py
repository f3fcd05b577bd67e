"""Soft-tissue burden of a lengthening: a plain index, 1 = one bone at the limit of one stage.

burden of a bone = larger of (lengthening / stage limit) and (share of the bone / percent limit)
                   + weight for each joint beside it that is already stiff or unstable
burden of a stage = sum over its bones

It is a means to lay strategies side by side, not a measured quantity. A bone that is not lengthened has none.
"""

from dataclasses import dataclass
from enum import StrEnum

from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination, JointState
from limbwright.practice.profile import Profile
from limbwright.published import table
from limbwright.quantity import Value


class JointRisk(StrEnum):
    """A joint that lengthening can harm, and why it is at risk already."""

    HIP_UNSTABLE = "unstable hip"
    HIP_DYSPLASTIC = "hip with poor cover"
    KNEE_UNSTABLE = "unstable knee"
    KNEE_STIFF = "stiff knee"
    KNEE_CONTRACTED = "flexion contracture of the knee"
    ANKLE_UNSTABLE = "unstable ankle"
    EQUINUS = "equinus"


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneBurden(Value):
    """Burden of lengthening one bone in one stage."""

    bone: Bone
    """Femur or tibia."""
    of_stage_limit: float
    """Lengthening as a share of the most lengthened in one stage; 1 = at the limit."""
    of_percent_limit: float
    """Lengthening in percent of the bone as a share of the percent limit; 1 = at the limit."""
    joint_risks: tuple[JointRisk, ...]
    """Joints beside the bone that are at risk already."""
    index: float
    """Burden index of the bone."""


def strategy_figure(quantity: str) -> float:
    """A figure of the table `strategy`; a wrong name is a mistake of ours and raises KeyError."""
    return {row.text("quantity"): row for row in table("plan", "strategy")}[quantity].number("value")


def joint_risks(bone: Bone, examination: Examination, profile: Profile) -> tuple[JointRisk, ...]:
    """Joints beside a bone that are at risk already, as far as they were examined.

    A fused joint cannot be harmed and is no risk; what it means for the nail is a barrier (`plan.barrier`).
    """
    e = examination
    femur: tuple[tuple[JointRisk, bool], ...] = (
        (JointRisk.HIP_UNSTABLE, e.hip is JointState.UNSTABLE),
        (JointRisk.HIP_DYSPLASTIC, _below(e.hip_centre_edge_deg, profile.hip_centre_edge_angle_min_deg)),
        (JointRisk.KNEE_UNSTABLE, e.knee is JointState.UNSTABLE),
        (JointRisk.KNEE_STIFF, _below(e.knee_flexion_deg, profile.knee_flexion_wanted_deg)),
        (
            JointRisk.KNEE_CONTRACTED,
            _from(e.knee_extension_loss_deg, profile.knee_extension_loss_femur_deg),
        ),
    )
    tibia: tuple[tuple[JointRisk, bool], ...] = (
        (JointRisk.KNEE_UNSTABLE, e.knee is JointState.UNSTABLE),
        (
            JointRisk.KNEE_CONTRACTED,
            _from(e.knee_extension_loss_deg, profile.knee_flexion_contracture_tibia_deg),
        ),
        (JointRisk.ANKLE_UNSTABLE, e.ankle is JointState.UNSTABLE),
        (JointRisk.EQUINUS, _below(e.ankle_dorsiflexion_deg, -profile.equinus_limit_resting_deg)),
    )
    checks = femur if bone is Bone.FEMUR else tibia
    fused = {joint for joint in ("hip", "knee", "ankle") if getattr(e, joint) is JointState.FUSED}
    return tuple(risk for risk, present in checks if present and _joint(risk) not in fused)


def _below(value: float | None, limit: float) -> bool:
    return value is not None and value < limit


def _from(value: float | None, limit: float) -> bool:
    return value is not None and value >= limit


def _joint(risk: JointRisk) -> str:
    if risk in {JointRisk.HIP_UNSTABLE, JointRisk.HIP_DYSPLASTIC}:
        return "hip"
    return "ankle" if risk in {JointRisk.ANKLE_UNSTABLE, JointRisk.EQUINUS} else "knee"


def bone_burden(
    *,
    bone: Bone,
    lengthening_mm: float,
    bone_length_mm: float,
    stage_limit_mm: float,
    percent_limit: float,
    joint_risk_weight: float,
    joint_risks: tuple[JointRisk, ...] = (),
) -> BoneBurden:
    """Burden of lengthening one bone in one stage.

    Parameters
    ----------
    bone : Bone
        Femur or tibia.
    lengthening_mm, bone_length_mm : float
        Length to gain and present length of the bone. [mm]
    stage_limit_mm, percent_limit : float
        Most that is lengthened in one stage, in millimetres and in percent of the bone. [mm, %]
    joint_risk_weight : float
        Burden added for each joint at risk.
    joint_risks : tuple of JointRisk
        Joints beside the bone that are at risk already.

    Returns
    -------
    BoneBurden
        Index 0 for no lengthening; rises with lengthening, falls with the length of the bone.
    """
    of_stage = lengthening_mm / stage_limit_mm
    of_percent = 100 * lengthening_mm / bone_length_mm / percent_limit
    risks = joint_risks if lengthening_mm > 0 else ()
    return BoneBurden(
        bone=bone,
        of_stage_limit=of_stage,
        of_percent_limit=of_percent,
        joint_risks=risks,
        index=max(of_stage, of_percent) + joint_risk_weight * len(risks),
    )
