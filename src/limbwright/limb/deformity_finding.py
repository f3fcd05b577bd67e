"""What a reader must weigh before an apex is believed, each as a finding."""

import math

from limbwright.finding import Finding, Number, Severity
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.apex import Apex, ApexOutcome
from limbwright.limb.axes import AxisKind, Construction
from limbwright.limb.limit import limit
from limbwright.published import Source, Status
from limbwright.quantity import Measured

_TEXTBOOK = Source(
    text="Paley, Principles of Deformity Correction, 2002, chapters 4 and 8", status=Status.MEMORY
)


def of(
    *,
    bone: Bone,
    projection: Projection,
    hidden: bool,
    apexes: tuple[Apex, ...],
    total: Measured,
    alternatives: tuple[Apex, ...],
) -> tuple[Finding, ...]:
    """Every finding about the deformity of one bone in one plane."""
    found = []
    if hidden:
        found.append(_away_from_bend(apexes[0]))
    found.extend(_outside(a) for a in apexes if a.outcome is ApexOutcome.OUTSIDE)
    found.extend(_disagreement(total, alternatives))
    if bone is Bone.FEMUR and projection is Projection.SAGITTAL and apexes:
        found.append(_bow())
    return tuple(found)


def _level(deformity: Apex) -> str:
    above, below = deformity.from_proximal_joint, deformity.from_distal_joint
    if above is not None:
        return f"{above.value:.0f} mm below its proximal joint"
    return f"{below.value:.0f} mm above its distal joint" if below is not None else "at an unknown level"


def _away_from_bend(deformity: Apex) -> Finding:
    return Finding(
        id="apex-away-from-bend",
        severity=Severity.CAUTION,
        words=(
            f"The {deformity.projection} apex of the {deformity.bone} ({_level(deformity)}) lies in a "
            "stretch of shaft that was marked as straight: the parts are also translated, or a second "
            "apex is hidden."
        ),
        next_step="Mark two points on the shaft between the parts, so that a middle axis can be drawn.",
        rule="An apex that is not at the visible bend means translation or a hidden second apex.",
        source=_TEXTBOOK,
    )


def _outside(deformity: Apex) -> Finding:
    return Finding(
        id="apex-outside-bone",
        severity=Severity.CAUTION,
        words=(
            f"The {deformity.projection} apex between the {deformity.proximal.part} and "
            f"{deformity.distal.part} axes of the {deformity.bone} lies outside the bone "
            f"({_level(deformity)})."
        ),
        next_step="Look for a second apex or a translation; mark the middle of the shaft.",
        rule="An apex outside the bone means several apexes, or angulation with translation.",
        source=_TEXTBOOK,
    )


def _disagreement(total: Measured, alternatives: tuple[Apex, ...]) -> list[Finding]:
    """The mechanical construction that differs most from the angle used, when beyond uncertainty.

    Anatomic axes are all in the chain already; a neighbouring bone brings its own deviation with it.
    """
    mechanical = [
        a
        for a in alternatives
        if a.proximal.kind is AxisKind.MECHANICAL
        and Construction.NEIGHBOUR not in (a.proximal.construction, a.distal.construction)
    ]

    def excess(other: Apex) -> float:
        allowed = max(
            limit("angle below which two axes count as parallel"),
            1.96 * math.hypot(total.sd, other.angulation.sd),
        )
        return abs(other.angulation.value - total.value) - allowed

    worst = max(mechanical, key=excess, default=None)
    if worst is None or excess(worst) <= 0:
        return []
    difference = worst.angulation.value - total.value
    return [
        Finding(
            id="axes-disagree",
            severity=Severity.CAUTION,
            words=(
                f"The {worst.projection} deformity of the {worst.bone} is {abs(difference):.1f} degrees "
                f"different when drawn by {worst.proximal.construction} (proximal) and "
                f"{worst.distal.construction} (distal), {worst.proximal.kind} axes."
            ),
            next_step="Compare the constructions; a joint line that deviates is a deformity near that joint.",
            numbers=(Number(name="difference", value=difference, unit="deg"),),
            rule="All constructions of an undeformed bone end agree within their uncertainty.",
            source=_TEXTBOOK,
        )
    ]


def _bow() -> Finding:
    return Finding(
        id="femoral-bow",
        severity=Severity.NOTE,
        words=(
            "The normal femur is bowed forward: the sagittal angle between its shaft lines counts this bow "
            "as procurvatum."
        ),
        next_step="Compare with the other femur before correcting it.",
        rule="The sagittal shaft lines of a normal femur are not parallel.",
        source=_TEXTBOOK,
    )
