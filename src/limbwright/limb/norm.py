"""Published normal values of adults, and the age below which they are not used."""

from dataclasses import dataclass

from limbwright.published import Row, Source, table
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Norm(Value):
    """Normal value of one measurement in adults, signed as inside the package."""

    mean: float
    """Mean [unit of the measurement]."""
    low: float | None
    """Lower end of the range used as normal; absent when the source gives none."""
    high: float | None
    """Upper end of the range used as normal; absent when the source gives none."""
    sd: float | None = None
    """Standard deviation among normal legs, when the source gives it."""
    source: Source
    """Where it comes from."""

    def out_of_range(self, value: float) -> float | None:
        """How far above (+) or below (-) the range, 0 inside it; None when there is no range."""
        if self.low is None or self.high is None:
            return None
        return max(value - self.high, 0.0) + min(value - self.low, 0.0)


def norm_of(measure: str) -> Norm | None:
    """The adult norm of a measurement by its letters; None when none is published here."""
    for row in table("limb", "joint_angles"):
        if row.text("measure") == measure:
            return Norm(
                mean=row.number("mean"),
                low=row.optional_number("low"),
                high=row.optional_number("high"),
                sd=row.optional_number("sd"),
                source=row.source,
            )
    return None


def youngest_adult_row() -> Row:
    """The age limit as published."""
    return table("limb", "adult_limits")[0]


def norm_for_age(measure: str, *, age_years: float) -> tuple[Norm | None, str]:
    """The norm to use for a patient, or None with the reason.

    Adult limits are not used for a child whose alignment is still on its way to the adult one.
    """
    youngest = youngest_adult_row()
    norm = norm_of(measure)
    if norm is None:
        return None, "no normal range is published for it here"
    if age_years < youngest.number("value"):
        return None, (
            f"adult limits are not used below {youngest.number('value'):g} years "
            f"(patient {age_years:.1f} years; {youngest.source})"
        )
    return norm, ""
