"""Discrepancy at maturity: the multiplier's answer, a second opinion by yearly growth, and how they agree."""

from dataclasses import dataclass

from limbwright.error import Missing
from limbwright.finding import Finding, Number, Severity
from limbwright.growth.discrepancy import CHECK_LENGTHS, DiscrepancyKind
from limbwright.growth.growth import (
    Sex,
    growth_end_source,
    growth_ends_years,
    growth_rule_from_years,
    require_age,
)
from limbwright.growth.multiplier import multiplier, multiplier_grown_years, multiplier_source
from limbwright.growth.remaining import leg_growth_remaining_mm
from limbwright.published import COMMON_PRACTICE, Source, Status
from limbwright.quantity import Measured, Value, require_within

NORMAL_95 = 1.959964


@dataclass(frozen=True, slots=True, kw_only=True)
class DiscrepancyAtMaturity(Value):
    """What a discrepancy becomes by the end of growth. Shorter leg: the treated one."""

    kind: DiscrepancyKind
    """How the discrepancy behaves while the legs grow."""
    now_mm: float
    """Long leg less short leg today [mm]."""
    inhibited_share: float
    """Share by which the short leg lags behind the long one's growth."""
    growth_left_mm: float
    """Growth left in the long leg, by the multiplier [mm]."""
    by_multiplier: Measured
    """Discrepancy at maturity by the multiplier and the calendar age [mm]."""
    by_growth_remaining: Measured | None
    """Second opinion by yearly growth and skeletal age; None before the age from which it is used [mm]."""
    findings: tuple[Finding, ...]
    """What a reader must weigh."""


def discrepancy_at_maturity(
    *,
    kind: DiscrepancyKind,
    long_leg_mm: float,
    short_leg_mm: float,
    sex: Sex,
    age_years: float,
    skeletal_age_years: float | None = None,
    inhibited_share: float | None = None,
    discrepancy_sd_mm: float = 0.0,
    prediction_error_mm: float,
    disagreement_mm: float,
    disagreement_source: Source = COMMON_PRACTICE,
) -> DiscrepancyAtMaturity:
    """Predict a discrepancy at maturity by two methods; an adult's stays as it is.

    Parameters
    ----------
    kind : DiscrepancyKind
        Congenital, developmental or constant.
    long_leg_mm, short_leg_mm : float
        Lengths of the legs now. [mm]
    sex : Sex
        Sex.
    age_years : float
        Calendar age. [years]
    skeletal_age_years : float, optional
        Bone age; used for the second opinion, which takes the calendar age where it is absent. [years]
    inhibited_share : float, optional
        From `limbwright.growth.discrepancy.inhibition`; needed for a developmental discrepancy.
    discrepancy_sd_mm : float
        Standard uncertainty of today's discrepancy. [mm]
    prediction_error_mm : float
        Error within which such a prediction usually lies; taken as half the width of a 95 % interval. [mm]
    disagreement_mm : float
        Difference between both answers from which it is pointed out. [mm]
    disagreement_source : Source
        Where that limit comes from.

    Raises
    ------
    Missing
        If a developmental discrepancy is given without its inhibition.

    Notes
    -----
    Both answers are D + I · G, with D today's discrepancy and I the share by which the short leg lags: D/L
    for a congenital, measured for a developmental, 0 for a constant discrepancy. G, the growth left in the
    long leg L, is L (M − 1) by the multiplier, and by the arithmetic rule the sum over its four physes of
    yearly growth times years left. For a congenital discrepancy the first is D · M. The error is never taken
    larger than the growth left.
    """
    require_age("age", age_years)
    require_within("long leg", long_leg_mm, 20, 1500, "mm", next_step="Give the length in millimetres.")
    require_within("short leg", short_leg_mm, 20, 1500, "mm", next_step="Give the length in millimetres.")
    now_mm = long_leg_mm - short_leg_mm
    require_within("discrepancy", now_mm, 0, 400, "mm", next_step=CHECK_LENGTHS)
    share = _inhibited_share(kind, now_mm / long_leg_mm, inhibited_share)
    grown = age_years >= multiplier_grown_years(sex)
    left_mm = 0.0 if grown else long_leg_mm * (multiplier(sex, age_years) - 1)
    first = _answer(now_mm, share, left_mm, discrepancy_sd_mm, prediction_error_mm)
    rate_age_years = age_years if skeletal_age_years is None else skeletal_age_years
    second = None
    findings = []
    if rate_age_years >= growth_rule_from_years(sex):
        rate_left_mm = leg_growth_remaining_mm(sex=sex, skeletal_age_years=rate_age_years)
        second = _answer(now_mm, share, rate_left_mm, discrepancy_sd_mm, prediction_error_mm)
        if abs(second.value - first.value) > disagreement_mm:
            findings.append(_disagreement(first.value, second.value, disagreement_mm, disagreement_source))
        if skeletal_age_years is None and rate_left_mm > 0:
            findings.append(_calendar_age_only(age_years, sex))
    else:
        findings.append(_single_prediction(rate_age_years, sex))
    if round(first.value - now_mm) != 0:
        findings.insert(0, _will_change(now_mm, first))
    return DiscrepancyAtMaturity(
        kind=kind,
        now_mm=now_mm,
        inhibited_share=share,
        growth_left_mm=left_mm,
        by_multiplier=first,
        by_growth_remaining=second,
        findings=tuple(findings),
    )


def _inhibited_share(kind: DiscrepancyKind, congenital_share: float, measured: float | None) -> float:
    if kind is DiscrepancyKind.CONGENITAL:
        return congenital_share
    if kind is DiscrepancyKind.CONSTANT:
        return 0.0
    if measured is None:
        raise Missing(
            "a developmental discrepancy is given without the share by which the short leg lags.",
            where="discrepancy at maturity",
            next_step="Give both legs' lengths on an earlier film, at least six months before.",
        )
    require_within("inhibition", measured, -1, 2, "", next_step="Check the four lengths it came from.")
    return measured


def _answer(now_mm: float, share: float, left_mm: float, now_sd_mm: float, error_mm: float) -> Measured:
    sd_mm = min(error_mm, left_mm) / NORMAL_95
    return Measured(value=now_mm + share * left_mm, sd=(now_sd_mm**2 + sd_mm**2) ** 0.5, unit="mm")


def _will_change(now_mm: float, predicted: Measured) -> Finding:
    low, high = predicted.interval95()
    return Finding(
        id="discrepancy-still-changing",
        severity=Severity.CAUTION,
        words=f"The discrepancy is {now_mm:.0f} mm today and is predicted to be {predicted.value:.0f} mm at "
        f"maturity (95 % interval {low:.0f} to {high:.0f} mm), by the multiplier method.",
        next_step="Plan for the discrepancy at maturity, or in stages; measure again before each.",
        numbers=(
            Number(name="discrepancy today", value=now_mm, unit="mm"),
            Number(name="discrepancy at maturity", value=predicted.value, unit="mm"),
        ),
        rule="Discrepancy at maturity = discrepancy + inhibited share × growth left in the long leg.",
        source=multiplier_source(),
    )


def _disagreement(first_mm: float, second_mm: float, limit_mm: float, source: Source) -> Finding:
    return Finding(
        id="discrepancy-predictions-disagree",
        severity=Severity.CAUTION,
        words=f"Discrepancy at maturity is {first_mm:.0f} mm by the multiplier and {second_mm:.0f} mm by "
        f"yearly growth; they differ by {abs(second_mm - first_mm):.0f} mm, more than {limit_mm:g} mm.",
        next_step="Have the skeletal age read again, compare with earlier films, and keep the choice open.",
        numbers=(
            Number(name="by the multiplier", value=first_mm, unit="mm"),
            Number(name="by yearly growth", value=second_mm, unit="mm"),
        ),
        rule="Two methods that disagree are both in doubt.",
        source=source,
    )


def _single_prediction(age_years: float, sex: Sex) -> Finding:
    return Finding(
        id="discrepancy-single-prediction",
        severity=Severity.NOTE,
        words=f"At {age_years:.1f} years there is no second opinion on the discrepancy at maturity: the "
        f"arithmetic rule is used from {growth_rule_from_years(sex):g} years ({sex}).",
        next_step="Predict again later; a single early prediction can be far off.",
        numbers=(Number(name="age", value=age_years, unit="years"),),
        rule="The yearly growth rates are those of late childhood.",
        source=growth_end_source(sex),
    )


def _calendar_age_only(age_years: float, sex: Sex) -> Finding:
    return Finding(
        id="discrepancy-without-skeletal-age",
        severity=Severity.NOTE,
        words=f"The second opinion counts {growth_ends_years(sex) - age_years:.1f} years of growth left from "
        f"the calendar age of {age_years:.1f} years; no skeletal age is given.",
        next_step="Have the skeletal age read; it predicts growth left better than the calendar age.",
        numbers=(Number(name="calendar age", value=age_years, unit="years"),),
        rule="Skeletal age predicts growth left better than calendar age.",
        source=Source(
            text="Birch et al., Comparison of Anderson-Green growth-remaining graphs and White-Menelaus "
            "predictions (abstract)",
            status=Status.VERIFIED,
        ),
    )
