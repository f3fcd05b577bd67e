"""What growth plates, skeletal and calendar age mean for a nail."""

from dataclasses import dataclass

from limbwright.finding import Finding, Number, Severity, ordered
from limbwright.growth.growth import Physis, Sex, growth_end_source, growth_ends_years, physis_crossed
from limbwright.growth.maturity import Basis, Maturity, PhysisReading, maturity
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


def maturity_findings(
    ways: tuple[WayMaturity, ...], *, bones: tuple[tuple[Bone, Direction], ...]
) -> tuple[Finding, ...]:
    """What a plan for these bones must show about growth plates, worst first and each once.

    Parameters
    ----------
    ways : tuple of WayMaturity
        From `ways_maturity`.
    bones : tuple of (Bone, Direction)
        Bones of the plan with the way their nails go in.
    """
    found = [f for way in ways if (way.bone, way.direction) in bones for f in way.findings]
    return ordered(tuple(dict.fromkeys(found)))
