"""How a lengthened bone's fragments stand to each other since the operation, as a visit records it."""

from dataclasses import dataclass

from limbwright.error import OutOfRange
from limbwright.limb.anatomy import Bone
from limbwright.quantity import (
    ANTERIOR_POSTERIOR,
    LATERAL_MEDIAL,
    PROCURVATUM_RECURVATUM,
    VARUS_VALGUS,
    Directed,
    Sense,
    Value,
    require_within,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Alignment(Value):
    """Change of the distal fragment against the proximal one since the first film after the operation."""

    bone: Bone
    """Femur or tibia."""
    frontal: Directed | None = None
    """Angulation on the frontal film: varus or valgus [deg]."""
    sagittal: Directed | None = None
    """Angulation on the sagittal film: procurvatum or recurvatum [deg]."""
    angle_sd_deg: float | None = None
    """Standard uncertainty of an angle read on one film, which the change since the operation carries twice;
    `angle_reading_sd_deg` of the practice profile when absent [deg]."""
    frontal_translation: Directed | None = None
    """Shift of the distal fragment: lateral or medial [mm]."""
    sagittal_translation: Directed | None = None
    """Shift of the distal fragment: anterior or posterior [mm]."""

    def __post_init__(self) -> None:
        for name, value, senses, unit, most in (
            ("frontal", self.frontal, VARUS_VALGUS, "deg", 60.0),
            ("sagittal", self.sagittal, PROCURVATUM_RECURVATUM, "deg", 60.0),
            ("frontal_translation", self.frontal_translation, LATERAL_MEDIAL, "mm", 80.0),
            ("sagittal_translation", self.sagittal_translation, ANTERIOR_POSTERIOR, "mm", 80.0),
        ):
            if value is not None:
                _require(name, value, senses, unit, most)
        if self.angle_sd_deg is not None:
            step = "Give the standard uncertainty in degrees."
            require_within("angle_sd_deg", self.angle_sd_deg, 0, 20, "deg", next_step=step)

    @property
    def varus_deg(self) -> float | None:
        """Angulation on the frontal film, varus +. [deg]"""
        return signed(self.frontal, VARUS_VALGUS)

    @property
    def procurvatum_deg(self) -> float | None:
        """Angulation on the sagittal film, procurvatum +. [deg]"""
        return signed(self.sagittal, PROCURVATUM_RECURVATUM)


def signed(value: Directed | None, senses: tuple[Sense, Sense]) -> float | None:
    """The signed number behind a magnitude and a word; None stays None."""
    if value is None:
        return None
    return -value.magnitude if value.direction is senses[1] else value.magnitude


def _require(name: str, value: Directed, senses: tuple[Sense, Sense], unit: str, most: float) -> None:
    step = f"Give a magnitude in {unit} with {senses[0]} or {senses[1]}."
    require_within(f"{name}.magnitude", value.magnitude, 0, most, unit, next_step=step)
    if value.unit != unit or value.direction not in (*senses, Sense.NONE):
        raise OutOfRange(
            f"{name} is {value.magnitude:g} {value.unit} {value.direction}, expected {unit} with "
            f"{senses[0]} or {senses[1]}.",
            where=name,
            next_step=step,
        )
