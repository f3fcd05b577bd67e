"""What growth plates and age mean for a nail, what the discrepancy becomes, and staging while growing."""

from dataclasses import dataclass

from limbwright.finding import Finding, Number, Severity, ordered
from limbwright.growth.discrepancy import DiscrepancyKind
from limbwright.growth.growth import Physis, Sex, growth_end_source, growth_ends_years, physis_crossed
from limbwright.growth.maturity import Basis, Maturity, PhysisReading, maturity
from limbwright.growth.prediction import DiscrepancyAtMaturity, discrepancy_at_maturity
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination
from limbwright.plan.rule import rule_source
from limbwright.practice.by_bone import tibial_nail_min_age_years
from limbwright.practice.profile import Profile
from limbwright.published import COMMON_PRACTICE, Source
from limbwright.quantity import Value

WAYS = {Bone.FEMUR: (Direction.ANTEGRADE, Direction.RETROGRADE), Bone.TIBIA: (Direction.ANTEGRADE,)}
"""Ways a nail can be driven into each bone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WayMaturity(Value):
    """The growth plate that one way into a bone crosses."""

    bone: Bone
    """Femur or tibia."""
    direction: Direction
    """Way the nail is driven."""
    maturity: Maturity
    """Whether that growth plate is open, and on what the answer rests."""
    findings: tuple[Finding, ...]
    """A `stop` where it is open; what to weigh about ages."""


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


def physis_reading(physis: Physis, examination: Examination) -> PhysisReading:
    """What the films show of a growth plate."""
    if physis in examination.open_physes:
        return PhysisReading.OPEN
    return PhysisReading.CLOSED if physis in examination.closed_physes else PhysisReading.NOT_READ


def ways_maturity(
    *,
    sex: Sex,
    age_years: float,
    skeletal_age_years: float | None,
    examination: Examination,
    profile: Profile,
    femur_length_mm: float | None = None,
    tibia_length_mm: float | None = None,
) -> tuple[WayMaturity, ...]:
    """Whether each way into femur and tibia crosses an open growth plate.

    Parameters
    ----------
    sex : Sex
        Sex.
    age_years : float
        Calendar age. [years]
    skeletal_age_years : float or None
        Bone age; wins over the calendar age. [years]
    examination : Examination
        Growth plates seen open or closed; a film wins over every age.
    profile : Profile
        Age limits.
    femur_length_mm, tibia_length_mm : float, optional
        For the growth left. [mm]

    Notes
    -----
    An antegrade femoral nail through the trochanter passes beside the proximal femoral growth plate, not
    through it: by age alone it is a caution, and a stop only where a film shows that growth plate open.
    """
    found = []
    for bone, directions in WAYS.items():
        limit_years, limit_source = _age_limit(bone, sex, profile)
        for direction in directions:
            retrograde = direction is Direction.RETROGRADE
            one = maturity(
                bone=bone,
                retrograde=retrograde,
                sex=sex,
                age_years=age_years,
                skeletal_age_years=skeletal_age_years,
                physis_reading=physis_reading(physis_crossed(bone, retrograde=retrograde), examination),
                limit_years=limit_years,
                disagreement_years=profile.skeletal_age_disagreement_years,
                femur_length_mm=femur_length_mm,
                tibia_length_mm=tibia_length_mm,
                limit_source=limit_source,
            )
            found.append(
                WayMaturity(bone=bone, direction=direction, maturity=one, findings=_way_findings(one))
            )
    return tuple(found)


def _age_limit(bone: Bone, sex: Sex, profile: Profile) -> tuple[float, Source]:
    """Age from which a bone's growth plates count as closed: the practice's (tibia) or end of growth."""
    if bone is Bone.FEMUR:
        return growth_ends_years(sex), growth_end_source(sex)
    girl = sex is Sex.FEMALE
    name = "tibial_nail_min_age_girl_years" if girl else "tibial_nail_min_age_boy_years"
    return tibial_nail_min_age_years(profile, girl=girl), rule_source(profile, name)


def _way_findings(one: Maturity) -> tuple[Finding, ...]:
    beside = one.physis is Physis.PROXIMAL_FEMUR and one.open and one.basis is not Basis.FILM
    if not beside:
        return one.findings
    rest = tuple(f for f in one.findings if f.severity is not Severity.STOP)
    finding = Finding(
        id="proximal-femur-by-age",
        severity=Severity.CAUTION,
        words=f"The {one.basis} is {one.age_years:.1f} years, below {one.limit_years:g}: the proximal "
        "femoral growth plate may be open. An antegrade nail through the trochanter passes beside it, one "
        "through the piriformis fossa endangers the head's blood supply.",
        next_step="Read the growth plate on a film; enter through the trochanter, not the piriformis fossa.",
        numbers=(
            Number(name="age compared", value=one.age_years, unit="years"),
            Number(name="age limit", value=one.limit_years, unit="years"),
        ),
        rule="No nail through an open growth plate; beside one with caution.",
        source=COMMON_PRACTICE,
    )
    return (finding, *rest)


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


def maturity_findings(
    ways: tuple[WayMaturity, ...],
    *,
    bones: tuple[tuple[Bone, Direction], ...],
    prediction: DiscrepancyAtMaturity | None,
    option: StagingOption | None,
) -> tuple[Finding, ...]:
    """What a plan for these bones must show about growth, worst first and each once.

    Parameters
    ----------
    ways : tuple of WayMaturity
        From `ways_maturity`.
    bones : tuple of (Bone, Direction)
        Bones of the plan with the way their nails go in.
    prediction : DiscrepancyAtMaturity or None
        From `projected_discrepancy`.
    option : StagingOption or None
        From `staging_option`.
    """
    found = [f for way in ways if (way.bone, way.direction) in bones for f in way.findings]
    if prediction is not None:
        found += prediction.findings
    if option is not None:
        found.append(option.finding)
    return ordered(tuple(dict.fromkeys(found)))
