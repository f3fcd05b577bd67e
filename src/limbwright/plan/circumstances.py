"""What the surgeon knows of the patient beside the films: joints, bone, hardware, physes, earlier surgery."""

from collections import Counter
from dataclasses import dataclass
from enum import StrEnum

from limbwright.error import Contradiction, OutOfRange
from limbwright.growth.discrepancy import DiscrepancyKind
from limbwright.growth.growth import Physis
from limbwright.limb.anatomy import Bone
from limbwright.quantity import EXTERNAL_INTERNAL, Directed, Sense, Value, require_within


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
    """Proximal end, below the bone's proximal joint line (femur: head centre) along the bone [mm]."""
    to_mm: float
    """Distal end, likewise [mm]."""
    in_canal: bool
    """True when it fills the canal there (stem, nail, fusion nail)."""
    planned: bool = False
    """True when it is not there yet but planned beside this operation."""
    note: str = ""
    """Free text."""

    def __post_init__(self) -> None:
        for name, value in (("from_mm", self.from_mm), ("to_mm", self.to_mm)):
            step = "Give millimetres below the bone's proximal joint line."
            require_within(name, value, -100, 700, "mm", next_step=step)
        if self.to_mm <= self.from_mm:
            raise Contradiction(
                f"{self.kind} from {self.from_mm:g} to {self.to_mm:g} mm ends above where it begins.",
                where="to_mm",
                next_step="Give the proximal end first; both are distances below the proximal joint line.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierLengths(Value):
    """Lengths of both legs on earlier films, from which growth lagging behind is told."""

    treated_mm: float
    """Length of the treated leg then [mm]."""
    other_mm: float
    """Length of the other leg then [mm]."""
    years_before: float
    """Years between those films and the present ones."""

    def __post_init__(self) -> None:
        for name, value in (("treated_mm", self.treated_mm), ("other_mm", self.other_mm)):
            require_within(name, value, 20, 1500, "mm", next_step="Give the leg's length in millimetres.")
        require_within(
            "years_before",
            self.years_before,
            0.5,
            18,
            "years",
            next_step="Use films half a year apart or more.",
        )


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
    """Blocks under the treated side that level the pelvis; negative = under the other side [mm]."""
    foot_height_difference_mm: float | None = None
    """Foot height of the other side minus that of the treated side [mm]."""
    hip_centre_edge_deg: float | None = None
    """Centre-edge angle of the hip: how far the acetabulum covers the femoral head [deg]."""
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
    discrepancy_kind: DiscrepancyKind | None = None
    """How the discrepancy behaves while the legs grow; needed only before the end of growth."""
    earlier_lengths: EarlierLengths | None = None
    """Lengths of both legs on earlier films; needed for a developmental discrepancy."""
    closed_physes: tuple[Physis, ...] = ()
    """Growth plates seen closed on the films; one in neither list was not read."""

    def __post_init__(self) -> None:
        for name, value, low, high, unit in (
            ("knee_flexion_deg", self.knee_flexion_deg, 0, 170, "deg"),
            ("knee_extension_loss_deg", self.knee_extension_loss_deg, -20, 120, "deg"),
            ("ankle_dorsiflexion_deg", self.ankle_dorsiflexion_deg, -80, 60, "deg"),
            ("ankle_dorsiflexion_knee_bent_deg", self.ankle_dorsiflexion_knee_bent_deg, -80, 60, "deg"),
            ("block_test_mm", self.block_test_mm, -300, 300, "mm"),
            ("foot_height_difference_mm", self.foot_height_difference_mm, -100, 100, "mm"),
            ("hip_centre_edge_deg", self.hip_centre_edge_deg, -60, 80, "deg"),
        ):
            if value is not None:
                words = {"deg": "degrees", "mm": "millimetres"}[unit]
                require_within(
                    name, value, low, high, unit, next_step=f"Give it in {words}, or leave it out."
                )
        for name, rotation in (
            ("femur_rotation", self.femur_rotation),
            ("tibia_rotation", self.tibia_rotation),
        ):
            if rotation is not None:
                _require_rotation(name, rotation)
        both = [physis for physis in self.open_physes if physis in self.closed_physes]
        if both:
            raise Contradiction(
                f"the {' and the '.join(both)} growth plate is seen open and closed.",
                where="closed_physes",
                next_step="Keep each growth plate in one of the two lists.",
            )
        zones = Counter((entry.bone, entry.zone) for entry in self.bone_quality)
        for (bone, zone), count in zones.items():
            if count > 1:
                raise Contradiction(
                    f"the {zone} of the {bone} is judged {count} times.",
                    where="bone_quality",
                    next_step="Keep one entry for each zone of each bone.",
                )


def _require_rotation(name: str, rotation: Directed) -> None:
    step = "Give the magnitude in degrees and its direction as external or internal."
    require_within(f"{name}.magnitude", rotation.magnitude, 0, 120, "deg", next_step=step)
    if rotation.unit != "deg":
        raise OutOfRange(f"a rotation in {rotation.unit!r}.", where=f"{name}.unit", next_step=step)
    if rotation.direction not in EXTERNAL_INTERNAL and (
        rotation.direction is not Sense.NONE or rotation.magnitude >= 0.05  # more than rounds to nothing
    ):
        raise OutOfRange(
            f"a rotation of {rotation.magnitude:g} deg {rotation.direction}.",
            where=f"{name}.direction",
            next_step=step,
        )
