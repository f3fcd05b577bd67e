"""What an angle should be: the other leg when that is normal, the population when it is not."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from limbwright.error import Refused
from limbwright.limb.norm import Norm, norm_for_age, norm_of
from limbwright.limb.reading import Measure, Reading, Readings
from limbwright.published import Source
from limbwright.quantity import Value


class Origin(StrEnum):
    """Where a template value comes from."""

    OTHER_LEG = "other leg"
    POPULATION = "population"
    GOAL = "goal of the case"


@dataclass(frozen=True, slots=True, kw_only=True)
class Template(Value):
    """The value one measurement is to be brought to, and where it comes from."""

    measure: Measure
    """What it is for."""
    value: float
    """Value to aim at, signed as inside the package [unit of the measurement]."""
    sd: float
    """Standard uncertainty: of the reading (other leg), or a quarter of the normal range (population)."""
    origin: Origin
    """Other leg or population."""
    reason: str
    """Why this one, in plain words."""
    source: Source | None = None
    """Source of a population value."""


def template_of(
    measure: Measure,
    other_leg: Reading | None,
    *,
    age_years: float,
    other_leg_is_normal: bool | None = None,
) -> Template:
    """The template of one measurement.

    Parameters
    ----------
    measure : Measure
        One that has a published normal range.
    other_leg : Reading or None
        The same measurement of the other leg; None when it was not measured.
    age_years : float
        Age of the patient. [years]
    other_leg_is_normal : bool, optional
        What the surgeon says about the other leg; None lets the normal range decide.

    Raises
    ------
    Refused
        If the patient is too young for adult values and the other leg was not measured, is not normal, or
        nobody said whether it is.
    """
    norm, why_absent = norm_for_age(measure, age_years=age_years)
    if norm is None:
        if other_leg is not None and other_leg_is_normal:
            return _of_other(other_leg, f"the other leg is stated to be normal; {why_absent}")
        raise Refused(
            f"there is no template for {measure}: {why_absent}, and the other leg "
            + ("was not measured." if other_leg is None else "is not stated to be normal."),
            where="template",
            next_step="Measure the other leg and state that it is normal, or type the value wanted.",
        )
    if other_leg is None:
        return _of_population(measure, norm, "the other leg was not measured")
    if other_leg_is_normal is False:
        return _of_population(measure, norm, "the other leg is stated not to be normal")
    outside = norm.out_of_range(other_leg.value.value)
    if outside is None:
        return _of_population(measure, norm, "no normal range is published to judge the other leg by")
    if outside != 0:
        return _of_population(
            measure,
            norm,
            f"the other leg's {measure} of {other_leg.value.value:.1f} lies outside "
            f"{norm.low:g} to {norm.high:g}",
        )
    return _of_other(
        other_leg,
        f"the other leg's {measure} of {other_leg.value.value:.1f} lies within {norm.low:g} to {norm.high:g}",
    )


def templates(
    other_leg: Readings | None, *, age_years: float, other_leg_is_normal: bool | None = None
) -> Mapping[Measure, Template]:
    """The templates of all measurements that have a published normal range; those refused are left out."""
    found = {}
    for measure in Measure:
        norm = norm_of(measure)
        if norm is None:
            continue
        other = None if other_leg is None else other_leg.get(measure)
        try:
            found[measure] = template_of(
                measure, other, age_years=age_years, other_leg_is_normal=other_leg_is_normal
            )
        except Refused:
            continue
    return found


def _of_other(reading: Reading, reason: str) -> Template:
    return Template(
        measure=reading.measure,
        value=reading.value.value,
        sd=reading.value.sd,
        origin=Origin.OTHER_LEG,
        reason=reason,
    )


def _of_population(measure: Measure, norm: Norm, reason: str) -> Template:
    spread = norm.sd or 0.0
    if norm.low is not None and norm.high is not None:
        spread = (norm.high - norm.low) / 4
    return Template(
        measure=measure,
        value=norm.mean,
        sd=spread,
        origin=Origin.POPULATION,
        reason=reason,
        source=norm.source,
    )
