"""Sexes, physes of the leg, and when they stop growing."""

from enum import StrEnum
from functools import cache

from limbwright.error import OutOfRange
from limbwright.limb.anatomy import Bone
from limbwright.published import Row, Source, table
from limbwright.quantity import require_within

OLDEST_YEARS = 120.0


class Sex(StrEnum):
    """Sex, as growth tables need it."""

    FEMALE = "female"
    MALE = "male"


class Physis(StrEnum):
    """Growth plate of a long bone of the leg."""

    PROXIMAL_FEMUR = "proximal femur"
    DISTAL_FEMUR = "distal femur"
    PROXIMAL_TIBIA = "proximal tibia"
    DISTAL_TIBIA = "distal tibia"

    @property
    def bone(self) -> Bone:
        """The bone it lengthens."""
        return Bone.FEMUR if self in (Physis.PROXIMAL_FEMUR, Physis.DISTAL_FEMUR) else Bone.TIBIA


def physis_crossed(bone: Bone, *, retrograde: bool) -> Physis:
    """The physis that a nail passes where it enters its bone."""
    if bone is Bone.FIBULA:
        raise OutOfRange(
            "bone is fibula, expected femur or tibia.",
            where="physis crossed by the nail",
            next_step="Ask for the bone that the nail lengthens.",
        )
    if bone is Bone.TIBIA:
        return Physis.PROXIMAL_TIBIA
    return Physis.DISTAL_FEMUR if retrograde else Physis.PROXIMAL_FEMUR


def growth_ends_years(sex: Sex) -> float:
    """Age at which the arithmetic rule lets growth end. [years of skeletal age]"""
    return _end_row(sex, "growth ends").number("years")


def growth_rule_from_years(sex: Sex) -> float:
    """Age from which the arithmetic rule is used. [years of skeletal age]"""
    return _end_row(sex, "rule used from").number("years")


def growth_end_source(sex: Sex) -> Source:
    """Where the age at the end of growth comes from."""
    return _end_row(sex, "growth ends").source


def share_of_bone(physis: Physis) -> float:
    """Average share of its bone's growth that a physis gives, 0 to 1."""
    return _physis_row(physis, "share of bone").number("value") / 100


def growth_rate_mm_per_year(physis: Physis) -> float:
    """Growth of a physis in late childhood. [mm per year of skeletal age]"""
    return _physis_row(physis, "growth rate").number("value")


def require_age(name: str, years: float) -> None:
    """Refuse an age that cannot be true."""
    require_within(
        name, years, 0, OLDEST_YEARS, "years", next_step="Give decimal years; divide months by 12."
    )


@cache
def _end_row(sex: Sex, quantity: str) -> Row:
    return next(
        row
        for row in table("growth", "growth_end")
        if row.text("sex") == sex and row.text("quantity") == quantity
    )


@cache
def _physis_row(physis: Physis, quantity: str) -> Row:
    return next(
        row
        for row in table("growth", "physis")
        if row.text("physis") == physis and row.text("quantity") == quantity
    )
