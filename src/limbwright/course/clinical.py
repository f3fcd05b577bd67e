"""What is examined at a visit beside the films: joints, nerves, pain, weight borne, wound, therapy."""

from dataclasses import dataclass
from enum import StrEnum

from limbwright.quantity import Value, require_within


class NerveSign(StrEnum):
    """Signs of a stretched peroneal or tibial nerve."""

    NUMB_FIRST_WEB = "numb first web space"
    NUMB_SOLE = "numb sole"
    BURNING_PAIN = "burning pain in the foot"
    WEAK_TOE_EXTENSION = "weak toe extension"
    WEAK_DORSIFLEXION = "weak dorsiflexion"
    FOOT_DROP = "foot drop"

    @property
    def motor(self) -> bool:
        """Whether a muscle is weak, not only the skin numb."""
        return self in {NerveSign.WEAK_TOE_EXTENSION, NerveSign.WEAK_DORSIFLEXION, NerveSign.FOOT_DROP}


class Wound(StrEnum):
    """State of the wounds."""

    DRY = "dry"
    RED = "red"
    DRAINING = "draining"
    OPEN = "open"


@dataclass(frozen=True, slots=True, kw_only=True)
class Clinical(Value):
    """Clinical findings of one visit. What is absent was not examined; nothing is taken to be normal."""

    knee_flexion_deg: float | None = None
    """Largest knee flexion [deg]. Repeatability: `joint_motion_sd_deg` of the practice profile."""
    knee_extension_loss_deg: float | None = None
    """Flexion contracture of the knee, 0 = straight, negative = beyond straight [deg]."""
    ankle_dorsiflexion_deg: float | None = None
    """Ankle dorsiflexion with the knee straight; negative = equinus [deg]."""
    ankle_dorsiflexion_knee_bent_deg: float | None = None
    """Ankle dorsiflexion with the knee bent; negative = equinus [deg]."""
    joint_subluxation: bool = False
    """True when a joint is seen sliding out of place, on examination or on a film."""
    nerves_examined: bool = False
    """True when feeling and strength of the foot were examined; then an empty list means none."""
    nerve_signs: tuple[NerveSign, ...] = ()
    """Signs that were found."""
    pain_0_to_10: float | None = None
    """Worst pain of the last days on a scale from 0, none, to 10, worst imaginable."""
    weight_borne_kg: float | None = None
    """Weight put on the leg, on scales [kg]."""
    wound: Wound | None = None
    """State of the wounds."""
    therapy_done_percent: float | None = None
    """Share of the prescribed exercises that was done [%]."""

    def __post_init__(self) -> None:
        for name, value, low, high, unit in (
            ("knee_flexion_deg", self.knee_flexion_deg, 0, 170, "deg"),
            ("knee_extension_loss_deg", self.knee_extension_loss_deg, -20, 120, "deg"),
            ("ankle_dorsiflexion_deg", self.ankle_dorsiflexion_deg, -80, 60, "deg"),
            ("ankle_dorsiflexion_knee_bent_deg", self.ankle_dorsiflexion_knee_bent_deg, -80, 60, "deg"),
            ("pain_0_to_10", self.pain_0_to_10, 0, 10, ""),
            ("weight_borne_kg", self.weight_borne_kg, 0, 250, "kg"),
            ("therapy_done_percent", self.therapy_done_percent, 0, 100, "%"),
        ):
            if value is not None:
                require_within(
                    name, value, low, high, unit, next_step="Correct it, or leave it out if not examined."
                )
