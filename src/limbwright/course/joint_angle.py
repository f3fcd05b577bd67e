"""A joint-orientation angle of a lengthened bone as a follow-up film shows it."""

from dataclasses import dataclass

from limbwright.error import OutOfRange
from limbwright.limb.anatomy import Bone
from limbwright.limb.reading import Measure
from limbwright.quantity import Value, require_within

OF_BONE = {
    Bone.FEMUR: (Measure.MLDFA, Measure.ALDFA, Measure.PDFA),
    Bone.TIBIA: (Measure.MPTA, Measure.LDTA, Measure.PPTA, Measure.ADTA),
}
"""Angles that a follow-up film of a bone can show."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JointAngle(Value):
    """One joint-orientation angle at one visit."""

    bone: Bone
    """Femur or tibia."""
    measure: Measure
    """Which angle, by its usual letters."""
    deg: float
    """The angle [deg]."""
    sd_deg: float | None = None
    """Standard uncertainty; `angle_reading_sd_deg` of the practice profile when absent [deg]."""

    def __post_init__(self) -> None:
        if self.measure not in OF_BONE.get(self.bone, ()):
            raise OutOfRange(
                f"{self.measure} is no angle of the {self.bone} on a follow-up film.",
                where="measure",
                next_step=f"Give one of {', '.join(m for all_ in OF_BONE.values() for m in all_)}.",
            )
        require_within("deg", self.deg, 30, 150, "deg", next_step="Read the angle again.")
        if self.sd_deg is not None:
            require_within("sd_deg", self.sd_deg, 0, 20, "deg", next_step="Give the standard uncertainty.")
