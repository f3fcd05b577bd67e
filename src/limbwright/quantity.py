"""Numbers with units and uncertainty, and the only place where units are converted.

Inside the package every quantity carries its unit in its name and follows one sign convention
(varus +, procurvatum +, external rotation +, lengthening +, MAD medial +; translation of the distal
fragment, lateral + and anterior +). Outside, a signed number leaves only as a magnitude and a word:
`Directed`.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, ClassVar

from limbwright.error import OutOfRange

KG_PER_LB = 0.45359237  # exact, international avoirdupois pound
MM_PER_INCH = 25.4  # exact
DAYS_PER_YEAR = 365.25  # decimal years of age


class Value:
    """Base of every stored value: frozen dataclasses that refuse unknown keys when read from a file.

    The class attribute is read by the case file reader (`case.document`); no room needs to import it.
    """

    __slots__ = ()
    __pydantic_config__: ClassVar[dict[str, Any]] = {"extra": "forbid", "use_attribute_docstrings": True}


class Sense(StrEnum):
    """Pairs of direction words; the first of each pair is the positive one inside the package."""

    VARUS = "varus"
    VALGUS = "valgus"
    PROCURVATUM = "procurvatum"
    RECURVATUM = "recurvatum"
    EXTERNAL = "external"
    INTERNAL = "internal"
    MEDIAL = "medial"
    LATERAL = "lateral"
    ANTERIOR = "anterior"
    POSTERIOR = "posterior"
    PROXIMAL = "proximal"
    DISTAL = "distal"
    LONGER = "longer"
    SHORTER = "shorter"
    NONE = "none"


VARUS_VALGUS = (Sense.VARUS, Sense.VALGUS)
PROCURVATUM_RECURVATUM = (Sense.PROCURVATUM, Sense.RECURVATUM)
EXTERNAL_INTERNAL = (Sense.EXTERNAL, Sense.INTERNAL)
MEDIAL_LATERAL = (Sense.MEDIAL, Sense.LATERAL)
LATERAL_MEDIAL = (Sense.LATERAL, Sense.MEDIAL)
ANTERIOR_POSTERIOR = (Sense.ANTERIOR, Sense.POSTERIOR)
LONGER_SHORTER = (Sense.LONGER, Sense.SHORTER)


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured(Value):
    """A number with its standard uncertainty."""

    value: float
    """Best estimate, in `unit`, signed as inside the package."""
    sd: float
    """Standard uncertainty (one standard deviation), in `unit`."""
    unit: str
    """Unit by its usual symbol: mm, deg, N, N m, kg, d."""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.value) and math.isfinite(self.sd) and self.sd >= 0):
            raise OutOfRange(
                f"value {self.value} with uncertainty {self.sd} {self.unit} is not a measurement.",
                where="measured quantity",
                next_step="Check the landmarks it was computed from.",
            )

    def interval95(self) -> tuple[float, float]:
        """Two-sided 95 % interval of a normal distribution, in `unit`."""
        return self.value - 1.959964 * self.sd, self.value + 1.959964 * self.sd


@dataclass(frozen=True, slots=True, kw_only=True)
class Directed(Value):
    """A magnitude with its direction in words, as it leaves the package."""

    magnitude: float
    """Magnitude, never negative, in `unit`."""
    direction: Sense
    """Word for the direction; `none` when the magnitude rounds to zero."""
    unit: str
    """Unit by its usual symbol."""


def directed(
    value: float, *, unit: str, senses: tuple[Sense, Sense], zero_below: float | None = None
) -> Directed:
    """Turn a signed number into a magnitude and a word.

    Parameters
    ----------
    value : float
        Signed as inside the package. [`unit`]
    unit : str
        Its unit.
    senses : tuple of Sense
        Word for positive, word for negative.
    zero_below : float, optional
        Magnitudes below this get the word `none`; 0.05 unless given, half the last printed digit. [`unit`]
    """
    limit = 0.05 if zero_below is None else zero_below
    word = Sense.NONE if abs(value) < limit else senses[0] if value > 0 else senses[1]
    return Directed(magnitude=abs(value), direction=word, unit=unit)


def require_within(name: str, value: float, low: float, high: float, unit: str, *, next_step: str) -> None:
    """Refuse a number outside `low` to `high` (inclusive), or one that is not finite."""
    if not (math.isfinite(value) and low <= value <= high):
        raise OutOfRange(
            f"{name} is {value:g} {unit}, expected {low:g} to {high:g} {unit}.",
            where=name,
            next_step=next_step,
        )


def kg_from_lb(mass_lb: float) -> float:
    """Mass in kilograms of a mass in international pounds."""
    return mass_lb * KG_PER_LB


def lb_from_kg(mass_kg: float) -> float:
    """Mass in international pounds of a mass in kilograms."""
    return mass_kg / KG_PER_LB


def mm_from_inch(length_inch: float) -> float:
    """Length in millimetres of a length in inches."""
    return length_inch * MM_PER_INCH
