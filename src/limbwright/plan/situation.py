"""Where the deformity and the shortening of a leg are: the numbers a choice of bone rests on."""

from dataclasses import dataclass

from limbwright.error import OutOfRange
from limbwright.limb.anatomy import Bone
from limbwright.quantity import Value, require_within

NEXT_STEP = "Check the measurements of both legs."


@dataclass(frozen=True, slots=True, kw_only=True)
class Angulation(Value):
    """One apex of a bone, or a step between two parallel parts: how the part below deviates."""

    below_joint_mm: float | None = None
    """Level below the bone's proximal joint line (femur: head centre) along the bone; None = unknown [mm]."""
    frontal_deg: float = 0.0
    """Varus + [deg]."""
    sagittal_deg: float = 0.0
    """Procurvatum + [deg]."""
    lateral_mm: float = 0.0
    """Offset of the part below where it is parallel to the part above, lateral + [mm]."""
    anterior_mm: float = 0.0
    """The same, anterior + [mm]."""

    def __post_init__(self) -> None:
        for name, value in (("frontal", self.frontal_deg), ("sagittal", self.sagittal_deg)):
            require_within(f"{name} angulation", value, -90, 90, "deg", next_step=NEXT_STEP)
        for name, value in (("lateral", self.lateral_mm), ("anterior", self.anterior_mm)):
            require_within(f"{name} offset", value, -80, 80, "mm", next_step=NEXT_STEP)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneSituation(Value):
    """Shortening and deformity of one bone of the treated leg."""

    bone: Bone
    """Femur or tibia."""
    length_mm: float
    """Length of the bone, joint centre to joint centre [mm]."""
    short_mm: float
    """How much shorter than the other side, treated bone shorter + [mm]."""
    angulations: tuple[Angulation, ...] = ()
    """Apexes to correct; empty when the bone is straight."""
    rotation_deg: float | None = None
    """Rotation of the distal part against the other side, external +; None = not examined [deg]."""

    def __post_init__(self) -> None:
        if self.bone is Bone.FIBULA:
            raise OutOfRange(
                "bone is fibula, expected femur or tibia.",
                where="situation",
                next_step="The fibula follows the tibia; describe the tibia.",
            )
        require_within(f"{self.bone} length", self.length_mm, 60, 700, "mm", next_step=NEXT_STEP)
        require_within(f"{self.bone} shortening", self.short_mm, -300, 300, "mm", next_step=NEXT_STEP)

    @property
    def frontal_deg(self) -> float:
        """Sum of the frontal angulations, varus +. [deg]"""
        return sum(a.frontal_deg for a in self.angulations)

    @property
    def sagittal_deg(self) -> float:
        """Sum of the sagittal angulations, procurvatum +. [deg]"""
        return sum(a.sagittal_deg for a in self.angulations)

    @property
    def offset_mm(self) -> tuple[float, float]:
        """Sum of the offsets between parallel parts, lateral + and anterior +. [mm]"""
        return sum(a.lateral_mm for a in self.angulations), sum(a.anterior_mm for a in self.angulations)


@dataclass(frozen=True, slots=True, kw_only=True)
class LegSituation(Value):
    """Shortening and deformity of the treated leg. For a child: as now, or as at maturity."""

    femur: BoneSituation
    """Femur."""
    tibia: BoneSituation
    """Tibia."""
    foot_short_mm: float = 0.0
    """How much lower the foot is than the other side's, treated foot lower + [mm]."""

    def __post_init__(self) -> None:
        if self.femur.bone is not Bone.FEMUR or self.tibia.bone is not Bone.TIBIA:
            raise OutOfRange(
                f"femur is described by a {self.femur.bone}, tibia by a {self.tibia.bone}.",
                where="situation",
                next_step="Give the femur as femur and the tibia as tibia.",
            )
        require_within("foot height difference", self.foot_short_mm, -80, 80, "mm", next_step=NEXT_STEP)

    @property
    def short_mm(self) -> float:
        """Whole discrepancy, treated leg shorter +. [mm]"""
        return self.femur.short_mm + self.tibia.short_mm + self.foot_short_mm

    def of(self, bone: Bone) -> BoneSituation:
        """The femur's or the tibia's part."""
        return self.femur if bone is Bone.FEMUR else self.tibia
