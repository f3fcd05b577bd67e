"""Screws and pins: what they are for, and the sizes the planner needs."""

from dataclasses import dataclass
from enum import StrEnum

from limbwright.error import OutOfRange
from limbwright.implant.nail import CATALOGUE_STEP
from limbwright.quantity import Value, require_within


class Purpose(StrEnum):
    """What a screw or pin is for."""

    LOCKING = "locking"
    BLOCKING = "blocking"
    TIBIOFIBULAR = "tibiofibular"
    FIXATOR_PIN = "fixator pin"


@dataclass(frozen=True, slots=True, kw_only=True)
class ScrewType(Value):
    """One kind of screw or pin."""

    name: str
    """Name by which the catalogue's owner orders it; unique in the catalogue."""
    purpose: Purpose
    """What it is for."""
    diameter_mm: float
    """Outer diameter of the thread, or of the smooth shank where a blocking screw has one."""
    core_diameter_mm: float
    """Diameter under the thread."""
    drill_mm: float
    """Drill to use before it."""
    solid: bool
    """True for a solid screw, False for a cannulated one."""

    def __post_init__(self) -> None:
        for name, value in (
            ("diameter", self.diameter_mm),
            ("core diameter", self.core_diameter_mm),
            ("drill", self.drill_mm),
        ):
            require_within(f"{name} of screw {self.name!r}", value, 1, 8, "mm", next_step=CATALOGUE_STEP)
        if not self.core_diameter_mm <= self.drill_mm <= self.diameter_mm:
            raise OutOfRange(
                f"drill {self.drill_mm:g} mm, expected between the core {self.core_diameter_mm:g} mm and the "
                f"thread {self.diameter_mm:g} mm.",
                where=f"screw {self.name!r}",
                next_step=CATALOGUE_STEP,
            )
