"""What the surgeon knows of the patient beside the films: joints, bone, hardware, physes, earlier surgery."""

from dataclasses import dataclass
from enum import StrEnum

from limbwright.limb.anatomy import Bone
from limbwright.quantity import Directed, Value


class JointState(StrEnum):
    """State of a joint as far as it changes the choice of bone or nail."""

    STABLE = "stable"
    UNSTABLE = "unstable"
    FUSED = "fused"
    REPLACED = "replaced"


class Zone(StrEnum):
    """Fifth of a long bone, from proximal to distal."""

    PROXIMAL_METAPHYSIS = "proximal metaphysis"
    PROXIMAL_SHAFT = "proximal shaft"
    MIDDLE_SHAFT = "middle shaft"
    DISTAL_SHAFT = "distal shaft"
    DISTAL_METAPHYSIS = "distal metaphysis"


class BoneQuality(StrEnum):
    """Bone quality of a zone, as judged by the surgeon."""

    GOOD = "good"
    SCLEROTIC = "sclerotic"
    OSTEOPENIC = "osteopenic"
    SCARRED = "scarred"
    INFECTED_BEFORE = "infected before"


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneQuality(Value):
    """Bone quality of one zone of one bone."""

    bone: Bone
    """Which bone."""
    zone: Zone
    """Which zone."""
    quality: BoneQuality
    """Judged quality; zones not listed count as good."""


class HardwareKind(StrEnum):
    """Hardware in or planned for the leg that limits nail, osteotomy and pins."""

    PLATE = "plate"
    FRAME = "frame"
    NAIL = "nail"
    JOINT_REPLACEMENT_STEM = "joint replacement stem"
    ANKLE_FUSION = "ankle fusion"
    TIBIOCALCANEAL_FUSION = "tibiocalcaneal fusion"
    HIP_RECONSTRUCTION = "hip reconstruction"


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingHardware(Value):
    """Hardware already there, or planned beside the lengthening."""

    kind: HardwareKind
    """What it is."""
    bone: Bone
    """Bone it occupies."""
    from_mm: float
    """Proximal end, distance below the bone's proximal joint line (femur: head centre) along the bone [mm]."""
    to_mm: float
    """Distal end, likewise [mm]."""
    in_canal: bool
    """True when it fills the canal there (stem, nail, fusion nail)."""
    planned: bool = False
    """True when it is not there yet but planned beside this operation."""
    note: str = ""
    """Free text."""


class Physis(StrEnum):
    """Growth plate a nail may cross or growth may come from."""

    PROXIMAL_FEMUR = "proximal femur"
    DISTAL_FEMUR = "distal femur"
    PROXIMAL_TIBIA = "proximal tibia"
    DISTAL_TIBIA = "distal tibia"


@dataclass(frozen=True, slots=True, kw_only=True)
class Examination(Value):
    """Clinical values; absent means not examined, and what needs it says so."""

    femur_rotation: Directed | None = None
    """Rotation of the distal femur against the other side: external or internal [deg]."""
    tibia_rotation: Directed | None = None
    """Rotation of the distal tibia against the other side: external or internal [deg]."""
    knee_flexion_deg: float | None = None
    """Largest knee flexion [deg]."""
    knee_extension_loss_deg: float | None = None
    """Flexion contracture of the knee, 0 = straight [deg]."""
    ankle_dorsiflexion_deg: float | None = None
    """Ankle dorsiflexion with the knee straight; negative = equinus [deg]."""
    ankle_dorsiflexion_knee_bent_deg: float | None = None
    """Ankle dorsiflexion with the knee bent; negative = equinus [deg]."""
    block_test_mm: float | None = None
    """Blocks under the treated side that level the pelvis; negative when they go under the other side [mm]."""
    foot_height_difference_mm: float | None = None
    """Foot height of the other side minus that of the treated side [mm]."""
    hip: JointState = JointState.STABLE
    """Hip of the treated side."""
    knee: JointState = JointState.STABLE
    """Knee of the treated side."""
    ankle: JointState = JointState.STABLE
    """Ankle of the treated side."""
    previous_infection: tuple[Bone, ...] = ()
    """Bones with an earlier infection."""
    previous_surgery: str = ""
    """Earlier surgery, free text."""
    bone_quality: tuple[ZoneQuality, ...] = ()
    """Bone quality by zone; zones not listed count as good."""
    hardware: tuple[StandingHardware, ...] = ()
    """Hardware that limits the plan."""
    open_physes: tuple[Physis, ...] = ()
    """Growth plates seen open on the films."""
