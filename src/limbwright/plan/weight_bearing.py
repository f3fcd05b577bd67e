"""Weight allowed on the leg while it lengthens: the maker's limit, else the practice's by nail diameter."""

from dataclasses import dataclass

from limbwright.error import Refused
from limbwright.finding import Finding, Number, Severity
from limbwright.implant.nail import Nail
from limbwright.plan.rule import rule_source
from limbwright.practice.by_bone import weight_limit_kg
from limbwright.practice.profile import Profile
from limbwright.published import Source, Status
from limbwright.quantity import Value, lb_from_kg

CATALOGUE = Source(text="nail catalogue, maker's limit as entered by its owner", status=Status.VERIFIED)
LISTED_MM = (8.5, 10.7, 12.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightBearing(Value):
    """Weight on the operated leg until new bone carries."""

    limit_kg: float | None
    """Most weight on the leg [kg]; None when no limit is known, and then none is guessed."""
    limit_lb: float | None
    """The same [lb]."""
    from_catalogue: bool
    """True when the maker's limit was used, False when the practice's."""
    findings: tuple[Finding, ...]
    """The limit in words, with its source."""


def weight_bearing(nail: Nail, profile: Profile) -> WeightBearing:
    """Weight allowed while a nail lengthens.

    Parameters
    ----------
    nail : Nail
        The chosen nail; its own limit counts when the catalogue gives one.
    profile : Profile
        The surgeon's limits by diameter: 30, 50 and 70 lb at 8.5, 10.7 and 12.5 mm unless changed.

    Notes
    -----
    A diameter between two listed ones takes the limit of the thinner one; above the thickest, that of the
    thickest; nothing is extrapolated upward. Below the thinnest no limit is given.
    """
    if nail.weight_limit_kg is not None:
        return _limited(nail, nail.weight_limit_kg, source=CATALOGUE, from_catalogue=True)
    try:
        limit_kg = weight_limit_kg(profile, thick_diameter_mm=nail.thick_diameter_mm)
    except Refused as refusal:
        finding = Finding(
            id="weight-limit-unknown",
            severity=Severity.STOP,
            words=f"No weight limit is known for nail '{nail.name}': {refusal.found}",
            next_step=refusal.next_step,
            numbers=(Number(name="thick diameter", value=nail.thick_diameter_mm, unit="mm"),),
            rule="No limit is extrapolated to a thinner nail.",
            source=rule_source(profile, "weight_limit_8_5_mm_kg"),
        )
        return WeightBearing(limit_kg=None, limit_lb=None, from_catalogue=False, findings=(finding,))
    used = max(listed for listed in LISTED_MM if nail.thick_diameter_mm >= listed)
    name = f"weight_limit_{used:g}_mm_kg".replace(".", "_")
    return _limited(
        nail, limit_kg, source=rule_source(profile, name), from_catalogue=False, used_diameter_mm=used
    )


def _limited(
    nail: Nail,
    limit_kg: float,
    *,
    source: Source,
    from_catalogue: bool,
    used_diameter_mm: float | None = None,
) -> WeightBearing:
    limit_lb = lb_from_kg(limit_kg)
    by = "the catalogue gives it" if from_catalogue else f"the practice's limit for {used_diameter_mm:g} mm"
    finding = Finding(
        id="weight-limit",
        severity=Severity.NOTE,
        words=f"Up to {limit_kg:.1f} kg ({limit_lb:.0f} lb) on the leg while nail '{nail.name}' "
        f"({nail.thick_diameter_mm:g} mm) lengthens: {by}.",
        next_step="Check against the implant's own instructions; teach it on scales before discharge.",
        numbers=(
            Number(name="weight limit", value=limit_kg, unit="kg"),
            Number(name="weight limit", value=limit_lb, unit="lb"),
            Number(name="thick diameter", value=nail.thick_diameter_mm, unit="mm"),
        ),
        rule="The maker's limit counts; without one, that of the next thinner listed diameter.",
        source=source,
    )
    return WeightBearing(
        limit_kg=limit_kg, limit_lb=limit_lb, from_catalogue=from_catalogue, findings=(finding,)
    )
