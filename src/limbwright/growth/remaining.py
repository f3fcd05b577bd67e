"""Growth left in each physis: by yearly rates (the arithmetic rule) and by the multiplier."""

from dataclasses import dataclass

from limbwright.error import Refused
from limbwright.growth.growth import (
    Physis,
    Sex,
    growth_ends_years,
    growth_rate_mm_per_year,
    growth_rule_from_years,
    require_age,
    share_of_bone,
)
from limbwright.growth.multiplier import length_at_maturity_mm, multiplier_grown_years
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class PhysisGrowth(Value):
    """Growth left in one physis."""

    physis: Physis
    """Which."""
    by_rate_mm: float | None
    """By yearly rates and skeletal age; None before the age from which the rule is used [mm]."""
    by_multiplier_mm: float | None
    """By the multiplier and the bone's length; None when the length is not known [mm]."""


def growth_remaining_mm(physis: Physis, *, sex: Sex, skeletal_age_years: float) -> float:
    """Growth left in a physis by the arithmetic rule. [mm]

    Parameters
    ----------
    physis : Physis
        Which.
    sex : Sex
        Sex.
    skeletal_age_years : float
        Bone age; the calendar age serves where none is known, less well. [years]

    Raises
    ------
    Refused
        Before the last six years of growth, for which the yearly rates are not meant.

    Notes
    -----
    (age at the end of growth − age) × yearly rate, not below zero. Growth ends at 14 years in girls and 16 in
    boys (White; Menelaus 1966, from memory); the rates at the knee, 9 and 6 mm a year of skeletal age, were
    confirmed in 441 healthy segments (Birch et al.).
    """
    require_age("skeletal age", skeletal_age_years)
    if skeletal_age_years < growth_rule_from_years(sex):
        raise Refused(
            f"skeletal age is {skeletal_age_years:g} years; the arithmetic rule is used from "
            f"{growth_rule_from_years(sex):g} years ({sex}).",
            where="growth remaining",
            next_step="Use the multiplier method.",
        )
    return max(0.0, growth_ends_years(sex) - skeletal_age_years) * growth_rate_mm_per_year(physis)


def leg_growth_remaining_mm(*, sex: Sex, skeletal_age_years: float) -> float:
    """Growth left in femur and tibia together by the arithmetic rule. [mm]"""
    return sum(growth_remaining_mm(p, sex=sex, skeletal_age_years=skeletal_age_years) for p in Physis)


def growth_left_by_multiplier_mm(
    physis: Physis, *, bone_length_mm: float, sex: Sex, age_years: float
) -> float:
    """Growth left in a physis by the multiplier and its average share of the bone's growth. [mm]

    Parameters
    ----------
    physis : Physis
        Which.
    bone_length_mm : float
        Length of its bone now. [mm]
    sex : Sex
        Sex.
    age_years : float
        Calendar age. [years]

    Notes
    -----
    share × length × (M − 1). The share of a physis changes with age (distal femur 55 to 90 %, proximal tibia
    50 to 80 %: Pritchett 1992); the average is used.
    """
    require_age("age", age_years)
    if age_years >= multiplier_grown_years(sex):
        return 0.0
    grown_mm = length_at_maturity_mm(bone_length_mm, sex=sex, age_years=age_years)
    return share_of_bone(physis) * (grown_mm - bone_length_mm)


def growth_left(
    physis: Physis,
    *,
    sex: Sex,
    age_years: float,
    skeletal_age_years: float | None,
    bone_length_mm: float | None,
) -> PhysisGrowth:
    """Growth left in a physis by both ways, as far as each can be answered."""
    by_rate = by_multiplier = None
    rate_age_years = age_years if skeletal_age_years is None else skeletal_age_years
    if rate_age_years >= growth_rule_from_years(sex):
        by_rate = growth_remaining_mm(physis, sex=sex, skeletal_age_years=rate_age_years)
    if bone_length_mm is not None:
        by_multiplier = growth_left_by_multiplier_mm(
            physis, bone_length_mm=bone_length_mm, sex=sex, age_years=age_years
        )
    return PhysisGrowth(physis=physis, by_rate_mm=by_rate, by_multiplier_mm=by_multiplier)
