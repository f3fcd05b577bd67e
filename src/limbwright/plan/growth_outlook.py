"""What a discrepancy becomes at maturity, and the option of lengthening in stages while the patient grows."""

from dataclasses import dataclass, replace

from limbwright.error import LimbwrightError
from limbwright.finding import Finding, Number, Severity, ordered
from limbwright.growth.discrepancy import DiscrepancyKind, inhibition
from limbwright.growth.growth import Sex
from limbwright.growth.prediction import DiscrepancyAtMaturity, discrepancy_at_maturity
from limbwright.plan.circumstances import EarlierLengths, Examination
from limbwright.plan.rule import rule_source
from limbwright.practice.profile import Profile
from limbwright.published import COMMON_PRACTICE
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class StagingOption(Value):
    """Two ways to time a lengthening in a patient who still grows."""

    at_maturity_mm: float
    """Discrepancy expected at maturity if nothing is done [mm]."""
    now_mm: float
    """What one stage now could gain: today's discrepancy, at most one stage [mm]."""
    left_at_maturity_mm: float
    """What would then be left at maturity [mm]."""
    finding: Finding
    """The option in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GrowthOutlook(Value):
    """What growth will do to the discrepancy, and what that means for timing."""

    prediction: DiscrepancyAtMaturity | None
    """Discrepancy at maturity; None when it was not said how it behaves, or the treated leg is longer."""
    alternatives: tuple[DiscrepancyAtMaturity, ...]
    """Without that: the same for a constant and for a congenital discrepancy."""
    option: StagingOption | None
    """Timing while the patient grows, by the larger of the answers; None once growth has ended."""
    findings: tuple[Finding, ...]
    """What to weigh, worst first."""


NOT_SHORT = GrowthOutlook(prediction=None, alternatives=(), option=None, findings=())
"""The treated leg is not the shorter one: there is nothing to project."""


def projected_discrepancy(
    *,
    kind: DiscrepancyKind,
    long_leg_mm: float,
    short_leg_mm: float,
    sex: Sex,
    age_years: float,
    skeletal_age_years: float | None,
    inhibited_share: float | None,
    discrepancy_sd_mm: float,
    profile: Profile,
) -> DiscrepancyAtMaturity:
    """Discrepancy at maturity by the multiplier, yearly growth as second opinion, disagreement shown.

    Parameters
    ----------
    kind : DiscrepancyKind
        Congenital, developmental or constant.
    long_leg_mm, short_leg_mm : float
        Lengths of the legs now. [mm]
    sex, age_years, skeletal_age_years
        Sex, calendar age and bone age. [years]
    inhibited_share : float or None
        Share by which the short leg lags; needed for a developmental discrepancy.
    discrepancy_sd_mm : float
        Standard uncertainty of today's discrepancy. [mm]
    profile : Profile
        Usual error of a prediction, and the disagreement that is pointed out.
    """
    return discrepancy_at_maturity(
        kind=kind,
        long_leg_mm=long_leg_mm,
        short_leg_mm=short_leg_mm,
        sex=sex,
        age_years=age_years,
        skeletal_age_years=skeletal_age_years,
        inhibited_share=inhibited_share,
        discrepancy_sd_mm=discrepancy_sd_mm,
        prediction_error_mm=profile.prediction_error_mm,
        disagreement_mm=profile.prediction_disagreement_mm,
    )


def staging_option(
    prediction: DiscrepancyAtMaturity, *, stage_limit_mm: float, nail_possible: bool, profile: Profile
) -> StagingOption | None:
    """The option of lengthening in stages while the patient grows; None once growth has ended.

    Parameters
    ----------
    prediction : DiscrepancyAtMaturity
        From `projected_discrepancy`.
    stage_limit_mm : float
        Most that is lengthened in one stage. [mm]
    nail_possible : bool
        Whether any way in is free of an open growth plate.
    profile : Profile
        Discrepancy from which lengthening during growth is considered.

    Notes
    -----
    A lengthening is taken to leave growth unchanged, so what is left at maturity is the prediction less what
    was gained.
    """
    if prediction.growth_left_mm <= 0:
        return None
    predicted = prediction.by_multiplier.value
    now_mm = min(max(prediction.now_mm, 0.0), stage_limit_mm)
    left_mm = predicted - now_mm
    numbers = (
        Number(name="discrepancy at maturity", value=predicted, unit="mm"),
        Number(name="one stage now", value=now_mm, unit="mm"),
        Number(name="left at maturity after that stage", value=left_mm, unit="mm"),
    )
    source = rule_source(profile, "discrepancy_lengthen_from_mm")
    rule = (
        "Lengthening while the patient grows is considered from a discrepancy at maturity of "
        f"{profile.discrepancy_lengthen_from_mm:g} mm."
    )
    means = "a nail" if nail_possible else "other means than a nail, which would cross a growth plate"
    if predicted > max(profile.discrepancy_lengthen_from_mm, stage_limit_mm):
        finding = Finding(
            id="staging-while-growing",
            severity=Severity.CAUTION,
            words=f"{predicted:.0f} mm are expected at maturity, more than one stage of "
            f"{stage_limit_mm:.0f} mm. Two stages: {now_mm:.0f} mm now by {means}, and the {left_mm:.0f} mm "
            "then left at maturity.",
            next_step="Choose the timing with the family; measure again before each stage.",
            numbers=numbers,
            rule=rule,
            source=source,
        )
    else:
        finding = Finding(
            id="one-stage-at-maturity",
            severity=Severity.NOTE,
            words=f"{predicted:.0f} mm are expected at maturity, within one stage of {stage_limit_mm:.0f} "
            "mm: one lengthening when growth has ended can settle it.",
            next_step="Wait with a lift, slow the longer leg's growth in time, or lengthen now knowing "
            "that growth will change the result.",
            numbers=numbers,
            rule=rule,
            source=source,
        )
    return StagingOption(
        at_maturity_mm=predicted, now_mm=now_mm, left_at_maturity_mm=left_mm, finding=finding
    )


def inhibited_share(*, treated_mm: float, other_mm: float, earlier: EarlierLengths | None) -> float | None:
    """Share by which the treated leg lags behind the other's growth; None without earlier lengths."""
    if earlier is None:
        return None
    return inhibition(
        long_mm=other_mm,
        short_mm=treated_mm,
        earlier_long_mm=earlier.other_mm,
        earlier_short_mm=earlier.treated_mm,
        years_between=earlier.years_before,
    )


def growth_outlook(
    *,
    treated_leg_mm: float,
    other_leg_mm: float,
    discrepancy_sd_mm: float,
    sex: Sex,
    age_years: float,
    skeletal_age_years: float | None,
    examination: Examination,
    stage_limit_mm: float,
    nail_possible: bool,
    profile: Profile,
) -> GrowthOutlook:
    """What growth will do to the discrepancy, by two methods, with the option of staging.

    Parameters
    ----------
    treated_leg_mm, other_leg_mm : float
        Lengths of both legs now. [mm]
    discrepancy_sd_mm : float
        Standard uncertainty of their difference. [mm]
    sex, age_years, skeletal_age_years
        Sex, calendar age and bone age. [years]
    examination : Examination
        Kind of the discrepancy and earlier lengths.
    stage_limit_mm : float
        Most that is lengthened in one stage. [mm]
    nail_possible : bool
        Whether any way in is free of an open growth plate.
    profile : Profile
        Errors and limits.

    Notes
    -----
    Where it was not said how the discrepancy behaves, nothing is guessed: a growing patient gets both the
    constant and the congenital answer, and a finding that asks.
    """
    if treated_leg_mm > other_leg_mm:
        return NOT_SHORT

    def projected(kind: DiscrepancyKind, share: float | None = None) -> DiscrepancyAtMaturity:
        return projected_discrepancy(
            kind=kind,
            long_leg_mm=other_leg_mm,
            short_leg_mm=treated_leg_mm,
            sex=sex,
            age_years=age_years,
            skeletal_age_years=skeletal_age_years,
            inhibited_share=share,
            discrepancy_sd_mm=discrepancy_sd_mm,
            profile=profile,
        )

    def option(prediction: DiscrepancyAtMaturity) -> StagingOption | None:
        return staging_option(
            prediction, stage_limit_mm=stage_limit_mm, nail_possible=nail_possible, profile=profile
        )

    constant = projected(DiscrepancyKind.CONSTANT)
    if constant.growth_left_mm <= 0:
        return replace(NOT_SHORT, prediction=constant)
    kind = examination.discrepancy_kind
    if kind is None:
        worse = projected(DiscrepancyKind.CONGENITAL)
        return _either(constant, worse, option(worse))
    try:
        share = None
        if kind is DiscrepancyKind.DEVELOPMENTAL:
            share = inhibited_share(
                treated_mm=treated_leg_mm, other_mm=other_leg_mm, earlier=examination.earlier_lengths
            )
        prediction = projected(kind, share)
    except LimbwrightError as reason:
        return replace(NOT_SHORT, findings=(_not_projected(reason),))
    staged = option(prediction)
    findings = (*prediction.findings, *((staged.finding,) if staged else ()))
    return GrowthOutlook(prediction=prediction, alternatives=(), option=staged, findings=ordered(findings))


def _either(
    constant: DiscrepancyAtMaturity, congenital: DiscrepancyAtMaturity, staged: StagingOption | None
) -> GrowthOutlook:
    low, high = constant.by_multiplier.value, congenital.by_multiplier.value
    finding = Finding(
        id="discrepancy-kind-not-given",
        severity=Severity.CAUTION,
        words="The patient still grows, and it is not recorded how the discrepancy behaves: at maturity it "
        f"is {low:.0f} mm if constant and {high:.0f} mm if congenital.",
        next_step="Record whether it is congenital, developmental (with earlier lengths) or constant.",
        numbers=(
            Number(name="at maturity if constant", value=low, unit="mm"),
            Number(name="at maturity if congenital", value=high, unit="mm"),
        ),
        rule="How a discrepancy grows depends on its cause.",
        source=COMMON_PRACTICE,
    )
    findings = (finding, *((staged.finding,) if staged else ()))
    return GrowthOutlook(
        prediction=None,
        alternatives=(constant, congenital),
        option=staged,
        findings=ordered(findings),
    )


def _not_projected(reason: LimbwrightError) -> Finding:
    return Finding(
        id="discrepancy-not-projected",
        severity=Severity.CAUTION,
        words=f"The discrepancy at maturity is not known: {reason.found}",
        next_step=reason.next_step,
        rule="A developmental discrepancy is projected from two measurements of both legs.",
        source=COMMON_PRACTICE,
    )
