"""Follow-up visits: what was seen on the day. Prescribed, reported and measured length are kept apart."""

from dataclasses import dataclass
from datetime import date

from limbwright.error import Contradiction
from limbwright.limb.anatomy import Bone
from limbwright.quantity import Value, require_within

LARGEST_GAIN_MM = 250.0  # beyond every nail's stroke; a larger number is a slip of the pen


@dataclass(frozen=True, slots=True, kw_only=True)
class GainedLength(Value):
    """Length one bone has gained since the operation, from the film and from the patient's diary."""

    bone: Bone
    """Bone that was lengthened."""
    measured_mm: float | None = None
    """Read from the film, lengthening + [mm]."""
    measured_sd_mm: float | None = None
    """Standard uncertainty of that reading [mm]; the practice's reading error is used when absent."""
    reported_mm: float | None = None
    """Steps the patient reports to have made, times the step, lengthening + [mm]."""

    def __post_init__(self) -> None:
        for field, value, low in (
            ("measured_mm", self.measured_mm, -LARGEST_GAIN_MM),
            ("measured_sd_mm", self.measured_sd_mm, 0.0),
            ("reported_mm", self.reported_mm, -LARGEST_GAIN_MM),
        ):
            if value is not None:
                require_within(
                    field,
                    value,
                    low,
                    LARGEST_GAIN_MM,
                    "mm",
                    next_step="Give the length gained since the operation in millimetres.",
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit(Value):
    """One follow-up."""

    seen_on: date
    """Day of the visit."""
    gained: tuple[GainedLength, ...] = ()
    """Length gained, one entry for each bone."""
    films: tuple[str, ...] = ()
    """Names of the case's films that were taken for this visit."""
    note: str = ""
    """Free text; no names of persons."""

    def __post_init__(self) -> None:
        bones = [gain.bone for gain in self.gained]
        if len(set(bones)) < len(bones):
            raise Contradiction(
                f"length gained is given twice for one bone ({', '.join(bones)}).",
                where="gained",
                next_step="Keep one entry for each bone.",
            )
