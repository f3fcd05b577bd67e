"""Multiplier of leg length to maturity, for femur, tibia and the whole leg alike."""

from functools import cache
from itertools import pairwise

import numpy as np

from limbwright.error import Refused
from limbwright.growth.growth import Sex
from limbwright.published import Source, table
from limbwright.quantity import require_within

WHERE = "multiplier table"
OLDEST_YEARS = 18.0  # the published table ends here; nobody in it grows after its last row above 1.000


@cache
def _rows(sex: Sex) -> tuple[tuple[float, float, bool], ...]:
    """Age in years, multiplier, and whether the cell may be used; ages rising."""
    return tuple(
        (row.number("age_years"), row.number("multiplier"), row.text("use") == "yes")
        for row in table("growth", "multiplier")
        if row.text("sex") == sex
    )


def multiplier_source() -> Source:
    """Where the table comes from."""
    return table("growth", "multiplier")[0].source


def multiplier_grown_years(sex: Sex) -> float:
    """Age from which the multiplier is 1: nothing is left to grow. [years]"""
    return next(age for age, value, _ in _rows(sex) if value == 1.0)


def multiplier(sex: Sex, age_years: float) -> float:
    """Length at maturity divided by length now.

    Parameters
    ----------
    sex : Sex
        Sex.
    age_years : float
        Calendar age, 0 to 18. [years]

    Raises
    ------
    OutOfRange
        If the age is outside the table.
    Refused
        For girls between birth and six months (both excluded), where the table's cell is in doubt.

    Notes
    -----
    Straight lines between the rows of the table. The curve sags between them: by at most 0.015 before
    two years of age and 0.005 after (an eighth of the second difference of the rows).

    References
    ----------
    Paley, Bhave, Herzenberg & Bowen, J Bone Joint Surg Am 2000 (table from memory).
    """
    require_within(
        "age",
        age_years,
        0,
        OLDEST_YEARS,
        "years",
        next_step="The multiplier is for growing legs; an adult's discrepancy stays as it is.",
    )
    rows = _rows(sex)
    ages = [age for age, _, use in rows if use]
    for before, (doubtful, _, use), after in zip(rows, rows[1:], rows[2:], strict=False):
        if not use and before[0] < age_years < after[0]:
            raise Refused(
                f"at {age_years:g} years the {sex} multiplier rests on the row for {doubtful:g} years, "
                "for which two different values are in circulation.",
                where=WHERE,
                next_step=f"Measure again at {after[0]:g} years; nothing is decided before.",
            )
    return float(np.interp(age_years, ages, [value for _, value, use in rows if use]))


def age_at_multiplier_years(sex: Sex, value: float) -> float:
    """Age at which the multiplier has fallen to a value. [years]

    Parameters
    ----------
    sex : Sex
        Sex.
    value : float
        Multiplier, from 1 to that of birth.

    Raises
    ------
    OutOfRange
        If the value is below 1 or above that of birth.
    Refused
        If the value lies beside the cell in doubt.
    """
    rows = [(age, m) for age, m, use in _rows(sex) if use]
    require_within(
        "multiplier",
        value,
        1.0,
        rows[0][1],
        "",
        next_step="A leg does not shrink, nor grow more than from birth.",
    )
    (young, larger), (old, smaller) = next(
        (before, after) for before, after in pairwise(rows) if after[1] < before[1] and after[1] <= value
    )
    age_years = young + (larger - value) / (larger - smaller) * (old - young)
    multiplier(sex, age_years)  # refuses where the table is in doubt
    return age_years


def length_at_maturity_mm(length_mm: float, *, sex: Sex, age_years: float) -> float:
    """Length of a leg or bone at maturity, growth undisturbed. [mm]

    Parameters
    ----------
    length_mm : float
        Length now. [mm]
    sex : Sex
        Sex.
    age_years : float
        Calendar age, 0 to 18. [years]
    """
    require_within("length", length_mm, 20, 1500, "mm", next_step="Give the length in millimetres.")
    return length_mm * multiplier(sex, age_years)
