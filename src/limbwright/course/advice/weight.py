"""Weight on the leg: the limit while lengthening, and the steps as cortices carry."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from limbwright.course.advice.said import Said, numbers
from limbwright.course.standing import Standing
from limbwright.finding import Finding, Severity
from limbwright.plan.rule import rule_source
from limbwright.plan.weight_bearing import weight_bearing
from limbwright.published import COMMON_PRACTICE, Source, Status
from limbwright.quantity import Value, lb_from_kg

FULL_WEIGHT = Source(
    text="Zhao et al., Clin Orthop Relat Res 2009 (467:3321): pixel value ratio 1 in two cortices partial, "
    "in "
    "three full weight; Vulcano et al., J Am Acad Orthop Surg 2018 (26:e388): healed at a mean of 0.90",
    status=Status.VERIFIED,
)


class WeightStep(StrEnum):
    """Step of weight bearing."""

    LIMITED = "limited"
    MORE = "more"
    FULL = "full"


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightAllowed(Value):
    """Weight on the leg on one day."""

    step: WeightStep
    """Limited by the nail; more may be considered; full weight may be considered."""
    limit_kg: float | None
    """The nail's limit, which holds until the surgeon allows more; None when no limit is known [kg]."""
    cortices: int | None
    """Cortices of four that carry; None when none was read."""


def weight_allowed(s: Standing) -> WeightAllowed:
    """Step of weight bearing by nail, cortices and pain.

    Notes
    -----
    Nothing beyond the nail's limit while the bone lengthens. After it, partial_weight_cortices and
    full_weight_cortices of the practice profile; a cortex carries when it is bridged, or as dense as
    pixel_value_ratio_healed. Pain of pain_slow_from or more keeps the step before full weight.
    """
    limit = None if s.facts.nail is None else weight_bearing(s.facts.nail, s.profile).limit_kg
    carry = s.cortices_that_carry()
    step = WeightStep.LIMITED
    if s.started and not s.lengthening and carry is not None:
        if carry >= s.profile.full_weight_cortices and not _painful(s):
            step = WeightStep.FULL
        elif carry >= s.profile.partial_weight_cortices:
            step = WeightStep.MORE
    if s.treatment.full_weight_on is not None and s.on >= s.treatment.full_weight_on:
        step = WeightStep.FULL
    return WeightAllowed(step=step, limit_kg=limit, cortices=carry)


def weight(s: Standing) -> Iterator[Said]:
    """Weight borne against the limit, and the next step of weight bearing."""
    allowed = weight_allowed(s)
    if s.facts.nail is None and s.treatment.nail_removed_on is None:
        yield Said(
            Finding(
                id="nail-not-known",
                severity=Severity.CAUTION,
                words=f"The nail in the {s.bone} is not known: no weight limit, stroke or overlap can be "
                "given.",
                next_step="Record the nail that was put in, from the catalogue.",
                rule="Limits come from the nail.",
                source=COMMON_PRACTICE,
            )
        )
    borne = s.visit.clinical.weight_borne_kg if s.visit and s.visit.clinical else None
    over = (
        borne is not None
        and allowed.limit_kg is not None
        and borne > allowed.limit_kg
        and allowed.step is WeightStep.LIMITED
    )
    if over and borne is not None and allowed.limit_kg is not None:
        yield Said(
            Finding(
                id="weight-above-limit",
                severity=Severity.CAUTION,
                words=f"{borne:.0f} kg ({lb_from_kg(borne):.0f} lb) are put on the leg; the limit is "
                f"{allowed.limit_kg:.1f} kg ({lb_from_kg(allowed.limit_kg):.0f} lb).",
                next_step="Teach the limit again on scales, and look at nail and screws on the film.",
                numbers=numbers(("weight borne", borne, "kg"), ("limit", allowed.limit_kg, "kg")),
                rule="The nail's weight limit holds until the new bone carries.",
                source=COMMON_PRACTICE,
            )
        )
    if s.treatment.full_weight_on is None and allowed.cortices is not None:
        if allowed.step is WeightStep.FULL:
            yield _step(
                s,
                allowed.cortices,
                finding_full=True,
            )
        elif allowed.step is WeightStep.MORE:
            yield _step(s, allowed.cortices, finding_full=False)


def _step(s: Standing, cortices: int, *, finding_full: bool) -> Said:
    name = "full_weight_cortices" if finding_full else "partial_weight_cortices"
    wanted = s.profile.full_weight_cortices if finding_full else s.profile.partial_weight_cortices
    changed = rule_source(s.profile, name, "pixel_value_ratio_healed")
    source = changed if changed.text.startswith("practice profile") else FULL_WEIGHT
    found = numbers(
        ("cortices that carry", cortices, ""),
        ("wanted", wanted, ""),
        ("ratio that counts as healed", s.profile.pixel_value_ratio_healed, ""),
    )
    words = f"{cortices} of 4 cortices of the {s.bone} are bridged or as dense as healed bone"
    if finding_full:
        return Said(
            Finding(
                id="weight-full-can-be-considered",
                severity=Severity.NOTE,
                words=f"{words}: full weight can be considered.",
                next_step="Confirm on both films and by examination that it is free of pain.",
                numbers=found,
                rule=f"From {name} on, lengthening ended and without much pain, full weight is considered.",
                source=source,
            )
        )
    return Said(
        Finding(
            id="weight-more-can-be-considered",
            severity=Severity.NOTE,
            words=f"{words}: more weight can be considered.",
            next_step="Raise it in steps on scales, within what nail and pain allow.",
            numbers=found,
            rule=f"From {name} on and lengthening ended, more weight is considered.",
            source=source,
        )
    )


def _painful(s: Standing) -> bool:
    clinical = s.visit.clinical if s.visit else None
    return (
        clinical is not None
        and clinical.pain_0_to_10 is not None
        and clinical.pain_0_to_10 >= s.profile.pain_slow_from
    )
