"""Whether the physis that a nail passes is still open, from film, skeletal age or calendar age."""

from dataclasses import dataclass
from enum import StrEnum

from limbwright.finding import Finding, Number, Severity
from limbwright.growth.growth import Physis, Sex, physis_crossed, require_age
from limbwright.growth.remaining import PhysisGrowth, growth_left
from limbwright.limb.anatomy import Bone
from limbwright.published import COMMON_PRACTICE, Source
from limbwright.quantity import Value, require_within


class PhysisReading(StrEnum):
    """What a film shows of the physis that the nail passes."""

    NOT_READ = "not read"
    OPEN = "open"
    CLOSED = "closed"


class Basis(StrEnum):
    """What the answer rests on, best first."""

    FILM = "film of the physis"
    SKELETAL_AGE = "skeletal age"
    CALENDAR_AGE = "calendar age"


@dataclass(frozen=True, slots=True, kw_only=True)
class Maturity(Value):
    """Whether a nail may pass a physis, and the growth left around the knee, hip and ankle."""

    physis: Physis
    """The physis that the nail passes."""
    open: bool
    """True when it counts as open."""
    basis: Basis
    """What that rests on."""
    age_years: float
    """The age that was compared: skeletal where given, else calendar [years]."""
    limit_years: float
    """Age from which the physis counts as closed [years]."""
    growth: tuple[PhysisGrowth, ...]
    """Growth left in each physis of the leg, from the hip down."""
    findings: tuple[Finding, ...]
    """What a reader must weigh."""


def maturity(
    *,
    bone: Bone,
    retrograde: bool,
    sex: Sex,
    age_years: float,
    skeletal_age_years: float | None = None,
    physis_reading: PhysisReading = PhysisReading.NOT_READ,
    limit_years: float,
    disagreement_years: float,
    femur_length_mm: float | None = None,
    tibia_length_mm: float | None = None,
    limit_source: Source = COMMON_PRACTICE,
) -> Maturity:
    """Judge whether the physis that a nail passes is open.

    Parameters
    ----------
    bone : Bone
        Femur or tibia.
    retrograde : bool
        True for a nail that enters the femur at the knee.
    sex : Sex
        Sex.
    age_years : float
        Calendar age. [years]
    skeletal_age_years : float, optional
        Bone age; wins over the calendar age. [years]
    physis_reading : PhysisReading
        What a film shows of this physis; wins over every age.
    limit_years : float
        Age from which the physis counts as closed, from the practice profile. [years]
    disagreement_years : float
        Difference between skeletal and calendar age from which it is pointed out. [years]
    femur_length_mm, tibia_length_mm : float, optional
        Lengths of the bones that grow, for the growth left. [mm]
    limit_source : Source
        Where the age limit comes from.
    """
    require_age("age", age_years)
    require_within(
        "age limit", limit_years, 8, 20, "years", next_step="Correct the age limit in the practice profile."
    )
    if skeletal_age_years is not None:
        require_age("skeletal age", skeletal_age_years)
    physis = physis_crossed(bone, retrograde=retrograde)
    compared = age_years if skeletal_age_years is None else skeletal_age_years
    basis = Basis.CALENDAR_AGE if skeletal_age_years is None else Basis.SKELETAL_AGE
    young = compared < limit_years
    is_open = young
    findings = []
    if physis_reading is not PhysisReading.NOT_READ:
        is_open = physis_reading is PhysisReading.OPEN
        if is_open != young:
            findings.append(_film_against_age(physis, physis_reading, basis, compared, limit_years))
        basis = Basis.FILM
    if is_open:
        findings.insert(0, _open_physis(physis, basis, _ages(compared, limit_years), sex, limit_source))
    if skeletal_age_years is not None and abs(skeletal_age_years - age_years) > disagreement_years:
        findings.append(_ages_differ(skeletal_age_years, age_years))
    if basis is Basis.CALENDAR_AGE and abs(age_years - limit_years) <= 2 * disagreement_years:
        findings.append(_skeletal_age_wanted(age_years, limit_years))
    lengths_mm = {Bone.FEMUR: femur_length_mm, Bone.TIBIA: tibia_length_mm}
    growth = tuple(
        growth_left(
            one,
            sex=sex,
            age_years=age_years,
            skeletal_age_years=skeletal_age_years,
            bone_length_mm=lengths_mm[one.bone],
        )
        for one in Physis
    )
    return Maturity(
        physis=physis,
        open=is_open,
        basis=basis,
        age_years=compared,
        limit_years=limit_years,
        growth=growth,
        findings=tuple(findings),
    )


def _ages(age_years: float, limit_years: float) -> tuple[Number, Number]:
    return (
        Number(name="age compared", value=age_years, unit="years"),
        Number(name="age limit", value=limit_years, unit="years"),
    )


def _open_physis(
    physis: Physis, basis: Basis, ages: tuple[Number, Number], sex: Sex, source: Source
) -> Finding:
    why = (
        "a film shows it open"
        if basis is Basis.FILM
        else f"the {basis} is {ages[0].value:.1f} years, below {ages[1].value:g} years ({sex})"
    )
    wait = (
        "An entry beside the physis is the surgeon's decision; "
        if physis is Physis.PROXIMAL_FEMUR
        else "Wait for closure, or "
    )
    return Finding(
        id="physis-open",
        severity=Severity.STOP,
        words=f"The nail would pass the {physis} physis, which counts as open: {why}.",
        next_step=f"{wait}lengthen by another means, or in stages; have physis and skeletal age "
        "read on a film.",
        numbers=ages,
        rule="No nail through an open physis.",
        source=source,
    )


def _film_against_age(
    physis: Physis, reading: PhysisReading, basis: Basis, age_years: float, limit_years: float
) -> Finding:
    return Finding(
        id="physis-film-against-age",
        severity=Severity.CAUTION,
        words=f"The film shows the {physis} physis {reading}, but the {basis} is {age_years:.1f} years "
        f"and the limit is {limit_years:g} years. The film is followed.",
        next_step="Read the film again; check birth date and skeletal age.",
        numbers=_ages(age_years, limit_years),
        rule="A physis seen on film wins over any age.",
        source=COMMON_PRACTICE,
    )


def _ages_differ(skeletal_years: float, calendar_years: float) -> Finding:
    ahead = "ahead of" if skeletal_years > calendar_years else "behind"
    return Finding(
        id="skeletal-age-differs",
        severity=Severity.CAUTION,
        words=f"Skeletal age is {skeletal_years:.1f} years, {abs(skeletal_years - calendar_years):.1f} years "
        f"{ahead} the calendar age of {calendar_years:.1f} years. The skeletal age is followed.",
        next_step="Have it read by a second reader; consider why growth is early or late.",
        numbers=(
            Number(name="skeletal age", value=skeletal_years, unit="years"),
            Number(name="calendar age", value=calendar_years, unit="years"),
        ),
        rule="Skeletal age, where given, wins over calendar age.",
        source=COMMON_PRACTICE,
    )


def _skeletal_age_wanted(age_years: float, limit_years: float) -> Finding:
    return Finding(
        id="skeletal-age-wanted",
        severity=Severity.CAUTION,
        words=f"Calendar age is {age_years:.1f} years, close to the limit of {limit_years:g} years, and no "
        "skeletal age is given.",
        next_step="Have the skeletal age, or the physis itself, read on a film.",
        numbers=_ages(age_years, limit_years),
        rule="Near the limit a calendar age is not enough.",
        source=COMMON_PRACTICE,
    )
