"""Discrepancy at maturity by the multiplier method, and how much a leg is held back."""

from enum import StrEnum

from limbwright.error import Refused
from limbwright.growth.growth import Sex
from limbwright.growth.multiplier import length_at_maturity_mm, multiplier
from limbwright.quantity import require_within

SHORTEST_INTERVAL_YEARS = 0.5
LEAST_GROWTH_MM = 5.0
CHECK_LENGTHS = "Check both legs' lengths; discrepancy is the longer leg less the shorter, in millimetres."


class DiscrepancyKind(StrEnum):
    """How a discrepancy behaves while the legs grow."""

    CONGENITAL = "congenital"
    """The short leg keeps its share of the long one."""
    DEVELOPMENTAL = "developmental"
    """The short leg grows more slowly than the long one, by a share measured on two occasions."""
    CONSTANT = "constant"
    """Both legs grow alike, as after a malunion away from the physes."""


def congenital_discrepancy_at_maturity_mm(*, discrepancy_mm: float, sex: Sex, age_years: float) -> float:
    """Discrepancy at maturity when the short leg keeps its share of the long one. [mm]

    Parameters
    ----------
    discrepancy_mm : float
        Long leg less short leg, now. [mm]
    sex : Sex
        Sex.
    age_years : float
        Calendar age. [years]

    Notes
    -----
    D · M, with M the multiplier (Paley et al. 2000).
    """
    require_within("discrepancy", discrepancy_mm, 0, 400, "mm", next_step=CHECK_LENGTHS)
    return discrepancy_mm * multiplier(sex, age_years)


def congenital_discrepancy_after_lengthening_mm(
    *, discrepancy_before_mm: float, age_before_years: float, gained_mm: float, sex: Sex
) -> float:
    """Congenital discrepancy at maturity after an earlier lengthening; negative when overcorrected. [mm]

    Parameters
    ----------
    discrepancy_before_mm : float
        Long leg less short leg, before the lengthening. [mm]
    age_before_years : float
        Age when that was measured. [years]
    gained_mm : float
        Length gained. [mm]
    sex : Sex
        Sex.

    Notes
    -----
    D · M(age before) − gained; assumes that the lengthening left growth unchanged.
    """
    require_within(
        "length gained", gained_mm, 0, 300, "mm", next_step="Give what was gained, in millimetres."
    )
    predicted_mm = congenital_discrepancy_at_maturity_mm(
        discrepancy_mm=discrepancy_before_mm, sex=sex, age_years=age_before_years
    )
    return predicted_mm - gained_mm


def inhibition(
    *,
    long_mm: float,
    short_mm: float,
    earlier_long_mm: float,
    earlier_short_mm: float,
    years_between: float,
) -> float:
    """Share by which the short leg lags behind the long one's growth: 0 keeps pace, 1 stands still.

    Parameters
    ----------
    long_mm, short_mm : float
        Lengths of both legs, or of both femurs or tibias, now. [mm]
    earlier_long_mm, earlier_short_mm : float
        The same earlier. [mm]
    years_between : float
        Time between, at least half a year. [years]

    Raises
    ------
    Refused
        If the long leg grew less than 5 mm: the quotient would be reading error.

    Notes
    -----
    I = 1 − (S − S′)/(L − L′) (Paley et al. 2000). Negative when the short leg catches up.
    """
    for name, value in (
        ("long leg", long_mm),
        ("short leg", short_mm),
        ("long leg earlier", earlier_long_mm),
        ("short leg earlier", earlier_short_mm),
    ):
        require_within(name, value, 20, 1500, "mm", next_step="Give the length in millimetres.")
    require_within(
        "time between the films",
        years_between,
        SHORTEST_INTERVAL_YEARS,
        18,
        "years",
        next_step="Use films at least six months apart.",
    )
    grown_mm = long_mm - earlier_long_mm
    if grown_mm < LEAST_GROWTH_MM:
        raise Refused(
            f"the long leg grew {grown_mm:.1f} mm between the films, expected at least "
            f"{LEAST_GROWTH_MM:g} mm.",
            where="inhibition of growth",
            next_step="Use films further apart, or treat the discrepancy as constant.",
        )
    return 1 - (short_mm - earlier_short_mm) / grown_mm


def developmental_discrepancy_at_maturity_mm(
    *, long_mm: float, short_mm: float, inhibited_share: float, sex: Sex, age_years: float
) -> float:
    """Discrepancy at maturity when the short leg keeps growing more slowly by a measured share. [mm]

    Parameters
    ----------
    long_mm, short_mm : float
        Lengths of both legs now. [mm]
    inhibited_share : float
        From `inhibition`.
    sex : Sex
        Sex.
    age_years : float
        Calendar age. [years]

    Notes
    -----
    D + I · G, with G = L (M − 1) the growth left in the long leg (Paley et al. 2000).
    """
    require_within("inhibition", inhibited_share, -1, 2, "", next_step="Check the four lengths it came from.")
    require_within("discrepancy", long_mm - short_mm, 0, 400, "mm", next_step=CHECK_LENGTHS)
    left_mm = length_at_maturity_mm(long_mm, sex=sex, age_years=age_years) - long_mm
    return long_mm - short_mm + inhibited_share * left_mm
