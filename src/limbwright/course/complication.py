"""Problems, obstacles and complications, by the classification of Paley 1990.

Paley, Problems, obstacles, and complications of limb lengthening by the Ilizarov technique, Clin Orthop Relat
Res 1990, 250:81-104 (title and journal read in reference lists, definitions from memory): a problem is fully
resolved without operation by the end of treatment, an obstacle by an operation; a complication is not
resolved by the end of treatment, minor or major, a major one interfering with the goal.
"""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from limbwright.error import Contradiction
from limbwright.limb.anatomy import Bone
from limbwright.quantity import Value


class ComplicationKind(StrEnum):
    """Kind of adverse event."""

    AXIS_DEVIATION = "axis deviation"
    JOINT_CONTRACTURE = "joint contracture"
    JOINT_SUBLUXATION = "joint subluxation"
    NERVE_LESION = "nerve lesion"
    VESSEL_LESION = "vessel lesion"
    PREMATURE_CONSOLIDATION = "premature consolidation"
    DELAYED_CONSOLIDATION = "delayed consolidation"
    FRACTURE = "fracture"
    HARDWARE_FAILURE = "hardware failure"
    DEVICE_NOT_LENGTHENING = "device does not lengthen"
    INFECTION = "infection"
    COMPARTMENT_SYNDROME = "compartment syndrome"
    THROMBOSIS = "thrombosis"
    FIBULA_MIGRATION = "migration of the fibula"
    PAIN = "pain"
    OTHER = "other"


class Remedy(StrEnum):
    """Whether an operation was needed."""

    NONE = "none"
    NOT_OPERATIVE = "not operative"
    OPERATIVE = "operative"


class PaleyClass(StrEnum):
    """Class of an adverse event."""

    OPEN = "not yet classified"
    PROBLEM = "problem"
    OBSTACLE = "obstacle"
    MINOR_COMPLICATION = "minor complication"
    MAJOR_COMPLICATION = "major complication"


@dataclass(frozen=True, slots=True, kw_only=True)
class Complication(Value):
    """One adverse event and what became of it."""

    kind: ComplicationKind
    """What happened."""
    seen_on: date
    """Day it was seen first."""
    bone: Bone | None = None
    """Lengthened bone it belongs to; absent = the whole leg."""
    remedy: Remedy = Remedy.NONE
    """The most that was done about it."""
    remedy_words: str = ""
    """What was done, in words; no names of persons."""
    resolved_on: date | None = None
    """Day it was fully resolved; absent = not resolved."""
    interferes_with_goal: bool = False
    """Whether it keeps the goal from being reached or leaves lasting harm."""

    def __post_init__(self) -> None:
        if self.resolved_on is not None and self.resolved_on < self.seen_on:
            raise Contradiction(
                f"resolved on {self.resolved_on}, seen first on {self.seen_on}.",
                where="resolved_on",
                next_step="Correct one of the two dates.",
            )


def paley_class(event: Complication, *, treatment_ended_on: date | None) -> PaleyClass:
    """Class of an adverse event; `not yet classified` while it is unresolved and treatment goes on.

    Parameters
    ----------
    event : Complication
        What happened and what was done.
    treatment_ended_on : date or None
        End of treatment; None while it goes on.
    """
    in_time = event.resolved_on is not None and (
        treatment_ended_on is None or event.resolved_on <= treatment_ended_on
    )
    if in_time and not event.interferes_with_goal:
        return PaleyClass.OBSTACLE if event.remedy is Remedy.OPERATIVE else PaleyClass.PROBLEM
    if treatment_ended_on is None and not event.interferes_with_goal:
        return PaleyClass.OPEN
    return PaleyClass.MAJOR_COMPLICATION if event.interferes_with_goal else PaleyClass.MINOR_COMPLICATION
