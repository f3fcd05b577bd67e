"""Growth still to come, projected again with the length gained since."""

from collections.abc import Iterator
from dataclasses import dataclass

from limbwright.course.advice.said import Said, numbers
from limbwright.finding import Finding, Severity
from limbwright.growth.growth import Sex
from limbwright.plan.circumstances import Examination
from limbwright.plan.growth_outlook import GrowthOutlook, growth_outlook
from limbwright.plan.rule import rule_source
from limbwright.practice.profile import Profile
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class GrowingLegs(Value):
    """Both legs before the operation, of a patient who may still grow."""

    treated_leg_mm: float
    """Length of the treated leg before the operation [mm]."""
    other_leg_mm: float
    """Length of the other leg [mm]."""
    discrepancy_sd_mm: float
    """Standard uncertainty of their difference [mm]."""
    sex: Sex
    """Sex."""
    age_years: float
    """Age when they were measured [years]."""
    skeletal_age_years: float | None = None
    """Bone age when they were measured [years]."""
    examination: Examination
    """How the discrepancy behaves."""


def growth_again(legs: GrowingLegs, *, gained_mm: float, profile: Profile) -> GrowthOutlook:
    """Discrepancy at maturity with the length gained so far, or to be gained.

    Parameters
    ----------
    legs : GrowingLegs
        Both legs; the treated one without what was gained.
    gained_mm : float
        Length of all bones together. [mm]
    profile : Profile
        Errors of prediction.

    Notes
    -----
    Lengthening is taken to leave growth unchanged. A treated leg that has become the longer one is answered
    with nothing to project, and `growth` says so.
    """
    return growth_outlook(
        treated_leg_mm=legs.treated_leg_mm + gained_mm,
        other_leg_mm=legs.other_leg_mm,
        discrepancy_sd_mm=legs.discrepancy_sd_mm,
        sex=legs.sex,
        age_years=legs.age_years,
        skeletal_age_years=legs.skeletal_age_years,
        examination=legs.examination,
        stage_limit_mm=max(profile.max_lengthening_femur_mm, profile.max_lengthening_tibia_mm),
        nail_possible=True,
        profile=profile,
    )


def growth(legs: GrowingLegs, *, target_mm: float, profile: Profile) -> Iterator[Said]:
    """What growth leaves at maturity if the prescribed length is reached."""
    before = growth_again(legs, gained_mm=0.0, profile=profile).prediction
    if before is None or before.growth_left_mm <= 0:
        return
    at_maturity = before.by_multiplier.value - target_mm
    sd = before.by_multiplier.sd
    numbers_ = numbers(
        ("at maturity without lengthening", before.by_multiplier.value, "mm"),
        ("length prescribed", target_mm, "mm"),
        ("at maturity with it", at_maturity, "mm"),
        ("its standard uncertainty", sd, "mm"),
    )
    settled = abs(at_maturity) <= profile.discrepancy_treat_from_mm
    side = "shorter" if at_maturity >= 0 else "longer"
    yield Said(
        Finding(
            id="growth-still-to-come",
            severity=Severity.NOTE if settled else Severity.CAUTION,
            words=f"The patient still grows. With {target_mm:g} mm gained the treated leg is foreseen "
            f"{abs(at_maturity):.0f} ± {1.96 * sd:.0f} mm {side} at maturity.",
            next_step="Weigh the goal of this stage, and measure both legs again at the next film."
            if settled
            else "Weigh more or less length now, a later stage, or slowing the longer leg's growth in time.",
            numbers=numbers_,
            rule="Discrepancy at maturity without lengthening, less the length gained; growth taken as "
            "unchanged.",
            source=rule_source(profile, "discrepancy_treat_from_mm", "prediction_error_mm"),
        )
    )
